"""Writes of causes: stated, tied to findings, evidence and basic events, and judged."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import Anomaly, Cause, CauseEvidence, CauseFinding, Evidence, Finding
from anomalies.services.checks import begin_move, clean_values, need_text
from anomalies.services.editing import attach, detach, edit_fields
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.states import ANOMALY, CAUSE, EvidenceState, FindingState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require
from faulttree.facade import tree_has_event

FIELDS = ("kind", "statement", "parent_id", "tree_id", "event_code")
NO_RATIONALE = "Say why: on what does this judgement stand?"
NOT_HERE = "This cause belongs to another anomaly."
NOT_OURS = "One of these belongs to another anomaly, or was withdrawn."
NO_EVENT = "The newest revision of this tree has no such event."
NO_TREE = "Choose the tree that has this event."
MOST_LEVELS = 25
TOO_DEEP = f"More than {MOST_LEVELS} causes would hang below each other: say it in fewer steps."
WHY = "Say why."


@transaction.atomic
def state_cause(
    *, anomaly_id: int, actor: User, kind: str, statement: str, finding_ids: Sequence[int] = (), **details: Any
) -> Cause:
    """The anomaly has one more possible cause; `details` may give parent_id, tree_id and event_code."""
    anomaly = Anomaly.objects.lock(anomaly_id)
    require(actor, "cause.state", anomaly)
    begin_move(anomaly, ANOMALY, "investigate", actor)
    values = clean_values(Cause(), {"kind": kind, "statement": statement} | details, FIELDS)
    last = anomaly.causes.aggregate(last=Max("position"))["last"] or 0
    cause = Cause(**values, anomaly=anomaly, position=last + 1, author=actor)
    _check(cause)
    create_record(cause, actor=actor, action="cause.state")
    _set_findings(cause, finding_ids, actor)
    return cause


@transaction.atomic
def edit_cause(*, cause_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> Cause:
    """The cause is put otherwise, or hangs elsewhere in the why-chain; raises EditConflict."""
    cause = _lock(cause_id)
    changed = edit_fields(cause, CAUSE, actor=actor, version=version, changes=changes, allowed=FIELDS)
    draft = copy(cause)
    for name, value in changed.items():
        setattr(draft, name, value)
    _check(draft)
    if changed:
        change_record(cause, changed, actor=actor, action="cause.edit")
    return cause


@transaction.atomic
def rest_cause_on(*, cause_id: int, actor: User, version: int, finding_ids: Sequence[int]) -> Cause:
    """The open cause rests on these findings and no others; raises EditConflict."""
    cause = _lock(cause_id)
    begin_move(cause, CAUSE, "edit", actor)
    check_version(cause, seen=version, changes={})
    if _set_findings(cause, finding_ids, actor):
        change_record(cause, {}, actor=actor, action="cause.rest_on")  # a version of its own, to be noticed
    return cause


@transaction.atomic
def find_cause_credible(
    *, cause_id: int, actor: User, version: int, rationale: str, evidence_ids: Sequence[int] = ()
) -> Cause:
    """The cause is credible: it can't be ruled out, nor is it confirmed."""
    return _judge(cause_id, "find_credible", actor, version, rationale, evidence_ids)


@transaction.atomic
def rule_out_cause(
    *, cause_id: int, actor: User, version: int, rationale: str, evidence_ids: Sequence[int] = ()
) -> Cause:
    """It was not this cause."""
    return _judge(cause_id, "rule_out", actor, version, rationale, evidence_ids)


@transaction.atomic
def confirm_cause(
    *, cause_id: int, actor: User, version: int, rationale: str, evidence_ids: Sequence[int] = ()
) -> Cause:
    """It was this cause."""
    return _judge(cause_id, "confirm", actor, version, rationale, evidence_ids)


@transaction.atomic
def reconsider_cause(*, cause_id: int, actor: User, reason: str) -> Cause:
    """The cause is open again; the judgement stays on record."""
    cause = _lock(cause_id)
    move = begin_move(cause, CAUSE, "reconsider", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"state": move.target, "rationale": "", "judged_by_id": None, "judged_at": None}
    change_record(cause, changes, actor=actor, action="cause.reconsider", reason=reason)
    return cause


def _judge(cause_id: int, name: str, actor: User, version: int, rationale: str, evidence_ids: Sequence[int]) -> Cause:
    cause = _lock(cause_id)
    move = begin_move(cause, CAUSE, name, actor)
    rationale = need_text("rationale", rationale, NO_RATIONALE)
    check_version(cause, seen=version, changes={})
    if evidence_ids:
        _check_ours(Evidence.objects.held(), cause, evidence_ids, "evidence_ids")
        _set(CauseEvidence, cause, "evidence_id", evidence_ids, actor, "evidence")
    _need_support(cause)
    changes = {"state": move.target, "rationale": rationale, "judged_by_id": actor.pk, "judged_at": now()}
    change_record(cause, changes, actor=actor, action=f"cause.{name}", reason=rationale)
    return cause


def _need_support(cause: Cause) -> None:
    adopted = cause.rests_on.filter(active=True, finding__state=FindingState.ADOPTED).exists()
    if adopted or cause.judged_on.filter(active=True, evidence__state=EvidenceState.HELD).exists():
        return
    text = (
        f"{cause.label} rests on no adopted finding and no evidence: name evidence, or let the board adopt a finding."
    )
    raise Missing("A judgement needs something to stand on.", [Gap(text, cause.KIND, cause.pk)], code="no_support")


def _set_findings(cause: Cause, finding_ids: Sequence[int], actor: User) -> bool:
    _check_ours(Finding.objects.standing(), cause, finding_ids, "finding_ids")
    return _set(CauseFinding, cause, "finding_id", finding_ids, actor, "finding")


def _set(
    model: type[CauseFinding | CauseEvidence], cause: Cause, name: str, wanted: Sequence[int], actor: User, what: str
) -> bool:
    """Let the cause have these rows and no others; tells whether any changed."""
    rows: Any = model._base_manager.filter(cause_id=cause.pk, active=True)
    before = set(rows.values_list(name, flat=True))
    for key in sorted(before - set(wanted)):
        detach(model, actor=actor, action=f"cause.remove_{what}", cause_id=cause.pk, **{name: key})
    for key in sorted(set(wanted) - before):
        attach(model, actor=actor, action=f"cause.add_{what}", cause_id=cause.pk, **{name: key})
    return before != set(wanted)


def _check_ours(rows: Any, cause: Cause, keys: Sequence[int], field: str) -> None:
    if rows.filter(anomaly=cause.anomaly_id, pk__in=keys).count() != len(set(keys)):
        raise BadInput(NOT_OURS, code="not_ours", fields={field: [NOT_OURS]})


def _check(cause: Cause) -> None:
    """Check the place in the why-chain and the event it stands for."""
    if cause.parent_id is not None:
        _check_chain(cause)
    if cause.event_code and cause.tree_id is None:
        raise BadInput(NO_TREE, code="no_tree", fields={"tree_id": [NO_TREE]})
    if cause.event_code and not tree_has_event(cause.tree_id or 0, cause.event_code):
        raise BadInput(NO_EVENT, code="unknown_event", fields={"event_code": [NO_EVENT]})


def _check_chain(cause: Cause) -> None:
    """Check that the cause hangs on one of the same anomaly, in no circle, and that no chain gets too long."""
    above = dict(Cause.objects.filter(anomaly=cause.anomaly_id).values_list("pk", "parent_id"))
    if cause.parent_id not in above:
        raise BadInput(NOT_HERE, code="not_ours", fields={"parent_id": [NOT_HERE]})
    here = cause.pk or 0  # one that is just being stated has no key yet
    above[here] = cause.parent_id
    if here in _climb(above, here):
        raise Refused("A cause can't be its own cause, whatever lies between.", code="cause_circle")
    if any(len(_climb(above, key)) >= MOST_LEVELS for key in above):
        raise BadInput(TOO_DEEP, code="too_deep", fields={"parent_id": [TOO_DEEP]})


def _climb(above: Mapping[int, int | None], key: int) -> list[int]:
    """Return the causes above one, nearest first, as far as MOST_LEVELS."""
    way: list[int] = []
    up = above[key]
    while up is not None and len(way) < MOST_LEVELS:
        way, up = [*way, up], above[up]
    return way


def _lock(cause_id: int) -> Cause:
    """Lock the anomaly first: it mustn't be closed meanwhile."""
    anomaly = Anomaly.objects.lock(Cause.objects.values_list("anomaly_id", flat=True).get(pk=cause_id))
    cause = Cause.objects.lock(cause_id)
    cause.anomaly = anomaly
    return cause
