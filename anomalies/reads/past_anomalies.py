"""What an import of past anomalies would do, line by line; nothing is written to find it out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from django.contrib.auth.models import User

from anomalies.models import Activity, Anomaly, HardwareItem
from anomalies.models.anomaly import UNNUMBERED
from anomalies.past_table import SCREENING, Line, read_moment, read_table, read_yes
from anomalies.risk import Probability, Severity
from anomalies.services.anomalies import STORY_FIELDS
from anomalies.services.checks import clean_values, need_past
from config.kit.errors import BadInput
from config.kit.permissions import allows, require

MADE, THERE, FAULT = "made", "there", "fault"
NO_TIME = "“{}” is no time. Write it like 2031-04-05 09:30."
NO_ANSWER = "“{}” is neither yes nor no."
NO_ACTIVITY = "no activity that you may see is called “{}”. Write its title as its page does, or leave the cell empty."
MANY_ACTIVITIES = "{} activities are called “{}”: write # and the number in the address of the right one's page."
NO_ITEM = "there's no item “{}”. Write part number / serial number, or add the item first."
NO_LEAD = "“{}” isn't one person who may lead: write a user name of a board member or a safety engineer."
NO_SEVERITY = "“{}” is none of 1, 2, 3 and 4."
NO_PROBABILITY = "“{}” is none of A, B, C, D and E."
NOT_WHOLE = "is empty: a screening needs severity, probability, rationale and lead; leave all four empty for none."
NO_RIGHT = "you may not screen anomalies: leave severity, probability, rationale and lead empty."
BEYOND = "the line has more cells than the head: put text with separators into double quotes."


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a cell, with its mend."""

    column: str
    text: str


@dataclass(slots=True)
class PlannedRow:
    """What becomes of one line. `story` and `screening` are what the services take; `there` is the same anomaly."""

    line: Line
    story: dict[str, Any] = field(default_factory=dict)
    items: list[HardwareItem] = field(default_factory=list)
    activity: Activity | None = None
    screening: dict[str, Any] = field(default_factory=dict)
    lead: User | None = None
    there: Anomaly | None = None
    twin: int = 0
    faults: list[Fault] = field(default_factory=list)

    @property
    def outcome(self) -> str:
        """Whether it's made, is there already, or has a fault."""
        return FAULT if self.faults else THERE if self.there or self.twin else MADE

    @property
    def series(self) -> str:
        """The series that its number comes from: the year, in UTC, in which it occurred."""
        return f"A-{self.story['occurred_at'].year}"

    @property
    def risk_code(self) -> str:
        """The risk assessment code that it would be screened with."""
        return f"{self.screening['severity']}{self.screening['probability']}" if self.screening else ""


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """Every line with what becomes of it."""

    rows: Sequence[PlannedRow]
    unused: tuple[str, ...]

    def those(self, outcome: str) -> list[PlannedRow]:
        """The lines with this outcome."""
        return [row for row in self.rows if row.outcome == outcome]

    @property
    def made(self) -> list[PlannedRow]:
        """The lines that become anomalies."""
        return self.those(MADE)

    @property
    def there(self) -> list[PlannedRow]:
        """The lines that are skipped."""
        return self.those(THERE)

    @property
    def faulty(self) -> list[PlannedRow]:
        """The lines that must be mended."""
        return self.those(FAULT)

    @property
    def series(self) -> list[str]:
        """The number series of what is made, in the order in which they are locked."""
        return sorted({row.series for row in self.made})


def plan_import(actor: User, table: str) -> ImportPlan:
    """Return what an import would do; raises BadInput where the text isn't a table at all.

    The same anomaly is one with the same title, whatever its case, at the same moment: in the log, or further up in the
    table. Drafts don't count: they are their recorders' own.
    """
    require(actor, "anomaly.report")
    read = read_table(table)
    known = _Known(actor, read.lines)
    rows = [_plan_row(line, known) for line in read.lines]
    _mark_repeated([row for row in rows if not row.faults])
    return ImportPlan(rows, read.unused)


class _Known:
    """What the cells may name, read once for all lines."""

    def __init__(self, actor: User, lines: Sequence[Line]) -> None:
        items = HardwareItem.objects.visible_to(actor).select_related("type")
        self.items = {_key(f"{item.type.part_number}/{item.serial_number}"): item for item in items}
        self.activities: dict[str, list[Activity]] = {}
        for activity in Activity.objects.visible_to(actor):
            self.activities.setdefault(_key(activity.title), []).append(activity)
            self.activities[f"#{activity.pk}"] = [activity]
        self.may_screen = allows(actor, "anomaly.screen", Anomaly())
        self.leads: dict[str, list[User]] = {}
        for person in User.objects.filter(is_active=True) if any(line.cells["lead"] for line in lines) else ():
            if allows(person, "anomaly.lead", Anomaly()):
                for name in {_key(person.get_username()), _key(person.get_full_name())}:
                    self.leads.setdefault(name, []).append(person)


def _key(text: str) -> str:
    return "/".join(part.strip() for part in " ".join(text.split()).casefold().split("/"))


def _plan_row(line: Line, known: _Known) -> PlannedRow:
    row, cells = PlannedRow(line), line.cells
    row.activity = _find_activity(row, cells, known)
    row.items = list(_find_items(row, cells["hardware"], known))
    short = read_yes(cells["activity_cut_short"])
    if short is None:
        row.faults.append(Fault("activity_cut_short", NO_ANSWER.format(cells["activity_cut_short"][:40])))
    given: dict[str, Any] = {name: cells[name] for name in ("title", "description", "place", "immediate_response")}
    given |= {"activity_id": row.activity and row.activity.pk, "activity_cut_short": bool(short)}
    at = read_moment(cells["occurred_at"])
    if at is None:
        row.faults.append(Fault("occurred_at", NO_TIME.format(cells["occurred_at"][:40])))
    else:
        given["occurred_at"] = at
    _clean(row, given)
    if any(cells[name] for name in SCREENING):
        _plan_screening(row, cells, known)
    if line.beyond:
        row.faults.append(Fault("", BEYOND))
    return row


def _clean(row: PlannedRow, given: Mapping[str, Any]) -> None:
    """Hold the story to what the services take, by their own checks."""
    try:
        row.story = clean_values(Anomaly(), given, STORY_FIELDS)
        if "occurred_at" in row.story:
            need_past("occurred_at", row.story["occurred_at"])
    except BadInput as error:
        row.faults += [Fault(name, " ".join(texts)) for name, texts in error.fields.items()]


def _find_activity(row: PlannedRow, cells: Mapping[str, str], known: _Known) -> Activity | None:
    """Return the activity of that title; of several, the one that the moment lies in."""
    name = cells["activity"]
    found = known.activities.get(_key(name), []) if name else []
    if len(found) > 1:
        at = read_moment(cells["occurred_at"])
        during = [each for each in found if at and _began(each) <= at <= _ended(each)]
        found = during if len(during) == 1 else found
    if len(found) == 1:
        return found[0]
    if name:
        text = MANY_ACTIVITIES.format(len(found), name[:80]) if found else NO_ACTIVITY.format(name[:80])
        row.faults.append(Fault("activity", text))
    return None


def _began(activity: Activity) -> datetime:
    return activity.actual_start or activity.planned_start


def _ended(activity: Activity) -> datetime:
    return activity.actual_end or activity.planned_end


def _find_items(row: PlannedRow, cell: str, known: _Known) -> Iterable[HardwareItem]:
    for name in filter(None, (part.strip() for part in cell.split(";"))):
        item = known.items.get(_key(name))
        if item is None:
            row.faults.append(Fault("hardware", NO_ITEM.format(name[:80])))
        else:
            yield item


def _plan_screening(row: PlannedRow, cells: Mapping[str, str], known: _Known) -> None:
    if not known.may_screen:
        row.faults.append(Fault("severity", NO_RIGHT))
        return
    row.faults += [Fault(name, NOT_WHOLE) for name in SCREENING if not cells[name]]
    severity, probability, lead = cells["severity"], cells["probability"].upper(), cells["lead"]
    if severity and severity not in map(str, Severity.values):
        row.faults.append(Fault("severity", NO_SEVERITY.format(severity[:40])))
    if probability and (probability not in Probability.values or probability == Probability.ELIMINATED):
        row.faults.append(Fault("probability", NO_PROBABILITY.format(cells["probability"][:40])))
    people = known.leads.get(_key(lead), [])
    if lead and len(people) != 1:
        row.faults.append(Fault("lead", NO_LEAD.format(lead[:80])))
    if not row.faults:
        row.lead = people[0]
        row.screening = {
            "severity": int(severity),
            "probability": probability,
            "rationale": cells["rationale"],
            "lead_id": people[0].pk,
        }


def _mark_repeated(rows: Sequence[PlannedRow]) -> None:
    if not rows:
        return
    moments = [row.story["occurred_at"] for row in rows]
    logged = Anomaly.objects.exclude(state__in=UNNUMBERED).filter(occurred_at__range=(min(moments), max(moments)))
    there = {(_key(each.title), each.occurred_at.astimezone(UTC)): each for each in logged}
    first: dict[tuple[str, datetime], int] = {}
    for row in rows:
        same = (_key(row.story["title"]), row.story["occurred_at"])
        row.there = there.get(same)
        row.twin = first.setdefault(same, row.line.number) if not row.there else 0
        row.twin = 0 if row.twin == row.line.number else row.twin
