"""Writes of the safety engineer: is it an anomaly, how grave is it, who leads the work on it."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Anomaly
from anomalies.risk import Probability
from anomalies.services.checks import begin_move, clean_text, clean_values, need_text
from anomalies.services.ledger import change_record
from anomalies.states import ANOMALY
from config.kit.errors import BadInput, Refused
from config.kit.permissions import allows

NO_LEAD = "This person can't lead: they need the role of a board member or a safety engineer."
NO_RATIONALE = "Say why this severity and this probability."
NOT_ELIMINATED = "Level F says that the hazard is gone; something that was just reported can't be there yet."
WHY = "Say why."


@transaction.atomic
def screen_anomaly(
    *, anomaly_id: int, actor: User, severity: int, probability: str, rationale: str, lead_id: int
) -> Anomaly:
    """The anomaly is open, with its risk and its lead. Level F is refused: nothing has been done yet."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "screen", actor)
    risk = _clean_risk(anomaly, severity, probability, rationale)
    if risk["probability"] == Probability.ELIMINATED:
        raise BadInput(NOT_ELIMINATED, code="not_eliminated", fields={"probability": [NOT_ELIMINATED]})
    changes = risk | {"lead_id": _check_lead(anomaly, lead_id), "state": move.target, "screened_at": now()}
    change_record(anomaly, changes, actor=actor, action="anomaly.screen")
    return anomaly


@transaction.atomic
def reassess_anomaly(*, anomaly_id: int, actor: User, severity: int, probability: str, rationale: str) -> Anomaly:
    """The open anomaly has another risk; the one before stays in the ledger."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "reassess", actor)
    risk = _clean_risk(anomaly, severity, probability, rationale)
    change_record(anomaly, risk, actor=actor, action="anomaly.reassess", reason=risk["risk_rationale"])
    return anomaly


@transaction.atomic
def assign_anomaly(*, anomaly_id: int, actor: User, lead_id: int, reason: str = "") -> Anomaly:
    """Somebody else leads the work on the open anomaly."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "assign", actor)
    reason = clean_text("reason", reason)
    change_record(
        anomaly, {"lead_id": _check_lead(anomaly, lead_id)}, actor=actor, action="anomaly.assign", reason=reason
    )
    return anomaly


@transaction.atomic
def dismiss_anomaly(*, anomaly_id: int, actor: User, reason: str) -> Anomaly:
    """The report is no anomaly, or another's duplicate. Refused while it constrains anything."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "dismiss", actor)
    reason = need_text("reason", reason, WHY)
    held = anomaly.constraints.in_force().count()
    if held:
        raise Refused(f"{held} constraint(s) of this anomaly are in force: resolve them first.", code="constraints")
    change_record(anomaly, {"state": move.target}, actor=actor, action="anomaly.dismiss", reason=reason)
    return anomaly


@transaction.atomic
def restore_anomaly(*, anomaly_id: int, actor: User, reason: str) -> Anomaly:
    """What was dismissed awaits screening again."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "restore", actor)
    reason = need_text("reason", reason, WHY)
    change_record(anomaly, {"state": move.target}, actor=actor, action="anomaly.restore", reason=reason)
    return anomaly


def _clean_risk(anomaly: Anomaly, severity: int, probability: str, rationale: str) -> dict[str, Any]:
    given = {"severity": severity, "probability": probability}
    missing = {name: ["Choose one."] for name, value in given.items() if value in (None, "")}
    if missing:
        raise BadInput("The risk needs a severity and a probability.", fields=missing)
    risk = clean_values(anomaly, given, tuple(given))
    return risk | {"risk_rationale": need_text("rationale", rationale, NO_RATIONALE)}


def _check_lead(anomaly: Anomaly, lead_id: int) -> int:
    lead = User.objects.filter(pk=lead_id).first()
    if lead is None or not allows(lead, "anomaly.lead", anomaly):
        raise BadInput(NO_LEAD, code="cannot_lead", fields={"lead_id": [NO_LEAD]})
    return lead.pk
