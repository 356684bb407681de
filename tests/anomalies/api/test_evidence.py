"""Evidence and the timeline through the JSON API: as on the pages, with the same refusals."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.models import EvidenceOpening, TimelineEntry
from anomalies.services.evidence import describe_evidence, withdraw_evidence
from anomalies.services.evidence_files import path_of
from tests.anomalies.files import PDF, PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.investigation import make_finding
from tests.anomalies.people import SEEN_AT, make_draft, make_open, make_stranger, recorder, viewer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
API = "/api/v1"
JSON = "application/json"
TELEMETRY = {"kind": "telemetry", "title": "Coolant temperature", "unit": "°C", "high": 30.0}
NO_WORDS = {"statement": "", "stated_by": ""}


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def evidence_of(anomaly):
    return f"{API}/anomalies/{anomaly.number}/evidence/"


def send(page, address, method="post", /, **data):
    return getattr(page, method)(address, data, content_type=JSON)


def test_a_file_is_added_in_many_parts_and_comes_back_with_its_hash():
    anomaly = make_open()
    page = log_in(recorder())
    answer = page.post(evidence_of(anomaly), {"kind": "photograph", "title": "Frost", "file": upload()})
    made = answer.json()
    assert answer.status_code == 201
    assert (made["anomaly"], made["label"], made["media_type"]) == (anomaly.number, "E1", "image/png")
    assert made["sha256"] == anomaly.evidence.get().sha256
    assert made["moves"] == ["describe", "open", "withdraw"]
    assert page.get(f"{API}/evidence/{made['id']}/").json() == made


def test_what_has_no_file_may_come_as_json():
    anomaly = make_open()
    given = {"kind": "statement", "title": "What EV2 saw", "stated_by": "EV2", "statement": "Frost."}
    assert send(log_in(recorder()), evidence_of(anomaly), **given).status_code == 201


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "photograph", "title": "x"}, "file"),
        ({"kind": "riddle", "title": "x"}, "kind"),
        ({"kind": "link", "title": "x", "address": "javascript:alert(1)"}, "address"),
        ({"kind": "statement", "title": "", "stated_by": "EV2", "statement": "x"}, "title"),
        ({"kind": "statement", "title": "x", "stated_by": "EV2", "statement": "x", "taken_at": "soon"}, "taken_at"),
        ({"kind": "statement", "title": "x", "stated_by": "EV2", "statement": "x\0"}, "statement"),
    ],
)
def test_bad_input_names_its_field(given, field):
    anomaly = make_open()
    answer = send(log_in(recorder()), evidence_of(anomaly), **given)
    assert answer.status_code == 400
    assert field in answer.json()["fields"]
    assert not anomaly.evidence.exists()


def test_bad_files_and_bad_lines_are_told():
    page, anomaly = log_in(recorder()), make_open()
    refused = page.post(evidence_of(anomaly), {"kind": "photograph", "title": "x", "file": upload(PDF, "a.jpg")})
    assert (refused.status_code, refused.json()["code"]) == (400, "bad_file")
    rows = upload(b"time,value\nnever,1\n", "t.csv")
    refused = page.post(evidence_of(anomaly), TELEMETRY | {"file": rows})
    assert (refused.json()["code"], refused.json()["fields"]["file"][0][:7]) == ("bad_series", "Line 2:")
    assert page.post(evidence_of(anomaly), TELEMETRY | {"high": "nan", "file": upload(SERIES)}).status_code == 400


def test_strangers_readers_and_drafts_are_kept_out():
    evidence, draft = make_photograph(), make_draft()
    given = {"kind": "link", "title": "x", "address": "https://depot.example"}
    mine, others = evidence_of(evidence.anomaly), f"{API}/evidence/{evidence.pk}/"
    stranger, reader = log_in(make_stranger()), log_in(viewer())
    assert [stranger.get(address).status_code for address in (mine, others, f"{others}file/")] == [404, 404, 404]
    assert stranger.get(f"{API}/evidence/").status_code == 403
    assert send(stranger, mine, **given).status_code == 404
    assert send(reader, mine, **given).status_code == 403
    assert send(reader, others, "patch", version=1, title="x").status_code == 403
    assert send(reader, f"{others}withdraw/", reason="x").status_code == 403
    assert reader.get(others).json()["moves"] == ["open"]
    assert send(log_in(recorder()), evidence_of(draft), **given).status_code == 404


def test_lists_are_filtered_and_paged_in_a_constant_number_of_queries():
    anomaly = make_open()
    make_photograph(anomaly)
    make_photograph()
    page = log_in(viewer())

    def count():
        page.get(f"{API}/evidence/")
        with CaptureQueriesContext(connection) as queries:
            page.get(f"{API}/evidence/")
        return len(queries)

    before = count()
    withdraw_evidence(evidence_id=make_evidence(anomaly).pk, actor=recorder(), reason="Hearsay.")
    assert count() == before
    assert page.get(f"{API}/evidence/").json()["count"] == 3
    assert page.get(f"{API}/evidence/?anomaly={anomaly.number}").json()["count"] == 2
    assert page.get(f"{API}/evidence/?kind=photograph&state=held").json()["count"] == 2
    refused = page.get(f"{API}/evidence/?kind=riddle")
    assert (refused.status_code, list(refused.json()["fields"])) == (400, ["kind"])
    assert [row["label"] for row in page.get(evidence_of(anomaly)).json()["results"]] == ["E1", "E2"]


def test_a_file_leaves_for_saving_and_that_is_on_record():
    evidence = make_photograph()
    page = log_in(viewer())
    answer = page.get(f"{API}/evidence/{evidence.pk}/file/?show", headers={"Accept": "image/png"})
    assert b"".join(answer.streaming_content) == PNG
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["Content-Security-Policy"].startswith("sandbox")
    (opening,) = page.get(f"{API}/evidence/{evidence.pk}/openings/").json()["results"]
    assert opening["person"] == "viewer"
    path_of(evidence.sha256).unlink()
    gone = page.get(f"{API}/evidence/{evidence.pk}/file/")
    assert (gone.status_code, gone.json()["code"]) == (409, "file_changed")
    assert EvidenceOpening.objects.count() == 1


def test_without_a_file_there_is_nothing_to_hand_out():
    answer = log_in(viewer()).get(f"{API}/evidence/{make_evidence().pk}/file/")
    assert (answer.status_code, answer.json()["code"]) == (400, "no_file")


def test_telemetry_comes_with_points_and_spans():
    evidence = make_evidence(**TELEMETRY, **NO_WORDS, file=upload(SERIES, "t.csv"))
    page = log_in(viewer())
    series = page.get(f"{API}/evidence/{evidence.pk}/telemetry/").json()
    assert (series["samples"], series["high"], series["spans_in_all"]) == (3, 30.0, 1)
    assert series["points"][1] == ["2024-03-05T09:01:00+00:00", 31.0]
    assert [(span["side"], span["extreme"], span["is_open"]) for span in series["spans"]] == [("above", 31.0, False)]
    assert page.get(f"{API}/evidence/{make_evidence().pk}/telemetry/").status_code == 404


def test_a_stale_correction_is_a_conflict_that_tells_both_versions():
    evidence = make_photograph()
    describe_evidence(evidence_id=evidence.pk, actor=recorder(), version=1, changes={"title": "The collar"})
    page = log_in(recorder())
    address = f"{API}/evidence/{evidence.pk}/"
    clash = send(page, address, "patch", version=1, title="Coupling B")
    assert clash.status_code == 409
    assert clash.json()["theirs"]["title"] == {"before": "The coupling", "after": "The collar"}
    assert send(page, address, "patch", version=2, title="Coupling B").json()["version"] == 3
    assert list(send(page, address, "patch", version=3, low=1.0).json()["fields"]) == ["low"]


def test_withdrawal_names_what_rests_on_it_alone():
    evidence = make_evidence()
    finding = make_finding(evidence.anomaly, evidence_ids=[evidence.pk])
    page = log_in(recorder())
    address = f"{API}/evidence/{evidence.pk}/withdraw/"
    refused = send(page, address, reason="Hearsay.")
    assert refused.status_code == 409
    assert [(gap["kind"], gap["record_id"]) for gap in refused.json()["missing"]] == [("finding", finding.pk)]
    free = make_evidence()
    assert send(page, f"{API}/evidence/{free.pk}/withdraw/", reason="Hearsay.").json()["state"] == "withdrawn"
    assert send(page, f"{API}/evidence/{free.pk}/withdraw/", reason="Again.").status_code == 409
    assert send(page, f"{API}/evidence/{free.pk}/withdraw/").status_code == 400


def test_the_timeline_is_written_corrected_and_withdrawn():
    evidence = make_photograph()
    page = log_in(recorder())
    address = f"{API}/anomalies/{evidence.anomaly.number}/timeline/"
    made = send(page, address, at=SEEN_AT.isoformat(), text="Frost.", evidence_id=evidence.pk).json()
    entry = f"{API}/timeline/{made['id']}/"
    assert (made["evidence"], made["moves"]) == (evidence.pk, ["edit", "withdraw"])
    assert send(page, entry, "patch", version=1, text="Much frost.").json()["text"] == "Much frost."
    assert send(page, entry, "patch", version=1, text="No frost.").status_code == 409
    assert page.get(entry).json() == page.get(address).json()["results"][0]
    assert send(page, f"{entry}withdraw/", reason="Another day.").json()["state"] == "withdrawn"
    assert TimelineEntry.objects.get().state_reason == "Another day."


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"at": "2099-01-01T00:00:00Z", "text": "x"}, "at"),
        ({"at": "soon", "text": "x"}, "at"),
        ({"at": "2024-03-05T09:30:00Z", "text": " "}, "text"),
        ({"at": "2024-03-05T09:30:00Z", "text": "x", "evidence_id": 2**63 - 1}, "evidence_id"),
        ({"at": "2024-03-05T09:30:00Z", "text": "x", "evidence_id": 2**63}, "evidence_id"),
    ],
)
def test_a_bad_entry_names_its_field(given, field):
    answer = send(log_in(recorder()), f"{API}/anomalies/{make_open().number}/timeline/", **given)
    assert (answer.status_code, list(answer.json()["fields"])) == (400, [field])


def test_strangers_and_readers_write_no_timeline():
    anomaly = make_open()
    given = {"at": SEEN_AT.isoformat(), "text": "Frost."}
    address = f"{API}/anomalies/{anomaly.number}/timeline/"
    assert send(log_in(make_stranger()), address, **given).status_code == 404
    assert send(log_in(viewer()), address, **given).status_code == 403
    assert log_in(viewer()).get(f"{API}/timeline/1/").status_code == 404
