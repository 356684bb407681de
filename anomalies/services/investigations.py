"""Writes of investigations: opened on a tree of their own, kept in step with it, concluded, resumed.

Every change of what is known gives the investigation a new version: who judges on figures that are no longer those on
the screen is told so.
"""

from __future__ import annotations

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import Anomaly, Investigation
from anomalies.reads.known import is_possible, list_decided
from anomalies.services.checks import ask_first, begin_move, clean_values, need_text
from anomalies.services.ledger import change_record, check_version, create_record
from anomalies.states import ANOMALY, INVESTIGATION
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require
from faulttree.facade import TreeRevision, copy_tree, find_newest, find_revision, read_parts

NO_REVISION = "There's no such revision of a tree."
NO_TOP = "This tree has no such gate. Choose the one that says what happened."
NO_TIME = "Probabilities of this tree depend on the mission time: give it, in hours."
NEGATIVE = "A mission time is 0 hours or more."
NO_CONCLUSION = "Say in a few sentences what the tree showed: what it was, and what it was not."
IS_GIVEN = "{top} is what happened: that is given. Choose what is below it."
WHY = "Say why."
MOST_NAMED = 20


@transaction.atomic
def open_investigation(
    *, anomaly_id: int, actor: User, revision_id: int, top: str, mission_time: float | None = None
) -> Investigation:
    """The anomaly is investigated by a copy of a tree; its top event is what happened."""
    ask_first(actor, "investigation.open", Anomaly.objects.all(), anomaly_id)
    anomaly = Anomaly.objects.lock(anomaly_id)
    require(actor, "investigation.open", anomaly)
    begin_move(anomaly, ANOMALY, "investigate", actor)
    if Investigation.objects.filter(anomaly=anomaly).exists():
        raise Refused(f"{anomaly.number} is investigated by a tree already.", code="opened_already")
    origin = find_revision(revision_id)
    if origin is None:
        raise BadInput(NO_REVISION, code="not_there", fields={"revision_id": [NO_REVISION]})
    if top not in origin.tops and not _has_gate(origin, top):
        raise BadInput(NO_TOP, code="no_gate", fields={"top": [NO_TOP]})
    _check_time(mission_time, needed=origin.uses_mission_time)
    label = f"{origin.tree.label or origin.tree.name} · {anomaly.number}"
    copied = copy_tree(actor=actor, revision_id=origin.pk, name=f"{origin.tree.name}-{anomaly.number}", label=label)
    investigation = Investigation(
        anomaly=anomaly,
        tree_id=copied.tree_id,
        revision_id=copied.pk,
        origin_id=origin.pk,
        top=top,
        mission_time=mission_time,
        opened_by=actor,
        opened_at=now(),
    )
    create_record(investigation, actor=actor, action="investigation.open")
    return investigation


@transaction.atomic
def set_mission_time(*, investigation_id: int, actor: User, version: int, mission_time: float | None) -> Investigation:
    """Probabilities are taken at another mission time, hours."""
    investigation = lock_investigation(investigation_id)
    begin_move(investigation, INVESTIGATION, "set_time", actor)
    check_version(investigation, seen=version, changes={"mission_time": mission_time})
    _check_time(mission_time, needed=investigation.revision.uses_mission_time)
    values = clean_values(investigation, {"mission_time": mission_time}, ("mission_time",))
    change_record(investigation, values, actor=actor, action="investigation.set_time")
    return investigation


@transaction.atomic
def take_up_revision(*, investigation_id: int, actor: User, version: int) -> Investigation:
    """The newest revision of the investigation's own tree is in use; dispositions of events that are gone stay."""
    investigation = lock_investigation(investigation_id)
    begin_move(investigation, INVESTIGATION, "take_up", actor)
    check_version(investigation, seen=version, changes={})
    newest = find_newest(investigation.tree_id)
    if newest is None or newest.pk == investigation.revision_id:
        raise Refused("The newest revision of its tree is in use already.", code="newest_already")
    if not _has_gate(newest, investigation.top):
        message = f"Revision {newest.number} has no gate {investigation.top}: put it back, what happened must stay."
        raise Refused(message, code="no_top")
    if newest.uses_mission_time and investigation.mission_time is None:
        raise Refused(f"{NO_TIME} Set it first, then take up the revision.", code="no_time")
    reason = f"Revision {newest.number} of {newest.tree.name}."
    change_record(investigation, {"revision_id": newest.pk}, actor=actor, action="investigation.take_up", reason=reason)
    return investigation


@transaction.atomic
def conclude_investigation(*, investigation_id: int, actor: User, version: int, conclusion: str) -> Investigation:
    """The work on the tree is over: every event has a disposition, or lies under gates that have one."""
    investigation = lock_investigation(investigation_id)
    move = begin_move(investigation, INVESTIGATION, "conclude", actor)
    check_version(investigation, seen=version, changes={})
    conclusion = need_text("conclusion", conclusion, NO_CONCLUSION)
    gaps = find_conclusion_gaps(investigation)
    if gaps:
        raise Missing("The investigation can't be concluded yet.", gaps, code="something_open")
    changes = {"conclusion": conclusion, "concluded_by_id": actor.pk, "concluded_at": now(), "state": move.target}
    change_record(investigation, changes, actor=actor, action="investigation.conclude")
    return investigation


@transaction.atomic
def resume_investigation(*, investigation_id: int, actor: User, reason: str) -> Investigation:
    """The tree is worked on again; what was concluded stays on record."""
    investigation = lock_investigation(investigation_id)
    move = begin_move(investigation, INVESTIGATION, "resume", actor)
    reason = need_text("reason", reason, WHY)
    changes = {"conclusion": "", "concluded_by_id": None, "concluded_at": None, "state": move.target}
    change_record(investigation, changes, actor=actor, action="investigation.resume", reason=reason)
    return investigation


def find_conclusion_gaps(investigation: Investigation) -> list[Gap]:
    """Return what keeps an investigation from being concluded: undecided events, and evidence that can't all hold."""
    parts = read_parts(investigation.revision, investigation.top)
    waiting = parts.find_open(list_decided(investigation, parts))
    gaps = [
        Gap(f"{part.name} has no disposition.", investigation.KIND, investigation.pk) for part in waiting[:MOST_NAMED]
    ]
    if len(waiting) > MOST_NAMED:
        text = f"{len(waiting) - MOST_NAMED:,} more events have no disposition."
        gaps.append(Gap(text, investigation.KIND, investigation.pk))
    if not is_possible(investigation):
        text = "What is known can't all be true together with what happened: the page names the smallest conflict."
        gaps.append(Gap(text, investigation.KIND, investigation.pk))
    return gaps


def lock_investigation(investigation_id: int) -> Investigation:
    """Return the investigation, locked after its anomaly, which mustn't be closed meanwhile."""
    anomaly = Anomaly.objects.lock(Investigation.objects.values_list("anomaly_id", flat=True).get(pk=investigation_id))
    investigation = Investigation.objects.lock(investigation_id)
    investigation.anomaly = anomaly
    return investigation


def note_news(investigation: Investigation, actor: User, action: str) -> None:
    """Give the locked investigation a new version: what is known is different."""
    change_record(investigation, {}, actor=actor, action=action)


def need_event(investigation: Investigation, event: str, *, field: str = "event") -> str:
    """Return the name of a basic event or gate below the top of the tree in use; raises BadInput on the field."""
    name = event.strip()
    if name == investigation.top:
        message = IS_GIVEN.format(top=name)
        raise BadInput(message, code="top_event", fields={field: [message]})
    if name not in read_parts(investigation.revision, investigation.top).by_name:
        message = f"The tree of this investigation has no event or gate “{name[:80]}” below {investigation.top}."
        raise BadInput(message, code="unknown_event", fields={field: [message]})
    return name


def _has_gate(revision: TreeRevision, top: str) -> bool:
    part = read_parts(revision, top).by_name.get(top)
    return part is not None and part.is_gate


def _check_time(hours: float | None, *, needed: bool) -> None:
    if hours is None and needed:
        raise BadInput(NO_TIME, code="no_time", fields={"mission_time": [NO_TIME]})
    if hours is not None and not 0 <= hours < float("inf"):
        raise BadInput(NEGATIVE, code="bad_time", fields={"mission_time": [NEGATIVE]})
