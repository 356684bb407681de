"""Corrective actions for tests, made with the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from anomalies.clock import now
from anomalies.models import Cause, CorrectiveAction
from anomalies.services.action_work import do_action
from anomalies.services.actions import commit_action, propose_action
from anomalies.services.verification import verify_action
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_confirmed
from tests.anomalies.people import board_member, make_person
from tests.anomalies.procedures import prove


def owner() -> Any:
    return make_person("action owner")


def verifier() -> Any:
    return make_person("verifier")


def next_week() -> Any:
    return (now() + timedelta(days=7)).date()


def make_proposed(cause: Cause | None = None, **changes: Any) -> CorrectiveAction:
    """An action that addresses a confirmed cause."""
    cause = cause or make_confirmed()
    given = {"kind": "training", "title": "Train the cold-soak check", "cause_ids": [cause.pk]}
    given |= {"acceptance_criteria": "Every crew member has done it twice."}
    return propose_action(anomaly_id=cause.anomaly_id, actor=board_member(), **given | changes)


def make_committed(cause: Cause | None = None, **changes: Any) -> CorrectiveAction:
    """An action that the action owner owns."""
    action = make_proposed(cause, **changes)
    return commit_action(
        action_id=action.pk, actor=board_member(), version=action.version, owner_id=owner().pk, due_on=next_week()
    )


def make_done(cause: Cause | None = None, **changes: Any) -> CorrectiveAction:
    """An action that awaits verification."""
    action = make_committed(cause, **changes)
    return do_action(action_id=action.pk, actor=owner(), version=action.version, note="Done with all six.")


def verify(action: CorrectiveAction, person: Any = None, **changes: Any) -> CorrectiveAction:
    """The verifier verifies it on a new piece of evidence."""
    person = person or verifier()
    given: dict[str, Any] = {"version": action.reread().version, "note": "Watched two of them.", "proof": prove(person)}
    if "evidence_ids" not in changes:
        given["evidence_ids"] = [make_evidence(action.anomaly).pk]
    return verify_action(action_id=action.pk, actor=person, **given | changes)


def make_verified(cause: Cause | None = None, **changes: Any) -> CorrectiveAction:
    """A verified action."""
    return verify(make_done(cause, **changes))
