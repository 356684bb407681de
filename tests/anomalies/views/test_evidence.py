"""Pages of evidence: what they show, how files leave, and that opening is on record."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from anomalies.models import EvidenceOpening
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.evidence_files import path_of
from tests.anomalies.files import PDF, PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.investigation import make_adopted, make_confirmed
from tests.anomalies.people import make_open, make_stranger, recorder, viewer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
TELEMETRY = {"kind": "telemetry", "title": "Coolant temperature", "unit": "°C", "statement": "", "stated_by": ""}


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def file_of(evidence):
    return reverse("anomalies:evidence_file", args=(evidence.anomaly.number, evidence.position))


def body(response):
    return b"".join(response.streaming_content)


def test_a_page_shows_what_it_is_and_its_key_leads_there():
    evidence = make_photograph()
    page = log_in(viewer())
    answer = page.get(evidence.get_absolute_url())
    assert answer.status_code == 200
    assert evidence.sha256 in answer.content.decode()
    assert page.get(f"/records/evidence/{evidence.pk}/").url == evidence.get_absolute_url()


def test_strangers_find_neither_page_nor_file():
    evidence = make_photograph()
    stranger = log_in(make_stranger())
    assert stranger.get(evidence.get_absolute_url()).status_code == 404
    assert stranger.get(file_of(evidence)).status_code == 404
    assert log_in(viewer()).get(f"/log/{evidence.anomaly.number}/evidence/E9/").status_code == 404
    assert not EvidenceOpening.objects.exists()


def test_the_page_loads_no_picture_until_asked():
    evidence = make_photograph()
    page = log_in(viewer())
    assert "<img" not in page.get(evidence.get_absolute_url()).content.decode()
    shown = page.get(f"{evidence.get_absolute_url()}?show").content.decode()
    assert f'src="{file_of(evidence)}?show" alt="The coupling"' in shown
    document = make_evidence(kind="document", file=upload(PDF, "r.pdf"), statement="", stated_by="")
    assert "<img" not in page.get(f"{document.get_absolute_url()}?show").content.decode()


def test_every_way_of_opening_is_on_record_and_on_the_page():
    evidence = make_photograph()
    page = log_in(viewer())
    assert body(page.get(file_of(evidence))) == PNG
    assert body(page.get(f"{file_of(evidence)}?show")) == PNG
    assert EvidenceOpening.objects.filter(person=viewer()).count() == 2
    assert "2 times, 1 person" in page.get(evidence.get_absolute_url()).content.decode()


@pytest.mark.parametrize(
    ("kind", "data", "name", "query", "type_", "how"),
    [
        ("photograph", PNG, "a.png", "", "image/png", "attachment"),
        ("photograph", PNG, "a.png", "?show", "image/png", "inline"),
        ("document", PDF, "a.pdf", "?show", "application/pdf", "attachment"),
        ("document", b"<script>alert(1)</script>", "a.html", "?show", "text/plain; charset=utf-8", "attachment"),
        ("document", b"<svg onload='alert(1)'/>", "a.svg", "?show", "text/plain; charset=utf-8", "attachment"),
        ("document", b"MZ\x90\0", "a.exe", "?show", "application/octet-stream", "attachment"),
    ],
)
def test_files_leave_typed_by_content_and_never_active(kind, data, name, query, type_, how):
    evidence = make_evidence(kind=kind, file=upload(data, name), statement="", stated_by="")
    answer = log_in(viewer()).get(file_of(evidence) + query)
    assert body(answer) == data
    assert answer["Content-Type"] == type_
    assert answer["Content-Disposition"].startswith(how)
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Security-Policy"].startswith("sandbox; default-src 'none'")
    assert answer["Cache-Control"] == "private, no-store"


def test_a_name_cannot_break_out_of_its_header():
    evidence = make_photograph(name='a"; filename=evil.html\r\nX: 1.png')
    answer = log_in(viewer()).get(file_of(evidence))
    answer.close()
    assert answer["Content-Disposition"] == 'attachment; filename="a\\"; filename=evil.htmlX: 1.png"'


def test_only_get_opens_a_file():
    evidence = make_photograph()
    page = log_in(viewer())
    assert [page.head(file_of(evidence)).status_code, page.post(file_of(evidence)).status_code] == [405, 405]
    assert not EvidenceOpening.objects.exists()


def test_a_changed_file_is_refused_and_said():
    evidence = make_photograph()
    path_of(evidence.sha256).chmod(0o600)
    path_of(evidence.sha256).write_bytes(PNG + b"!")
    answer = log_in(viewer()).get(file_of(evidence))
    assert answer.status_code == 409
    assert "its SHA-256 differs" in answer.content.decode()


def test_telemetry_is_drawn_with_its_limits_and_its_spans_in_a_table():
    evidence = make_evidence(**TELEMETRY, high=30.0, file=upload(SERIES, "t.csv"))
    said = log_in(recorder()).get(evidence.get_absolute_url()).content.decode()
    assert "Once out of limits (high 30 °C)." in said
    assert said.count("<svg") >= 2
    assert "2024-03-05 09:01 UTC" in said
    assert f"/records/anomaly/{evidence.anomaly_id}/add-timeline-entry/?at=2024-03-05%2009%3A01%3A00" in said
    assert "To the timeline" not in log_in(viewer()).get(evidence.get_absolute_url()).content.decode()


def test_what_rests_on_it_is_named_and_linked():
    finding, cause = make_adopted(), make_confirmed()
    for record, row in ((finding, finding.rests_on.get()), (cause, cause.judged_on.get())):
        said = log_in(viewer()).get(row.evidence.get_absolute_url()).content.decode()
        assert f"/records/{record.KIND}/{record.pk}/" in said


def test_withdrawn_evidence_says_so_and_offers_nothing():
    evidence = make_photograph()
    withdraw_evidence(evidence_id=evidence.pk, actor=recorder(), reason="Another coupling.")
    said = log_in(recorder()).get(evidence.get_absolute_url()).content.decode()
    assert "Another coupling." in said
    assert f"/records/evidence/{evidence.pk}/withdraw/" not in said


def test_a_link_leads_out_without_telling_from_where():
    evidence = make_evidence(kind="link", address="https://depot.example/a?b=1&c=2", statement="", stated_by="")
    said = log_in(viewer()).get(evidence.get_absolute_url()).content.decode()
    assert 'href="https://depot.example/a?b=1&amp;c=2" rel="noopener noreferrer external"' in said


def test_text_from_people_is_text():
    evidence = make_evidence(title="<script>alert(1)</script>", statement="<b>x</b>", stated_by="<i>EV2</i>")
    series = make_evidence(**TELEMETRY | {"title": "<script>alert(2)</script>"}, file=upload(SERIES, "t.csv"))
    page = log_in(viewer())
    for piece in (evidence, series):
        for address in (piece.get_absolute_url(), piece.anomaly.get_absolute_url()):
            said = page.get(address).content.decode()
            assert "<script>alert" not in said
            assert "<b>x</b>" not in said


def test_the_dossier_shows_all_kinds_with_a_constant_number_of_queries():
    anomaly = make_open()
    page = log_in(recorder())

    def add_some():
        make_evidence(anomaly)
        make_photograph(anomaly)
        make_evidence(anomaly, **TELEMETRY, high=30.0, file=upload(SERIES, "t.csv"))

    def count():
        page.get(anomaly.get_absolute_url())
        with CaptureQueriesContext(connection) as queries:
            assert page.get(anomaly.get_absolute_url()).status_code == 200
        return len(queries)

    add_some()
    first = count()
    for _ in range(3):
        add_some()
    assert count() == first
