"""Evidence: added once, opened on record, withdrawn with a reason, never changed."""

from __future__ import annotations

import hashlib

import pytest

from anomalies.errors import EditConflict, Missing
from anomalies.models import EvidenceOpening, Finding, FindingEvidence
from anomalies.services.evidence import describe_evidence, open_evidence, withdraw_evidence
from anomalies.services.evidence_files import path_of
from anomalies.services.ledger import create_record
from anomalies.telemetry import BadSeries
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.files import PDF, PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.people import SEEN_AT, board_member, make_draft, make_open, recorder, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db
TELEMETRY = {
    "kind": "telemetry",
    "title": "Coolant temperature",
    "unit": "°C",
    "high": 30.0,
    "statement": "",
    "stated_by": "",
}


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def test_a_file_is_kept_under_its_hash_and_known_by_its_content():
    evidence = make_photograph(name="IMG 1.png")
    assert evidence.sha256 == hashlib.sha256(PNG).hexdigest()
    assert (evidence.label, evidence.media_type, evidence.size) == ("E1", "image/png", len(PNG))
    assert path_of(evidence.sha256).read_bytes() == PNG


def test_numbers_count_within_the_anomaly():
    anomaly = make_open()
    assert [make_evidence(anomaly).label for _ in range(3)] == ["E1", "E2", "E3"]
    assert make_evidence().label == "E1"


def test_the_same_bytes_are_kept_once():
    first, second = make_photograph(), make_photograph()
    assert first.sha256 == second.sha256
    assert len(list(path_of(first.sha256).parent.iterdir())) == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "photograph"}, "statement"),
        ({"kind": "photograph", "statement": "", "stated_by": ""}, "file"),
        ({"statement": ""}, "statement"),
        ({"stated_by": ""}, "stated_by"),
        ({"kind": "link", "statement": "", "stated_by": "", "address": "ftp://depot/x"}, "address"),
        ({"kind": "link", "statement": "", "stated_by": "", "address": "javascript:alert(1)"}, "address"),
        ({"kind": "riddle"}, "kind"),
        ({"title": ""}, "title"),
    ],
)
def test_what_is_missing_or_wrong_is_named(changes, field):
    anomaly = make_open()
    recorder()
    with refused(BadInput) as caught:
        make_evidence(anomaly, **changes)
    assert field in caught.value.fields


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (PDF, "photo.png"),
        (b"<svg onload='x()'/>", "picture.svg"),
        (b"<html><script>", "picture.png"),
        (b"", "empty.png"),
    ],
)
def test_a_photograph_must_be_a_picture_by_its_content(data, name):
    anomaly = make_open()
    recorder()
    with refused(BadInput, code="bad_file"):
        make_photograph(anomaly, data, name)


def test_a_large_file_is_refused_and_leaves_nothing(settings, tmp_path):
    settings.EVIDENCE_MAX_BYTES = 10
    anomaly = make_open()
    recorder()
    with refused(BadInput, match="larger"):
        make_photograph(anomaly)
    assert [path for path in (tmp_path / "evidence").rglob("*") if path.is_file()] == []


def test_telemetry_has_its_spans_out_of_limits():
    evidence = make_evidence(**TELEMETRY, file=upload(SERIES, "t.csv"))
    series = evidence.series
    assert (series.samples, series.least, series.greatest) == (3, 20.0, 31.0)
    assert [(span["side"], span["extreme"]) for span in series.spans] == [("above", 31.0)]


def test_every_bad_line_of_telemetry_is_named():
    anomaly = make_open()
    recorder()
    with refused(BadSeries) as caught:
        make_evidence(anomaly, **TELEMETRY, file=upload(b"time,value\nnever,1\n2024-03-05T09:00:00Z,x\n", "t.csv"))
    assert [fault.line for fault in caught.value.faults] == [2, 3]


def test_other_limits_give_other_spans():
    evidence = make_evidence(**TELEMETRY, file=upload(SERIES, "t.csv"))
    given = {"evidence_id": evidence.pk, "actor": recorder(), "version": 1}
    describe_evidence(**given, changes={"high": 21.0})
    evidence.series.refresh_from_db()
    assert [span["samples"] for span in evidence.series.spans] == [2]
    with refused(EditConflict):
        describe_evidence(**given, changes={"title": "Other"})


def test_opening_is_on_record_and_a_changed_file_is_refused():
    evidence = make_photograph()
    _, file = open_evidence(evidence_id=evidence.pk, actor=viewer())
    assert file.read() == PNG
    file.close()
    assert EvidenceOpening.objects.get(evidence=evidence).person == viewer()
    path = path_of(evidence.sha256)
    path.chmod(0o600)
    path.write_bytes(PNG + b"!")
    with refused(Refused, code="file_changed"):
        open_evidence(evidence_id=evidence.pk, actor=viewer())


def test_withdrawn_it_stays_on_record_and_can_still_be_opened():
    evidence = make_photograph()
    withdraw_evidence(evidence_id=evidence.pk, actor=recorder(), reason="Another coupling.")
    open_evidence(evidence_id=evidence.pk, actor=viewer())[1].close()
    with refused(WrongState):
        withdraw_evidence(evidence_id=evidence.pk, actor=recorder(), reason="Again.")


def test_what_a_finding_rests_on_alone_cannot_be_withdrawn():
    evidence = make_evidence()
    author = board_member()
    finding = Finding(anomaly=evidence.anomaly, position=1, kind="finding", statement="It leaked.", author=author)
    finding.proposed_at = SEEN_AT
    create_record(finding, actor=author, action="finding.propose")
    rest = FindingEvidence(finding=finding, evidence=evidence)
    create_record(rest, actor=author, action="finding.add_evidence")
    recorder()
    with refused(Missing, code="rested_on") as caught:
        withdraw_evidence(evidence_id=evidence.pk, actor=recorder(), reason="Wrong.")
    assert [(gap.kind, gap.record_id) for gap in caught.value.gaps] == [("finding", finding.pk)]


def test_only_those_who_may_add_and_only_to_a_reported_anomaly():
    draft = make_draft()
    with refused(WrongState):
        make_evidence(draft)
    evidence = make_evidence()
    viewer()
    with refused(NotAllowed):
        withdraw_evidence(evidence_id=evidence.pk, actor=viewer(), reason="No.")
