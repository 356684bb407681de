"""Writes that end the work on an anomaly, or begin it again.

It closes only when nothing is open: every cause judged, the fault tree of its
investigation, if it has one, concluded, a root or proximate one confirmed or else the risk accepted
unexplained, each root cause answered by a verified action (the proximate ones where no root is confirmed), every action
settled, no constraint in force, nothing before the board, no procedure change half done. The rule is strict and simple
on purpose: whoever reads "closed" before an outing must be able to rely on all of it.
"""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import ActionCause, Anomaly, Cause, CorrectiveAction, Investigation
from anomalies.services.actions import undo_action
from anomalies.services.checks import begin_move, need_text
from anomalies.services.ledger import change_record
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import ACTION, ANOMALY, ActionState, AnomalyState, InvestigationState
from config.kit.permissions import SYSTEM

SETTLED = (ActionState.VERIFIED, ActionState.EFFECTIVE)
NO_STATEMENT = "Say in a few sentences what happened, why, and what was changed."
WHY = "Say why."


@transaction.atomic
def close_anomaly(*, anomaly_id: int, actor: User, version: int, statement: str, proof: PasswordProof) -> Anomaly:
    """The anomaly is closed under a signature; Missing names everything that is open, each with its record."""
    lock_actions_of(anomaly_id)
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "close", actor)
    statement = need_text("closing_statement", statement, NO_STATEMENT)
    gaps = find_closing_gaps(anomaly)
    if gaps:
        raise Missing(f"{anomaly.number} can't be closed yet.", gaps, code="something_open")
    outcome = "unexplained, its risk accepted" if anomaly.unexplained_at else "explained"
    meaning = f"Closed: {anomaly.number} is {outcome}, and everything that was to be done is done."
    sign(anomaly, actor=actor, proof=proof, seen=version, meaning=meaning, permission="close_anomaly")
    closed = {"closing_statement": statement, "closed_by_id": actor.pk, "closed_at": now()}
    change_record(anomaly, closed | {"state": move.target}, actor=actor, action="anomaly.close")
    return anomaly


@transaction.atomic
def reopen_anomaly(*, anomaly_id: int, actor: User, reason: str) -> Anomaly:
    """The anomaly is open again; its closing, and who signed it, stay on record."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    move = begin_move(anomaly, ANOMALY, "reopen", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "closing_statement": "", "closed_by_id": None, "closed_at": None}
    change_record(anomaly, changes, actor=actor, action="anomaly.reopen", reason=reason)
    return anomaly


def reopen_for_recurrence(anomaly: Anomaly, recurrence: Anomaly) -> None:
    """The anomaly came back: every action that was thought to hold is open again, and so is the anomaly if it closed.

    While it is open, an action that was done since the recurrence still holds: the recurrence says nothing of it.
    The service does it, whoever made the link; anomaly and actions must be locked.
    """
    reason = f"It came back as {recurrence.number}."
    settled = anomaly.actions.filter(state__in=SETTLED).order_by("pk")
    if anomaly.state == AnomalyState.OPEN:
        settled = settled.filter(done_at__lt=recurrence.occurred_at)
    for action in settled:
        move = ACTION.move("reopen", action.state)
        undo_action(action, move.target, actor=SYSTEM, action_name="action.reopen", reason=reason)
    if anomaly.state == AnomalyState.OPEN:
        return
    move = ANOMALY.move("reopen", anomaly.state)
    changes = {"state": move.target, "closing_statement": "", "closed_by_id": None, "closed_at": None}
    change_record(anomaly, changes, actor=SYSTEM, action="anomaly.reopen", reason=reason)


def find_closing_gaps(anomaly: Anomaly) -> list[Gap]:
    """Return everything that keeps the anomaly from being closed."""
    return [
        *(Gap(f"{cause.label} isn't judged yet.", cause.KIND, cause.pk) for cause in anomaly.causes.undecided()),
        *_find_outcome_gaps(anomaly),
        *(
            Gap("The investigation by its fault tree isn't concluded yet.", row.KIND, row.pk)
            for row in Investigation.objects.filter(anomaly=anomaly, state=InvestigationState.UNDER_WAY)
        ),
        *(
            Gap(f"{action.number} is {action.get_state_display().lower()}.", action.KIND, action.pk)
            for action in anomaly.actions.unsettled()
        ),
        *(
            Gap(f"A constraint is in force: {row.statement}", row.KIND, row.pk)
            for row in anomaly.constraints.in_force()
        ),
        *(
            Gap(f"{row.label} is still before the board.", row.KIND, row.pk)
            for row in anomaly.findings.before_the_board()
        ),
        *(
            Gap(f"{row.procedure.number}, {row}, which it caused, isn't released yet.", row.KIND, row.pk)
            for row in anomaly.procedure_revisions.undecided().select_related("procedure")
        ),
    ]


def _find_outcome_gaps(anomaly: Anomaly) -> list[Gap]:
    explaining = list(anomaly.causes.explaining())
    gaps = []
    if not explaining and not anomaly.unexplained_at:
        text = "No root or proximate cause is confirmed, and nobody has accepted the risk of its staying unexplained."
        gaps.append(Gap(text, anomaly.KIND, anomaly.pk))
    if explaining and anomaly.unexplained_at:
        text = f"{explaining[0].label} is confirmed, but the anomaly is accepted as unexplained: retract that."
        gaps.append(Gap(text, anomaly.KIND, anomaly.pk))
    weighty = [cause for cause in explaining if cause.kind == Cause.Kind.ROOT] or explaining
    settled = ActionCause.objects.filter(cause__in=weighty, active=True, action__state__in=SETTLED)
    addressed = set(settled.values_list("cause", flat=True))
    return gaps + [
        Gap(f"No verified action addresses {cause.label}, which is confirmed.", cause.KIND, cause.pk)
        for cause in weighty
        if cause.pk not in addressed
    ]


def lock_actions_of(anomaly_id: int) -> None:
    """Lock the actions of an anomaly before the anomaly, as the order of locks has it: none may move meanwhile."""
    list(CorrectiveAction.objects.filter(anomaly=anomaly_id).order_by("pk").select_for_update(of=("self",)))
