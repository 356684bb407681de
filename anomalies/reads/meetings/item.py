"""What an agenda is made of: items, each with its record, what is asked of the board, and who owes it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from anomalies.people import name_of
from config.kit.permissions import Actor, allows

MOST_NAMES = 4


@dataclass(frozen=True, slots=True)
class Kind:
    """A group of items: its heading, what is said where there are none, and the rule that its readers need."""

    name: str
    head: str
    none: str
    rule: str


KINDS = (
    Kind("screening", "Awaiting screening", "No report awaits screening.", "anomaly.view"),
    Kind("unexplained", "Open, with no cause confirmed", "Every open anomaly has its cause.", "anomaly.view"),
    Kind("finding", "Findings before the board", "No finding is before the board.", "anomaly.view"),
    Kind("cause", "Causes not judged", "Every cause is judged.", "anomaly.view"),
    Kind("action", "Actions overdue or awaiting verification", "No action is overdue or unverified.", "action.view"),
    Kind("closure", "Closures", "No anomaly is near its closure.", "anomaly.view"),
    Kind("waiver", "Waivers that expire soon", "No waiver expires soon.", "activity.view"),
    Kind("review", "Readiness reviews", "No review is under way or stale.", "readiness_review.view"),
)


@dataclass(frozen=True, slots=True)
class Item:
    """One item. The record is named by kind, key, version and content hash, so that a kept agenda stands by itself.

    about       what the record is: its number or label, and its title
    asked       what is asked of the board, as a sentence
    owed_by     who owes it; "" where nobody is named
    """

    group: str
    about: str
    asked: str
    owed_by: str
    kind: str
    key: int
    version: int
    content_hash: str

    @property
    def mark(self) -> tuple[str, str, int]:
        """What it's known by: on the same agenda no other item has it."""
        return (self.group, self.kind, self.key)


@dataclass(frozen=True, slots=True)
class Group:
    """Items of one kind."""

    kind: Kind
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Agenda:
    """All items at one moment."""

    at: datetime
    items: tuple[Item, ...]

    def groups_for(self, actor: Actor) -> list[Group]:
        """Return the groups that the person may read; those without items too, which say so."""
        found = (Group(kind, tuple(each for each in self.items if each.group == kind.name)) for kind in KINDS)
        return [group for group in found if allows(actor, group.kind.rule)]

    def without(self, other: Agenda) -> Agenda:
        """Return what isn't on another agenda any more, or not yet."""
        there = {item.mark for item in other.items}
        return Agenda(self.at, tuple(item for item in self.items if item.mark not in there))


def make_item(group: str, record: Any, asked: str, owed_by: str, *, about: str = "") -> Item:
    """Return the item of a record as it is now."""
    named = about or str(record)
    return Item(group, named, asked, owed_by, record.KIND, record.pk, record.version, record.content_hash())


def list_names(people: Iterable[Any], *, nobody: str = "") -> str:
    """Return the names with commas; of many only some, and how many others there are."""
    names = [name_of(each) for each in people]
    if len(names) > MOST_NAMES:
        return f"{', '.join(names[:MOST_NAMES])} and {len(names) - MOST_NAMES} more"
    return ", ".join(names) or nobody
