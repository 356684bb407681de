"""Forms of evidence and of the timeline: offered, made, refused, nothing typed lost."""

from __future__ import annotations

import pytest
from django.urls import reverse

from anomalies.models import Evidence, TimelineEntry
from anomalies.services.evidence import describe_evidence, withdraw_evidence
from anomalies.services.timeline import add_timeline_entry
from tests.anomalies.files import PDF, PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.investigation import make_finding
from tests.anomalies.people import SEEN_AT, make_draft, make_open, make_stranger, recorder, viewer
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db
AGAIN = "Choose the file again"
ADDING = ("add-photographs", "add-documents", "add-statement", "add-telemetry", "add-web-link", "add-timeline-entry")
TELEMETRY = {"kind": "telemetry", "title": "Coolant temperature", "unit": "°C", "statement": "", "stated_by": ""}


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def move(record, name):
    return reverse("anomalies:move", args=(record.KIND, record.pk, name))


def add_entry(anomaly, **changes):
    given = {"at": SEEN_AT, "text": "EV2 reports frost."}
    return add_timeline_entry(anomaly_id=anomaly.pk, actor=recorder(), **given | changes)


def test_the_dossier_offers_them_to_those_who_may_and_to_nobody_else():
    anomaly = make_open()
    offered = log_in(recorder()).get(anomaly.get_absolute_url()).content.decode()
    hidden = log_in(viewer()).get(anomaly.get_absolute_url()).content.decode()
    for name in ADDING:
        assert move(anomaly, name) in offered
        assert move(anomaly, name) not in hidden


@pytest.mark.parametrize("name", ADDING)
def test_each_form_comes_as_a_page_and_in_place_and_keeps_others_out(name):
    anomaly, draft = make_open(), make_draft()
    page = log_in(recorder())
    assert "<html" in page.get(move(anomaly, name)).content.decode()
    assert "<html" not in page.get(move(anomaly, name), headers=HTMX).content.decode()
    assert page.get(move(draft, name)).status_code == 409
    assert log_in(viewer()).get(move(anomaly, name)).status_code == 403
    assert log_in(make_stranger()).get(move(anomaly, name)).status_code == 404
    assert page.post(move(anomaly, name), {}).status_code == 422
    assert page.post(move(draft, name), {"at": "2024-03-05 09:00", "text": "x"}).status_code in (409, 422)


def test_several_photographs_are_added_at_once():
    anomaly = make_open()
    files = [upload(PNG + bytes([number]), f"{number}.png") for number in range(2)]
    answer = log_in(recorder()).post(move(anomaly, "add-photographs"), {"file": files, "title": "Frost"})
    assert answer.url == f"{anomaly.get_absolute_url()}#evidence"
    assert [piece.title for piece in anomaly.evidence.all()] == ["Frost (1 of 2)", "Frost (2 of 2)"]


def test_a_refused_file_is_named_what_was_typed_stays_and_the_file_is_asked_for_again():
    anomaly = make_open()
    given = {"file": [upload(), upload(PDF, "b.jpg")], "title": "Frost at the collar"}
    answer = log_in(recorder()).post(move(anomaly, "add-photographs"), given)
    said = answer.content.decode()
    assert answer.status_code == 422
    assert "By its content “b.jpg” is a PDF document" in said
    assert 'value="Frost at the collar"' in said
    assert AGAIN in said
    assert not anomaly.evidence.exists()


def test_no_file_at_all_asks_for_one_and_says_nothing_of_choosing_again():
    said = log_in(recorder()).post(move(make_open(), "add-documents"), {"title": "Report"}).content.decode()
    assert "This field is required" in said
    assert AGAIN not in said


def test_an_error_elsewhere_asks_for_the_file_again_too():
    given = {"file": upload(SERIES, "t.csv"), "title": "Coolant temperature", "unit": ""}
    said = log_in(recorder()).post(move(make_open(), "add-telemetry"), given).content.decode()
    assert said.count(AGAIN) == 1


def test_every_bad_line_of_telemetry_stands_in_the_form():
    data = b"time,value\nnever,1\n2024-03-05T09:00:00Z,warm\n2024-03-05T09:01:00Z,1\n"
    given = {"file": upload(data, "t.csv"), "title": "Coolant temperature", "unit": "°C", "high": "30"}
    answer = log_in(recorder()).post(move(make_open(), "add-telemetry"), given, headers=HTMX)
    said = answer.content.decode()
    assert answer.status_code == 422
    assert "Line 2: “never” isn&#x27;t a time" in said
    assert "Line 3: “warm” isn&#x27;t a number" in said
    assert 'value="30"' in said


def test_limits_that_cross_are_named_at_their_field():
    given = {"file": upload(SERIES, "t.csv"), "title": "x", "unit": "°C", "low": "30", "high": "20"}
    answer = log_in(recorder()).post(move(make_open(), "add-telemetry"), given)
    assert answer.status_code == 422
    assert 'id="id_low_error"' in answer.content.decode()


@pytest.mark.parametrize(
    ("name", "given", "kind"),
    [
        ("add-documents", {"file": upload(PDF, "report.pdf")}, "document"),
        ("add-statement", {"title": "What EV2 saw", "stated_by": "EV2", "statement": "Frost."}, "statement"),
        ("add-telemetry", {"file": upload(SERIES, "t.csv"), "title": "T", "unit": "°C", "high": "30"}, "telemetry"),
        ("add-web-link", {"title": "Notes", "address": "https://seals.example/cold"}, "link"),
    ],
)
def test_each_kind_is_added_and_its_page_follows(name, given, kind):
    anomaly = make_open()
    answer = log_in(recorder()).post(move(anomaly, name), given)
    piece = anomaly.evidence.get()
    assert piece.kind == kind
    assert answer.status_code == 302
    assert answer.url in (piece.get_absolute_url(), f"{anomaly.get_absolute_url()}#evidence")


def test_a_link_must_lead_to_the_web():
    given = {"title": "Notes", "address": "javascript:alert(1)"}
    answer = log_in(recorder()).post(move(make_open(), "add-web-link"), given)
    assert (answer.status_code, 'id="id_address_error"' in answer.content.decode()) == (422, True)


def test_only_telemetry_has_limits_to_correct():
    photograph = make_photograph()
    series = make_evidence(**TELEMETRY, high=30.0, file=upload(SERIES, "t.csv"))
    page = log_in(recorder())
    assert "High limit" not in page.get(move(photograph, "describe")).content.decode()
    given = {"title": "T", "high": "21", "version": 1}
    assert page.post(move(series, "describe"), given).url == series.get_absolute_url()
    series.series.refresh_from_db()
    assert series.series.spans_in_all == 1
    assert series.series.spans[0]["samples"] == 2


def test_two_corrections_are_merged():
    evidence = make_photograph()
    describe_evidence(evidence_id=evidence.pk, actor=recorder(), version=1, changes={"title": "The collar, cold"})
    given = {"title": "The coupling", "description": "Seen from above.", "version": 1}
    answer = log_in(recorder()).post(move(evidence, "describe"), given)
    said = answer.content.decode()
    assert answer.status_code == 409
    assert 'value="The collar, cold"' in said
    assert "Seen from above." in said


def test_what_rests_on_it_alone_is_linked_when_withdrawal_is_refused():
    evidence = make_evidence()
    finding = make_finding(evidence.anomaly, evidence_ids=[evidence.pk])
    answer = log_in(recorder()).post(move(evidence, "withdraw"), {"reason": "Wrong."})
    assert answer.status_code == 409
    assert f"/records/finding/{finding.pk}/" in answer.content.decode()
    assert Evidence.objects.get(pk=evidence.pk).state == "held"


def test_withdrawn_it_can_be_neither_corrected_nor_withdrawn():
    evidence = make_evidence()
    page = log_in(recorder())
    assert page.post(move(evidence, "withdraw"), {"reason": "Hearsay."}).status_code == 302
    assert [page.get(move(evidence, name)).status_code for name in ("withdraw", "describe")] == [409, 409]
    assert "Hearsay." in page.get(evidence.anomaly.get_absolute_url()).content.decode()


def test_a_span_can_be_taken_to_the_timeline():
    series = make_evidence(**TELEMETRY, high=30.0, file=upload(SERIES, "t.csv"))
    page = log_in(recorder())
    asked = f"{move(series.anomaly, 'add-timeline-entry')}?at=2024-03-05+09:01:00&evidence={series.pk}&text=Hot"
    said = page.get(asked).content.decode()
    assert 'value="2024-03-05 09:01:00"' in said
    assert f'<option value="{series.pk}" selected>' in said
    given = {"at": "2024-03-05 09:01", "text": "Coolant above 30 °C", "evidence": series.pk}
    answer = page.post(move(series.anomaly, "add-timeline-entry"), given)
    entry = TimelineEntry.objects.get()
    assert answer.url == f"{series.anomaly.get_absolute_url()}#entry-{entry.pk}"
    assert f'id="entry-{entry.pk}"' in page.get(series.anomaly.get_absolute_url()).content.decode()


def test_an_entry_is_corrected_and_withdrawn():
    entry = add_entry(make_open())
    page = log_in(recorder())
    given = {"at": "2024-03-05 09:31", "text": "EV1 reports frost.", "version": 1}
    assert page.post(move(entry, "edit"), given).status_code == 302
    assert page.post(move(entry, "edit"), given | {"text": "No."}).status_code == 409
    assert page.post(move(entry, "withdraw"), {"reason": "Another day."}).status_code == 302
    entry.refresh_from_db()
    assert (entry.text, entry.state) == ("EV1 reports frost.", "withdrawn")
    assert "Another day." in page.get(entry.anomaly.get_absolute_url()).content.decode()


def test_an_entry_keeps_evidence_that_was_withdrawn_meanwhile_but_takes_none_anew():
    anomaly = make_open()
    evidence, other = make_evidence(anomaly), make_evidence(anomaly)
    entry = add_entry(anomaly, evidence_id=evidence.pk)
    for piece in (evidence, other):
        withdraw_evidence(evidence_id=piece.pk, actor=recorder(), reason="Hearsay.")
    page = log_in(recorder())
    given = {"at": "2024-03-05 09:30", "text": "Frost.", "evidence": evidence.pk, "version": 1}
    assert page.post(move(entry, "edit"), given).status_code == 302
    answer = page.post(move(entry, "edit"), given | {"evidence": other.pk, "version": 2})
    assert (answer.status_code, 'id="id_evidence_error"' in answer.content.decode()) == (422, True)


def test_an_entry_to_come_is_refused_at_its_field():
    answer = log_in(recorder()).post(
        move(make_open(), "add-timeline-entry"), {"at": "2099-01-01 00:00", "text": "Frost."}
    )
    assert (answer.status_code, 'id="id_at_error"' in answer.content.decode()) == (422, True)


def test_in_place_the_page_is_read_anew_when_its_own_address_follows():
    anomaly = make_open()
    page = log_in(recorder())
    given = {"at": "2024-03-05 09:30", "text": "Frost."}
    here = HTMX | {"HX-Current-URL": f"https://depot.example{anomaly.get_absolute_url()}#timeline"}
    answer = page.post(move(anomaly, "add-timeline-entry"), given, headers=here)
    assert answer["HX-Redirect"].startswith(f"{anomaly.get_absolute_url()}#entry-")
    assert answer["HX-Refresh"] == "true"
    elsewhere = HTMX | {"HX-Current-URL": "https://depot.example/log/"}
    assert "HX-Refresh" not in page.post(move(anomaly, "add-timeline-entry"), given, headers=elsewhere)
