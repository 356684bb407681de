"""Writes of waivers: an open item of the list is accepted as it is, with what risk, until when, signed."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, Anomaly, Waiver
from anomalies.models.base import Record
from anomalies.reads.readiness.checklist import read_checklist
from anomalies.reads.readiness.figures import find_figure
from anomalies.services.checks import begin_move, clean_values, lock_named, need_text
from anomalies.services.ledger import change_record, create_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import WAIVER, ActivityState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

NOT_OPEN = "This item isn't open on the list of this activity."
PAST = "A waiver must expire after now."
TOO_EARLY = "It would expire before the activity ends, and so accept nothing: choose a later moment."
WHY = "Say why."
OVER = "This activity isn't planned any more."
CONDITION = "A condition of the poll is met, or its position answers anew; nobody else accepts it."


@transaction.atomic
def grant_waiver(
    *,
    activity_id: int,
    actor: User,
    item: str,
    reason: str,
    severity: int,
    probability: str,
    expires_at: datetime,
    carries: bool,
    proof: PasswordProof,
) -> Waiver:
    """The open item is accepted until `expires_at`, with the risk that remains; signed.

    The number of the anomaly's fault tree, with range and method, is kept beside it where there is one.
    """
    require(actor, "waiver.grant")
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)
    if activity.state != ActivityState.PLANNED:
        raise Refused(OVER, code="not_planned")
    review = getattr(activity, "review", None)
    found = next((each for each in read_checklist(activity, review).open if each.key == item), None)
    if found is None:
        raise BadInput(NOT_OPEN, code="not_open", fields={"item": [NOT_OPEN]})
    if found.kind == "condition":
        raise BadInput(CONDITION, code="condition", fields={"item": [CONDITION]})
    given = {"severity": severity, "probability": probability, "expires_at": expires_at, "carries": carries}
    values = clean_values(Waiver(), given, tuple(given))
    _check_expiry(values["expires_at"], activity)
    before = Waiver.objects.filter(activity=activity, item=item).holding(activity).first()
    if before is not None:
        target = WAIVER.move("withdraw", before.state).target
        changes = {"state": target, "state_reason": "Replaced by a new one."}
        change_record(before, changes, actor=actor, action="waiver.replace")
    anomaly = find_anomaly(found.record)
    figure = find_figure(anomaly)
    waiver = Waiver(
        activity=activity,
        item=item,
        mark=found.mark,
        title=found.title[:400],
        anomaly=anomaly,
        reason=need_text("reason", reason, WHY),
        figure=figure.value if figure else None,
        figure_low=figure.low if figure else None,
        figure_high=figure.high if figure else None,
        figure_method=figure.method if figure else "",
        granted_by=actor,
        granted_at=now(),
        **values,
    )
    create_record(waiver, actor=actor, action="waiver.grant")
    meaning = f"Accepted for {activity}, risk {waiver.risk_code}: {waiver.title}"
    sign(waiver, actor=actor, proof=proof, seen=waiver.version, meaning=meaning, permission="accept_risk")
    return waiver


@transaction.atomic
def withdraw_waiver(*, waiver_id: int, actor: User, reason: str) -> Waiver:
    """The item isn't accepted any more."""
    waiver = Waiver.objects.lock(waiver_id)
    move = begin_move(waiver, WAIVER, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "state_reason": reason}
    change_record(waiver, changes, actor=actor, action="waiver.withdraw", reason=reason)
    return waiver


def find_anomaly(record: Record) -> Anomaly | None:
    """Return the anomaly that the record is, or belongs to; None if there's none."""
    found = record if isinstance(record, Anomaly) else getattr(record, "anomaly", None)
    return found if isinstance(found, Anomaly) else None


def _check_expiry(expires_at: datetime, activity: Activity) -> None:
    if expires_at <= now():
        raise BadInput(PAST, code="past", fields={"expires_at": [PAST]})
    if expires_at < activity.planned_end:
        raise BadInput(TOO_EARLY, code="too_early", fields={"expires_at": [TOO_EARLY]})
