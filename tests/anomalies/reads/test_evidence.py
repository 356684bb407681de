"""What pages read about evidence: the timeline it adds to, what rests on it, durations in words."""

from __future__ import annotations

from datetime import timedelta

import pytest

from anomalies.reads.evidence import find_entries, find_evidence, read_moments, read_uses
from anomalies.reads.telemetry import write_duration
from anomalies.services.evidence import withdraw_evidence
from anomalies.services.findings import withdraw_finding
from anomalies.services.timeline import add_timeline_entry
from tests.anomalies.files import make_evidence, make_photograph, upload
from tests.anomalies.investigation import make_confirmed, make_finding
from tests.anomalies.people import SEEN_AT, board_member, make_open, recorder

pytestmark = pytest.mark.django_db
SPIKES = "time,value\n" + "".join(
    f"2024-03-05T{9 + n // 60:02}:{n % 60:02}:00Z,{35 if n % 8 == 1 or n in (50, 51, 52) else 20}\n" for n in range(80)
)
TELEMETRY = {"kind": "telemetry", "title": "Coolant", "unit": "°C", "high": 30.0, "statement": "", "stated_by": ""}


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def moments_of(anomaly):
    return read_moments(anomaly, list(find_entries(anomaly)), list(find_evidence(anomaly)))


def test_the_timeline_puts_entries_and_what_records_know_in_the_order_of_time():
    anomaly = make_open()
    add_timeline_entry(anomaly_id=anomaly.pk, actor=recorder(), at=SEEN_AT - timedelta(minutes=5), text="Hatch open.")
    make_photograph(anomaly)
    make_evidence(anomaly, taken_at=SEEN_AT + timedelta(hours=1))
    assert [(moment.kind, moment.words) for moment in moments_of(anomaly)] == [
        ("entry", "Hatch open."),
        ("occurred", "Coolant wept"),
        ("taken", "What EV2 saw"),
    ]


def test_of_a_series_the_longest_spans_come_and_the_others_are_counted():
    anomaly = make_open()
    make_evidence(anomaly, **TELEMETRY, file=upload(SPIKES.encode(), "t.csv"))
    spans = [moment for moment in moments_of(anomaly) if moment.kind == "span"]
    assert len(spans) == 6
    assert "Coolant above 30 °C for 3 min; 35 °C at most" in [moment.words for moment in spans]
    assert [moment.words for moment in spans if "shorter" in moment.words] == [
        "Coolant: 5 shorter spans out of limits; see E1"
    ]


def test_withdrawn_evidence_adds_nothing():
    anomaly = make_open()
    evidence = make_evidence(anomaly, taken_at=SEEN_AT)
    withdraw_evidence(evidence_id=evidence.pk, actor=recorder(), reason="Hearsay.")
    assert [moment.kind for moment in moments_of(anomaly)] == ["occurred"]


def test_what_rests_on_it_is_found_in_four_queries(django_assert_num_queries):
    finding, cause = make_finding(), make_confirmed()
    keys = [finding.rests_on.get().evidence_id, cause.judged_on.get().evidence_id]
    with django_assert_num_queries(4):
        uses = read_uses(keys)
    assert {key: [use.record for use in found] for key, found in uses.items()} == {keys[0]: [finding], keys[1]: [cause]}


def test_a_withdrawn_finding_rests_on_nothing():
    finding = make_finding()
    key = finding.rests_on.get().evidence_id
    withdraw_finding(finding_id=finding.pk, actor=board_member(), reason="Superseded.")
    assert read_uses([key]) == {}


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (0.25, "0.25 s"), (59.9999, "60 s"), (60, "1 min"), (3661, "1 h 1 min 1 s"), (90_000, "1 d 1 h")],
)
def test_durations_are_written_in_words(seconds, words):
    assert write_duration(timedelta(seconds=seconds)) == words
