"""The minutes, made from the ledger between the entries that opened and ended the meeting.

What records held is taken from the ledger too, so minutes read the same however much was changed afterwards.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from anomalies.models import BoardMeeting, Concurrence, Finding, LedgerEntry, MeetingAttendance, MeetingDecision
from anomalies.people import name_of
from anomalies.reads.meetings.sentences import PARTS, TELLERS, Names, Part, tell
from anomalies.states import MeetingState
from config.kit.errors import WrongState
from config.kit.permissions import Actor

NOT_OPENED = "There are no minutes before the meeting is opened."
CAUTION = (
    "Made from the ledger: everything of these kinds that was recorded while the meeting was open, by whomever. "
    "What was said and not recorded isn't in it."
)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that was done. `reason` is what was given for it; `outside`: its doer wasn't at the meeting."""

    sequence: int
    at: datetime
    part: str
    text: str
    reason: str
    who: str
    kind: str
    key: int
    outside: bool


@dataclass(frozen=True, slots=True)
class Chapter:
    """Lines of one part, in the order of time."""

    part: Part
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Minutes:
    """All that a meeting did; `until` is None while it's under way.

    absent          expected, and not there; nobody before the meeting has ended
    beside          other meetings that were open at the same time: their minutes hold the same lines
    """

    meeting: BoardMeeting
    since: datetime
    until: datetime | None
    expected: tuple[str, ...]
    there: tuple[str, ...]
    absent: tuple[str, ...]
    decisions: tuple[MeetingDecision, ...]
    lines: tuple[Line, ...]
    beside: tuple[BoardMeeting, ...]
    caution: str = CAUTION

    def chapters_for(self, actor: Actor) -> list[Chapter]:
        """Return what the person may read, by part; parts in which nothing was done are left out."""
        found = (Chapter(part, tuple(row for row in self.lines if row.part == part.name)) for part in PARTS)
        return [chapter for chapter in found if chapter.lines and chapter.part.suits(actor)]


def read_minutes(meeting: BoardMeeting) -> Minutes:
    """Return the minutes so far, or of all of the meeting; raises WrongState before it's opened."""
    if meeting.opened_at is None:
        raise WrongState(NOT_OPENED)
    rows = list(meeting.attendances.select_related("person").order_by("person__last_name", "person__username"))
    presence = {name: [row for row in rows if row.presence == name] for name in MeetingAttendance.Presence.values}
    came = {row.person_id for row in presence["there"]} if meeting.state == MeetingState.HELD else None
    decisions = meeting.decisions.select_related("anomaly", "recorded_by", "meeting").order_by("pk")
    return Minutes(
        meeting,
        meeting.opened_at,
        meeting.ended_at,
        tuple(name_of(row.person) for row in rows if row.active),
        tuple(name_of(row.person) for row in presence["there"]),
        tuple(name_of(row.person) for row in presence["absent"]),
        tuple(decisions),
        tuple(_read_lines(meeting, came)),
        tuple(_find_beside(meeting)),
    )


def _read_lines(meeting: BoardMeeting, came: set[int] | None) -> list[Line]:
    wanted = list(_find_entries(meeting))
    if not wanted:
        return []
    chosen, names, lines = {entry.sequence for entry in wanted}, Names(), []
    held: dict[tuple[str, int], dict[str, Any]] = defaultdict(dict)
    for entry in _find_past(wanted):
        now_held = held[entry.kind, entry.record_id]
        for name, (_, after) in entry.changes.items():
            now_held.pop(name, None)
            if after is not None:
                now_held[name] = after
        if entry.sequence in chosen:
            about = held[Finding.KIND, now_held.get("finding_id", 0)]
            told = tell(entry, now_held, about, names)
            who = name_of(entry.actor) if entry.actor else entry.actor_name
            outside = came is not None and entry.actor_id not in came
            lines.append(
                Line(entry.sequence, entry.at, told.part, told.text, entry.reason, who, told.kind, told.key, outside)
            )
    return lines


def _find_entries(meeting: BoardMeeting) -> Any:
    own = dict(LedgerEntry.objects.of(meeting.KIND, meeting.pk).values_list("action", "sequence"))
    rows = LedgerEntry.objects.filter(sequence__gt=own["board_meeting.open"], action__in=TELLERS)
    if "board_meeting.end" in own:
        rows = rows.filter(sequence__lt=own["board_meeting.end"])
    return rows.order_by("sequence")


def _find_past(wanted: Sequence[LedgerEntry]) -> Any:
    """Return all entries of the records concerned, and of findings that a position is on, up to the last."""
    keys: dict[str, set[int]] = defaultdict(set)
    for entry in wanted:
        keys[entry.kind].add(entry.record_id)
    taken = Concurrence.objects.filter(pk__in=keys[Concurrence.KIND])
    keys[Finding.KIND].update(taken.values_list("finding_id", flat=True))
    concerned = Q(pk__in=())
    for kind, ids in keys.items():
        concerned |= Q(kind=kind, record_id__in=ids)
    rows = LedgerEntry.objects.filter(concerned, sequence__lte=wanted[-1].sequence)
    return rows.select_related("actor").order_by("sequence")


def _find_beside(meeting: BoardMeeting) -> Any:
    others = BoardMeeting.objects.filter(opened_at__isnull=False).exclude(pk=meeting.pk)
    others = others.filter(Q(ended_at__isnull=True) | Q(ended_at__gt=meeting.opened_at))
    return others.filter(opened_at__lt=meeting.ended_at) if meeting.ended_at else others
