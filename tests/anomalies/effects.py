"""What actions do to a tree, for tests, made with the services."""

from __future__ import annotations

from typing import Any

from anomalies.models import ActionEffect, ActionTie, CorrectiveAction
from anomalies.services.actions import propose_action
from anomalies.services.effects import state_effect, tie_actions
from tests.anomalies.actions import make_proposed
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.people import board_member


def make_effect(action: CorrectiveAction | None = None, **changes: Any) -> ActionEffect:
    """The action rules the valve out, in the tree of tests/anomalies/fault_trees.py."""
    action = action or make_proposed()
    if not hasattr(action.anomaly, "investigation"):
        make_investigation(action.anomaly)
    given = {"kind": "ruled_out", "event": "valve", "reason": "The valve is gone."}
    return state_effect(action_id=action.pk, actor=board_member(), **given | changes)


def make_beside(action: CorrectiveAction) -> CorrectiveAction:
    """Another action of the same anomaly; the same one when asked again."""
    found = CorrectiveAction.objects.filter(anomaly=action.anomaly_id, title="Beside").first()
    return found or propose_action(anomaly_id=action.anomaly_id, actor=board_member(), kind="kit", title="Beside")


def make_tie(action: CorrectiveAction | None = None, kind: str = "needs") -> ActionTie:
    """The action needs another one of its anomaly."""
    action = action or make_proposed()
    return tie_actions(action_id=action.pk, other_id=make_beside(action).pk, kind=kind, actor=board_member())
