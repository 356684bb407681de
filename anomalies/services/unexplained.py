"""The honest outcome: the anomaly stays unexplained, and somebody accepts its risk under their signature."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import Anomaly
from anomalies.services.checks import begin_move, need_text
from anomalies.services.ledger import change_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import ANOMALY
from config.kit.errors import Refused

NO_RATIONALE = "Say what was tried, and why the risk that remains is acceptable."
WHY = "Say why."


@transaction.atomic
def accept_unexplained(*, anomaly_id: int, actor: User, version: int, rationale: str, proof: PasswordProof) -> Anomaly:
    """The anomaly may be closed without an explanation. Refused while a cause is open, or one explains it."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "accept_unexplained", actor)
    rationale = need_text("rationale", rationale, NO_RATIONALE)
    if anomaly.unexplained_at:
        raise Refused("Its risk was accepted already: retract that first.", code="accepted_already")
    gaps = [Gap(f"{cause.label} is open: judge it.", cause.KIND, cause.pk) for cause in anomaly.causes.undecided()]
    gaps += [
        Gap(f"{cause.label} is confirmed: then it isn't unexplained.", cause.KIND, cause.pk)
        for cause in anomaly.causes.explaining()
    ]
    if gaps:
        raise Missing("This anomaly can't be accepted as unexplained.", gaps, code="not_unexplained")
    meaning = f"{anomaly.number} stays unexplained, and its risk ({anomaly.risk_code}) is accepted: {rationale}"
    sign(anomaly, actor=actor, proof=proof, seen=version, meaning=meaning, permission="accept_risk")
    changes = {"unexplained_rationale": rationale, "unexplained_by_id": actor.pk, "unexplained_at": now()}
    change_record(anomaly, changes, actor=actor, action="anomaly.accept_unexplained", reason=rationale)
    return anomaly


@transaction.atomic
def retract_acceptance(*, anomaly_id: int, actor: User, reason: str) -> Anomaly:
    """The risk isn't accepted any more; the signature stays on record."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "retract_acceptance", actor)
    reason = need_text("reason", reason, WHY)
    if not anomaly.unexplained_at:
        raise Refused("Nobody has accepted its risk.", code="not_accepted")
    changes = {"unexplained_rationale": "", "unexplained_by_id": None, "unexplained_at": None}
    change_record(anomaly, changes, actor=actor, action="anomaly.retract_acceptance", reason=reason)
    return anomaly
