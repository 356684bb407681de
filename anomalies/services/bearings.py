"""Writes of bearings: what a piece of evidence says of an event of the tree, entered with its justification."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.clock import now
from anomalies.models import Bearing, Evidence, Finding, Inspection, Investigation
from anomalies.services.checks import begin_move, need_text
from anomalies.services.investigations import lock_investigation, need_event, note_news
from anomalies.services.ledger import change_record, create_record
from anomalies.states import BEARING, INVESTIGATION
from config.kit.errors import BadInput

NO_JUSTIFICATION = "Say why this evidence says so."
NO_SOURCE = "Name the evidence or the finding that says so."
NOT_OURS = "This belongs to another anomaly, or was withdrawn."
NO_SAYS = "Choose what the evidence says."
BAD_RATIO = "A likelihood ratio is a number above 0. For a plain fact choose “it occurred” or “it did not occur”."
BAD_RATE = "Give a probability, 0 to 1."
NO_RESULT = "Say whether the test found the event."
SAYS_NOTHING = "This result can't come about with these rates: the likelihood ratio would be 0/0. Correct the rates."
WHY = "Say why."


@transaction.atomic
def weigh_evidence(
    *,
    investigation_id: int,
    actor: User,
    event: str,
    says: str,
    justification: str,
    evidence_id: int | None = None,
    finding_id: int | None = None,
    ratio: float | None = None,
    sensitivity: float | None = None,
    false_alarm: float | None = None,
    found: bool | None = None,
) -> Bearing:
    """The evidence counts for or against an event: as a fact, by a test's rates and result, or by a likelihood ratio.

    ratio           P(evidence | the event occurred) / P(evidence | it did not), above 0
    sensitivity     P(the test finds the event | it occurred); false_alarm the same given that it did not
    """
    investigation = lock_investigation(investigation_id)
    begin_move(investigation, INVESTIGATION, "weigh", actor)
    name = need_event(investigation, event)
    values = clean_weight(says, ratio, sensitivity, false_alarm, found)
    values["justification"] = need_text("justification", justification, NO_JUSTIFICATION)
    values |= check_source(investigation, evidence_id, finding_id)
    bearing = add_bearing(investigation, actor, event=name, **values)
    note_news(investigation, actor, "investigation.weigh")
    return bearing


@transaction.atomic
def withdraw_bearing(*, bearing_id: int, actor: User, reason: str) -> Bearing:
    """What the evidence said doesn't count any more."""
    key = Bearing.objects.values_list("investigation_id", flat=True).get(pk=bearing_id)
    investigation = lock_investigation(key)
    bearing = Bearing.objects.lock(bearing_id)
    bearing.investigation = investigation
    move = begin_move(bearing, BEARING, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    change_record(bearing, {"state": move.target}, actor=actor, action="bearing.withdraw", reason=reason)
    note_news(investigation, actor, "investigation.weigh")
    return bearing


def add_bearing(
    investigation: Investigation, actor: User, *, event: str, inspection: Inspection | None = None, **values: Any
) -> Bearing:
    """Return the new bearing, last of the locked investigation."""
    last = investigation.bearings.aggregate(last=Max("position"))["last"] or 0
    bearing = Bearing(
        investigation=investigation,
        position=last + 1,
        event=event,
        inspection=inspection,
        author=actor,
        entered_at=now(),
        **values,
    )
    create_record(bearing, actor=actor, action="bearing.enter")
    return bearing


def check_source(investigation: Investigation, evidence_id: int | None, finding_id: int | None) -> dict[str, Any]:
    """Return the columns of what a bearing rests on; raises BadInput unless it is held evidence or a finding here."""
    if evidence_id is None and finding_id is None:
        raise BadInput(NO_SOURCE, code="no_source", fields={"evidence_id": [NO_SOURCE]})
    ours = {"anomaly": investigation.anomaly_id}
    if evidence_id is not None and not Evidence.objects.held().filter(pk=evidence_id, **ours).exists():
        raise BadInput(NOT_OURS, code="not_ours", fields={"evidence_id": [NOT_OURS]})
    if finding_id is not None and not Finding.objects.standing().filter(pk=finding_id, **ours).exists():
        raise BadInput(NOT_OURS, code="not_ours", fields={"finding_id": [NOT_OURS]})
    return {"evidence_id": evidence_id, "finding_id": finding_id}


def clean_weight(
    says: str, ratio: float | None, sensitivity: float | None, false_alarm: float | None, found: bool | None
) -> dict[str, Any]:
    """Return the columns of what evidence says; raises BadInput naming each field at fault."""
    if says not in Bearing.Says.values:
        raise BadInput(NO_SAYS, code="no_says", fields={"says": [NO_SAYS]})
    if says == Bearing.Says.RATIO:
        if ratio is None or not 0 < ratio < float("inf"):
            raise BadInput(BAD_RATIO, code="bad_ratio", fields={"ratio": [BAD_RATIO]})
        return {"says": says, "ratio": ratio}
    if says != Bearing.Says.TEST:
        return {"says": says}
    check_rates(sensitivity, false_alarm)
    if found is None:
        raise BadInput(NO_RESULT, code="no_result", fields={"found": [NO_RESULT]})
    if (sensitivity, false_alarm) in ((0, 0), (1, 1)) and found == (sensitivity == 0):
        raise BadInput(SAYS_NOTHING, code="says_nothing", fields={"found": [SAYS_NOTHING]})
    return {"says": says, "sensitivity": sensitivity, "false_alarm": false_alarm, "found": found}


def check_rates(sensitivity: float | None, false_alarm: float | None) -> None:
    """Raise BadInput unless both are probabilities."""
    rates = {"sensitivity": sensitivity, "false_alarm": false_alarm}
    wrong = {name: [BAD_RATE] for name, value in rates.items() if value is None or not 0 <= value <= 1}
    if wrong:
        raise BadInput(BAD_RATE, code="bad_rate", fields=wrong)
