"""Writes of learning: failure modes, what occurred of them, and values that experience proposes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import Anomaly, FailureMode, Occurrence, ParameterUpdate
from anomalies.reads.exposure import COUNTED
from anomalies.reads.learning import TAKEN_BACK, count_experience
from anomalies.services.checks import ask_first, begin_move, clean_text, clean_values, need_text
from anomalies.services.editing import detach
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.services.numbers import hold_series
from anomalies.states import PARAMETER_UPDATE
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require
from faulttree.facade import (
    check_unit,
    find_quantity,
    make_prior,
    make_update,
    read_shared,
    take_value,
    write_update,
)

FIELDS = ("hardware_type_id", "code", "name", "measure", "item_id")
CODE_TAKEN = "This code is already here."
NOT_COUNTED = "Only a reported, open or closed anomaly is an occurrence of something."
NAMED_ALREADY = "The anomaly names this failure mode already."
NOT_NAMED = "The anomaly doesn't name this failure mode."
AT_LEAST_ONE = "Give 1 or more."
NO_ITEM = "This failure mode informs nothing of the library yet: choose the parameter or event first."
NOTHING_NEW = "There's no exposure since the last update, so there's nothing to learn from yet."
WAITING = "A proposal for this value waits already: accept or refuse it first."
NO_DECISION = "Say why: a number that trees rest on changes by it, or doesn't."
MOVED_ON = "The library has another value by now (data set {number}) than the proposal rests on ({seen}). Withdraw it."


@transaction.atomic
def add_failure_mode(
    *, actor: User, hardware_type_id: int, code: str, name: str, measure: str, item_id: int | None = None
) -> FailureMode:
    """A way to fail is on the list, with the measure of its exposure and the shared value that it informs."""
    require(actor, "failure_mode.add")
    given = dict(zip(FIELDS, (hardware_type_id, code, name, measure, item_id), strict=True))
    values = clean_values(FailureMode(), given, FIELDS)
    hold_series("failure modes")
    _check_mode(values, None)
    mode = FailureMode(**values)
    create_record(mode, actor=actor, action="failure_mode.add")
    return mode


@transaction.atomic
def edit_failure_mode(*, failure_mode_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> FailureMode:
    """The failure mode is put otherwise; raises EditConflict."""
    ask_first(actor, "failure_mode.edit", FailureMode.objects.all(), failure_mode_id)
    hold_series("failure modes")
    mode = FailureMode.objects.lock(failure_mode_id)
    values = clean_values(mode, changes, FIELDS)
    check_version(mode, seen=version, changes=values)
    changed = {name: value for name, value in values.items() if getattr(mode, name) != value}
    _check_mode({name: getattr(mode, name) for name in FIELDS} | changed, mode.pk)
    if changed:
        change_record(mode, changed, actor=actor, action="failure_mode.edit")
    return mode


@transaction.atomic
def name_failure_mode(
    *, anomaly_id: int, actor: User, failure_mode_id: int, count: int = 1, note: str = ""
) -> Occurrence:
    """The anomaly is so many occurrences of the failure mode."""
    ask_first(actor, "occurrence.name", Anomaly.objects.all(), anomaly_id)
    anomaly = Anomaly.objects.lock(anomaly_id)
    if anomaly.state not in COUNTED:
        raise Refused(NOT_COUNTED, code="not_counted")
    given = {"failure_mode_id": failure_mode_id, "count": count, "note": note}
    values = clean_values(Occurrence(), given, tuple(given))
    if values["count"] < 1:
        raise BadInput(AT_LEAST_ONE, code="at_least_one", fields={"count": [AT_LEAST_ONE]})
    row = Occurrence.objects.filter(anomaly=anomaly, failure_mode=values["failure_mode_id"]).first()
    if row is None:
        row = Occurrence(anomaly=anomaly, **values)
        create_record(row, actor=actor, action="occurrence.name")
        return row
    if row.active:
        raise BadInput(NAMED_ALREADY, code="named_already", fields={"failure_mode_id": [NAMED_ALREADY]})
    row = Occurrence.objects.lock(row.pk)
    changes = {"count": values["count"], "note": values["note"], "active": True}
    change_record(row, changes, actor=actor, action="occurrence.name")
    return row


@transaction.atomic
def take_back_failure_mode(*, anomaly_id: int, actor: User, failure_mode_id: int) -> Anomaly:
    """The anomaly isn't an occurrence of the failure mode any more."""
    ask_first(actor, "occurrence.name", Anomaly.objects.all(), anomaly_id)
    anomaly = Anomaly.objects.lock(anomaly_id)
    keys = {"anomaly_id": anomaly.pk, "failure_mode_id": failure_mode_id}
    if not Occurrence.objects.filter(active=True, **keys).exists():
        raise BadInput(NOT_NAMED, code="not_named", fields={"failure_mode_id": [NOT_NAMED]})
    detach(Occurrence, actor=actor, action="occurrence.take_back", **keys)
    return anomaly


@transaction.atomic
def propose_update(
    *,
    failure_mode_id: int,
    actor: User,
    prior: str = "library",
    note: str = "",
    prior_source: str = "",
    numbers: Mapping[str, float | None] | None = None,
) -> ParameterUpdate:
    """What prior and experience give together is proposed for the shared value; nothing of the library changes.

    prior : "library", "jeffreys", "constrained", "gamma", "beta" or "lognormal"; `numbers` as the choice needs them.
    Experience is all that no accepted update has taken in yet (`count_experience`), so that nothing counts twice.
    """
    ask_first(actor, "parameter_update.propose", FailureMode.objects.all(), failure_mode_id)
    mode = FailureMode.objects.lock(failure_mode_id)
    if mode.item_id is None:
        raise BadInput(NO_ITEM, code="no_item", fields={"item_id": [NO_ITEM]})
    if ParameterUpdate.objects.waiting().filter(item=mode.item_id).exists():
        raise Refused(WAITING, code="waiting")
    shared = read_shared(mode.item_id)
    check_unit(shared, mode.measure)
    experience = count_experience(mode)
    if not experience.is_usable:
        raise Refused(TAKEN_BACK if experience.is_late else NOTHING_NEW, code="nothing_new")
    quantity = find_quantity(mode.measure)
    held = make_prior(shared, quantity, prior, dict(numbers or {}))
    updated = make_update(held, quantity, experience.count, experience.amount)
    before, seen, after, expression = write_update(updated)
    row = ParameterUpdate(
        item_id=shared.item_id,
        failure_mode=mode,
        seen=shared.seen,
        prior=before | {"choice": prior},
        prior_source=clean_text("prior_source", prior_source) or shared.source,
        data=seen | experience.to_plain(),
        posterior=after,
        expression=expression,
        note=clean_text("note", note),
        proposed_by=actor,
        proposed_at=now(),
    )
    create_record(row, actor=actor, action="parameter_update.propose")
    return row


@transaction.atomic
def accept_update(*, update_id: int, actor: User, note: str) -> ParameterUpdate:
    """The shared value is the proposed one from a new data set on; refused where it has moved on meanwhile."""
    row = ParameterUpdate.objects.lock(update_id)
    move = begin_move(row, PARAMETER_UPDATE, "accept", actor)
    note = need_text("note", note, NO_DECISION)
    shared = read_shared(row.item_id)
    if shared.seen != row.seen:
        raise Refused(MOVED_ON.format(number=shared.seen, seen=row.seen), code="moved_on")
    source = f"Prior: {row.prior_source} Experience of {row.failure_mode}: {describe_data(row)}"
    data_set = take_value(
        actor=actor, item_id=row.item_id, expression=row.expression, source=source, note=note, seen=row.seen
    )
    changes = {**_decide(actor, note), "data_set_id": data_set.pk, "state": move.target}
    change_record(row, changes, actor=actor, action="parameter_update.accept", reason=note)
    return row


@transaction.atomic
def refuse_update(*, update_id: int, actor: User, note: str) -> ParameterUpdate:
    """The proposal is refused, and says why; the library stays as it is."""
    return _end(update_id, actor, "refuse", note)


@transaction.atomic
def withdraw_update(*, update_id: int, actor: User, note: str) -> ParameterUpdate:
    """The proposal isn't made any more."""
    return _end(update_id, actor, "withdraw", note)


def describe_data(row: ParameterUpdate) -> str:
    """Return what was seen, in words."""
    return f"{row.data['count']} in {row.data['amount']:g} {row.data['measure']}, {row.data['window']}."


def _end(update_id: int, actor: User, name: str, note: str) -> ParameterUpdate:
    row = ParameterUpdate.objects.lock(update_id)
    move = begin_move(row, PARAMETER_UPDATE, name, actor)
    note = need_text("note", note, NO_DECISION)
    changes = {**_decide(actor, note), "state": move.target}
    change_record(row, changes, actor=actor, action=f"parameter_update.{name}", reason=note)
    return row


def _decide(actor: User, note: str) -> dict[str, Any]:
    return {"decided_by_id": actor.pk, "decided_at": now(), "decision_note": note}


def _check_mode(values: Mapping[str, Any], own: int | None) -> None:
    others = FailureMode.objects.filter(code=values["code"])
    if (others if own is None else others.exclude(pk=own)).exists():
        raise BadInput(CODE_TAKEN, code="code_taken", fields={"code": [CODE_TAKEN]})
    if values["item_id"] is not None:
        check_unit(read_shared(values["item_id"]), values["measure"])
