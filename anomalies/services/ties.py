"""Writes of constraints, and of links between anomalies."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.models import Activity, Anomaly, AnomalyLink, Constraint
from anomalies.services.checks import ask_first, begin_move, clean_values, lock_named, need_text
from anomalies.services.closing import lock_actions_of, reopen_for_recurrence
from anomalies.services.ledger import change_record, create_record
from anomalies.services.numbers import hold_series
from anomalies.states import ANOMALY, CONSTRAINT, LINK, ActivityState, AnomalyState
from config.kit.errors import BadInput, Refused

ONE_THING = "Name one thing: an activity, or a type of hardware."
HOW = "Say how the constraint was dealt with."
WHY = "Say why."
K = AnomalyLink.Kind


@transaction.atomic
def constrain(
    *,
    anomaly_id: int,
    actor: User,
    statement: str,
    activity_id: int | None = None,
    hardware_type_id: int | None = None,
) -> Constraint:
    """A constraint on an activity still to come, or on a type of hardware, is in force until it is resolved."""
    ask_first(actor, "anomaly.constrain", Anomaly.objects.all(), anomaly_id)
    activity = None if activity_id is None else lock_named("activity_id", Activity.objects.all(), activity_id)
    anomaly = Anomaly.objects.lock(anomaly_id)
    begin_move(anomaly, ANOMALY, "constrain", actor)
    if (activity_id is None) == (hardware_type_id is None):
        raise BadInput(ONE_THING, code="one_thing", fields={"activity_id": [ONE_THING]})
    given = {"statement": statement, "activity_id": activity_id, "hardware_type_id": hardware_type_id}
    values = clean_values(Constraint(), given, tuple(given))
    if activity is not None and activity.state not in (ActivityState.PLANNED, ActivityState.UNDER_WAY):
        raise Refused("This activity is over: it can't be constrained any more.", code="activity_over")
    constraint = Constraint(anomaly=anomaly, **values)
    create_record(constraint, actor=actor, action="constraint.impose")
    return constraint


@transaction.atomic
def resolve_constraint(*, constraint_id: int, actor: User, resolution: str) -> Constraint:
    """The constraint isn't in force any more, and says why."""
    constraint = _lock_constraint(constraint_id)
    move = begin_move(constraint, CONSTRAINT, "resolve", actor)
    resolution = need_text("resolution", resolution, HOW)
    changes = {"state": move.target, "resolution": resolution}
    change_record(constraint, changes, actor=actor, action="constraint.resolve", reason=resolution)
    return constraint


@transaction.atomic
def reinstate_constraint(*, constraint_id: int, actor: User, reason: str) -> Constraint:
    """The constraint is in force again. Refused unless its anomaly could be constrained anew."""
    constraint = _lock_constraint(constraint_id)
    move = begin_move(constraint, CONSTRAINT, "reinstate", actor)
    reason = need_text("reason", reason, WHY)
    ANOMALY.move("constrain", constraint.anomaly.state)
    changes = {"state": move.target, "resolution": ""}
    change_record(constraint, changes, actor=actor, action="constraint.reinstate", reason=reason)
    return constraint


@transaction.atomic
def link_anomalies(*, source_id: int, target_id: int, kind: str, actor: User, note: str = "") -> AnomalyLink:
    """The source is linked to the target. Related is mutual: it is kept once, from the later record to the earlier.

    A recurrence opens again what was thought to hold: a closed anomaly, and verified actions (closing.py says which).
    Refused: to itself, twice, a duplicate of two, a circle of duplicates, a recurrence of what came later.
    """
    ask_first(actor, "anomaly.link", Anomaly.objects.all(), source_id)
    hold_series("links")  # the chain of duplicates can't change while it's walked
    if kind == K.RELATED:
        source_id, target_id = max(source_id, target_id), min(source_id, target_id)
    if source_id == target_id:
        raise Refused("An anomaly can't be linked to itself.", code="linked_to_itself")
    if kind == K.RECURRENCE:
        lock_actions_of(target_id)  # they come before anomalies
    found = {pk: Anomaly.objects.lock(pk) for pk in sorted((source_id, target_id))}
    source, target = found[source_id], found[target_id]
    for anomaly in (source, target):
        begin_move(anomaly, ANOMALY, "link", actor)
    values = clean_values(AnomalyLink(), {"kind": kind, "note": note}, ("kind", "note"))
    _check_link(source, target, values["kind"])
    link = AnomalyLink(source=source, target=target, made_by=actor, **values)
    create_record(link, actor=actor, action="link.make")
    if link.kind == K.RECURRENCE and target.state in (AnomalyState.OPEN, AnomalyState.CLOSED):
        reopen_for_recurrence(target, source)
    return link


@transaction.atomic
def withdraw_link(*, link_id: int, actor: User, reason: str) -> AnomalyLink:
    """The link doesn't stand any more."""
    link = AnomalyLink.objects.lock(link_id)
    move = begin_move(link, LINK, "withdraw", actor)
    reason = need_text("reason", reason, WHY)
    change_record(link, {"state": move.target}, actor=actor, action="link.withdraw", reason=reason)
    return link


def _lock_constraint(constraint_id: int) -> Constraint:
    """Lock the anomaly first: nobody may dismiss it while a constraint of it changes."""
    anomaly_id = Constraint.objects.values_list("anomaly_id", flat=True).get(pk=constraint_id)
    Anomaly.objects.lock(anomaly_id)
    return Constraint.objects.lock(constraint_id)


def _check_link(source: Anomaly, target: Anomaly, kind: str) -> None:
    standing = AnomalyLink.objects.standing().filter(kind=kind)
    if standing.filter(source=source, target=target).exists():
        raise Refused("These two are linked in this way already.", code="linked_already")
    if kind == K.RECURRENCE and target.occurred_at > source.occurred_at:
        raise Refused("A recurrence can't come before what recurs.", code="recurrence_before")
    if kind == K.DUPLICATE:
        if standing.filter(source=source).exists():
            raise Refused("This is a duplicate of another one already.", code="duplicate_already")
        _check_no_circle(source, target)


def _check_no_circle(source: Anomaly, target: Anomaly) -> None:
    duplicates = AnomalyLink.objects.standing().filter(kind=K.DUPLICATE)
    original: int | None = target.pk
    while original is not None:
        if original == source.pk:
            raise Refused("That one is a duplicate of this one.", code="duplicate_circle")
        original = duplicates.filter(source_id=original).values_list("target_id", flat=True).first()
