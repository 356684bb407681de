"""Failure modes, exposure and proposals for tests, made with the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from anomalies.models import ExposureEntry, FailureMode, ParameterUpdate
from anomalies.services.exposure import enter_exposure
from anomalies.services.learning import add_failure_mode, propose_update
from faulttree.models import SharedItem
from faulttree.services.library import Sent, add_item
from tests.anomalies.people import SEEN_AT, activity_lead, make_type, safety_engineer


def make_rate(name: str = "rate-seal", expression: Any = None) -> SharedItem:
    """A shared rate per hour; the same one when asked again."""
    found = SharedItem.objects.filter(name=name).first()
    if found:
        return found
    sent = Sent(expression or {"gamma-deviate": [2.0, 1e-4]}, "judgement", "Agreed.", "Seal weeps", "hours-1")
    return add_item(actor=safety_engineer(), kind="parameter", name=name, sent=sent).item


def make_mode(code: str = "SEAL-WEEP", **changes: Any) -> FailureMode:
    """A failure mode that informs the rate; the same one when asked again."""
    found = FailureMode.objects.filter(code=code).first()
    if found:
        return found
    given = {"hardware_type_id": make_type().pk, "name": "Seal weeps", "measure": "hours", "item_id": make_rate().pk}
    return add_failure_mode(actor=safety_engineer(), code=code, **given | changes)


def make_exposure(amount: float = 400.0, **changes: Any) -> ExposureEntry:
    """Hours of the type, the week before SEEN_AT."""
    given = {
        "hardware_type_id": make_type().pk,
        "measure": "hours",
        "start": SEEN_AT - timedelta(days=7),
        "end": SEEN_AT,
        "source": "Bench log",
    }
    return enter_exposure(actor=activity_lead(), amount=amount, **given | changes)


def make_proposal(code: str = "SEAL-WEEP", **changes: Any) -> ParameterUpdate:
    """A proposal that waits."""
    mode = make_mode(code)
    if not ExposureEntry.objects.filter(hardware_type=mode.hardware_type_id).exists():
        make_exposure()
    return propose_update(failure_mode_id=mode.pk, actor=safety_engineer(), **changes)
