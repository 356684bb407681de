"""The whole list of an activity, with its waivers; and what changed since it was last noted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from anomalies.clock import now
from anomalies.models import Activity, ReadinessReview, Waiver
from anomalies.reads.readiness.item import ACCEPTED, GROUPS, MET, OPEN, Item
from anomalies.reads.readiness.people import find_conditions, find_reading, find_requirements
from anomalies.reads.readiness.scope import Scope, read_scope
from anomalies.reads.readiness.troubles import find_anomalies, find_constraints
from anomalies.reads.readiness.work import find_actions, find_hardware, find_retests
from anomalies.states import ReviewState
from config.kit.canonical import hash_canonical

Noted = Mapping[str, "list[str]"]
"""Key of item -> its standing, the mark of what shows it, and its title."""


@dataclass(frozen=True, slots=True)
class Group:
    """Items of one kind, those that are open first."""

    name: str
    kind: str
    items: tuple[Item, ...]

    @property
    def open(self) -> int:
        """How many are open."""
        return sum(item.is_open for item in self.items)


@dataclass(frozen=True)  # without slots: it remembers what it has worked out
class Checklist:
    """Every item of an activity, at one moment."""

    scope: Scope
    items: tuple[Item, ...]

    @cached_property
    def open(self) -> tuple[Item, ...]:
        """Those that are neither met nor accepted."""
        return tuple(item for item in self.items if item.is_open)

    @cached_property
    def by_key(self) -> dict[str, Item]:
        """Every item by its key."""
        return {item.key: item for item in self.items}

    @property
    def counts(self) -> dict[str, int]:
        """How many stand how."""
        return {each: sum(item.standing == each for item in self.items) for each in (OPEN, ACCEPTED, MET)}

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """All items by kind; kinds without any are left out."""
        order = {OPEN: 0, ACCEPTED: 1, MET: 2}
        found = (
            Group(name, kind, tuple(sorted(self._of(kind), key=lambda item: order[item.standing])))
            for kind, name in GROUPS.items()
        )
        return tuple(group for group in found if group.items)

    def _of(self, kind: str) -> list[Item]:
        return [item for item in self.items if item.kind == kind]

    @cached_property
    def noted(self) -> dict[str, list[str]]:
        """What a review keeps of it."""
        return {item.key: [item.standing, item.mark, item.title] for item in self.items}

    @cached_property
    def hash(self) -> str:
        """SHA-256 of what a review keeps of it: by this a form knows that the list is the one that was read."""
        return hash_canonical(self.noted)


def read_checklist(activity: Activity, review: ReadinessReview | None = None) -> Checklist:
    """Return the list as the records have it now."""
    scope = read_scope(activity)
    found = [
        *find_anomalies(scope),
        *find_constraints(scope),
        *find_actions(scope),
        *find_retests(scope),
        *find_hardware(scope),
        *find_reading(scope),
        *find_requirements(scope),
        *find_conditions(review),
    ]
    waivers = _find_waivers(activity)
    return Checklist(scope, tuple(_accept(item, waivers.get(item.key), activity) for item in found))


def _find_waivers(activity: Activity) -> dict[str, Waiver]:
    """Return key of item -> the waiver that holds longest."""
    rows = Waiver.objects.holding(activity).select_related("granted_by", "anomaly", "activity")
    return {row.item: row for row in rows.order_by("expires_at", "pk")}


def _accept(item: Item, waiver: Waiver | None, activity: Activity) -> Item:
    if waiver is None or not item.is_open:
        return item
    end = f"{waiver.expires_at:%Y-%m-%d %H:%M} UTC"
    if waiver.mark != item.mark:
        return replace(
            item, because=f"{item.because} It isn't any more what the waiver of {end} accepted.", waiver=waiver
        )
    if waiver.expires_at <= now():
        return replace(item, because=f"{item.because} Its waiver expired on {end}.", waiver=waiver)
    if waiver.expires_at < activity.planned_end:
        because = f"{item.because} Its waiver expires on {end}, before the activity ends."
        return replace(item, because=because, waiver=waiver)
    because = f"Accepted until {end}: {waiver.reason}"
    return replace(item, standing=ACCEPTED, because=because, mark=f"waiver {waiver.pk}", waiver=waiver)


WORDS = {MET: "met", OPEN: "open", ACCEPTED: "accepted"}


@dataclass(frozen=True, slots=True)
class Shift:
    """One item that isn't as it was noted; `was` and `isn` are its standings, "" where it wasn't or isn't asked."""

    title: str
    was: str
    isn: str

    @property
    def worse(self) -> bool:
        """It is open now, and wasn't."""
        return self.isn == OPEN != self.was

    @property
    def overtakes(self) -> bool:
        """A go that was given before has to be given anew: it's worse, or rests on something else."""
        return self.worse or (self.was == self.isn != OPEN)

    @property
    def text(self) -> str:
        """The change as a sentence."""
        if not self.was:
            return f"New, {WORDS[self.isn]}: {self.title}"
        if not self.isn:
            return f"No longer asked: {self.title}"
        if self.was != self.isn:
            return f"Was {WORDS[self.was]}, is {WORDS[self.isn]}: {self.title}"
        return f"Still {WORDS[self.isn]}, for another reason: {self.title}"


def compare(before: Noted, after: Noted) -> list[Shift]:
    """Return what changed between two states of a list; what got worse first."""
    return sorted(_compare(before, after), key=lambda shift: not shift.worse)


def _compare(before: Noted, after: Noted) -> Iterator[Shift]:
    for key in sorted(before.keys() | after.keys()):
        was, isn = before.get(key), after.get(key)
        if was is None or isn is None:
            row = was or isn or ["", "", ""]
            yield Shift(row[2], was[0] if was else "", isn[0] if isn else "")
        elif was[:2] != isn[:2]:
            yield Shift(isn[2], was[0], isn[0])


def is_stale(review: ReadinessReview | None, found: Checklist) -> bool:
    """Tell whether a verdict was signed for a list that isn't so any more."""
    if review is None or review.state != ReviewState.SIGNED:
        return False
    return bool(review.stale_since or compare(review.noted, found.noted))


def find_overtaking(before: Noted, after: Noted) -> list[str]:
    """Return what changed so that a go given on `before` has to be given anew, in sentences.

    What was mended since doesn't overtake it; nor do conditions, which positions made of theirs.
    """
    return [shift.text for shift in compare(_leave_conditions(before), _leave_conditions(after)) if shift.overtakes]


def _leave_conditions(noted: Noted) -> Noted:
    return {key: row for key, row in noted.items() if not key.startswith("condition-")}
