"""Findings, causes and boards for tests, made with the services."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Anomaly, Cause, Finding
from anomalies.services.board import seat_member
from anomalies.services.causes import confirm_cause, state_cause
from anomalies.services.findings import adopt_finding, propose_finding, state_position
from tests.anomalies.files import make_evidence
from tests.anomalies.people import board_member, make_open, make_person, safety_engineer
from tests.anomalies.procedures import prove


def seat(anomaly: Anomaly, *people: User) -> None:
    """They sit on the board of the anomaly; without names, the board member alone."""
    for person in people or (board_member(),):
        seat_member(anomaly_id=anomaly.pk, actor=safety_engineer(), person_id=person.pk)


def second_member() -> User:
    """Another board member."""
    return make_person("board member", "second-member")


def make_finding(anomaly: Anomaly | None = None, **changes: Any) -> Finding:
    """A finding before the board, on a statement."""
    anomaly = anomaly or make_open()
    given: dict[str, Any] = {"kind": "finding", "statement": "The seal was cold-set."}
    if "evidence_ids" not in changes:
        given["evidence_ids"] = [make_evidence(anomaly).pk]
    return propose_finding(anomaly_id=anomaly.pk, actor=board_member(), **given | changes)


def make_adopted(anomaly: Anomaly | None = None) -> Finding:
    """An adopted finding of a board of one."""
    finding = make_finding(anomaly)
    seat(finding.anomaly)
    state_position(finding_id=finding.pk, actor=board_member(), stand="concurs", wording=1)
    actor = board_member()
    return adopt_finding(finding_id=finding.pk, actor=actor, version=finding.version, proof=prove(actor))


def make_cause(anomaly: Anomaly | None = None, **changes: Any) -> Cause:
    """A proximate cause that nobody has judged."""
    given = {"kind": "proximate", "statement": "The seal lost its grip when cold."}
    return state_cause(anomaly_id=(anomaly or make_open()).pk, actor=board_member(), **given | changes)


def make_confirmed(anomaly: Anomaly | None = None) -> Cause:
    """A cause confirmed on evidence."""
    cause = make_cause(anomaly)
    evidence = make_evidence(cause.anomaly)
    return confirm_cause(
        cause_id=cause.pk, actor=board_member(), version=1, rationale="Seen.", evidence_ids=[evidence.pk]
    )
