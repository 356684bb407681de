"""Corrective actions as lists and pages show them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.models import User
from django.db.models import F, Q

from anomalies.clock import now
from anomalies.models import Activity, CorrectiveAction
from anomalies.models.action import ActionQuerySet
from anomalies.states import ActionState
from config.kit.addresses import read_choice, read_key, read_text
from config.kit.permissions import Actor

SHOW = {
    "": "Still to be done",
    "overdue": "Overdue",
    "verification": "Awaiting verification",
    "watch": "On watch",
    "settled": "Settled",
    "all": "All",
}
NAMES = ("show", "kind", "owner", "before", "words")
HEADER = (
    "number",
    "title",
    "kind",
    "state",
    "anomaly",
    "owner",
    "due on",
    "needed before",
    "verified by",
    "verified at",
)


@dataclass(frozen=True, slots=True)
class ActionFilter:
    """What a list of actions shows; made from an address, and written as one."""

    show: str = ""
    kind: str = ""
    owner: str = ""
    before: str = ""
    words: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> ActionFilter:
        """Return what the address asks for; what makes no sense is left out."""
        return cls(
            show=read_choice(query, "show", SHOW),
            kind=read_choice(query, "kind", CorrectiveAction.Kind.values),
            owner=read_key(query, "owner"),
            before=read_key(query, "before"),
            words=read_text(query),
        )

    @property
    def query(self) -> str:
        """The address of the filter, ending in & unless it's empty: a parameter may follow."""
        given = {name: getattr(self, name) for name in NAMES if getattr(self, name)}
        return f"{urlencode(given)}&" if given else ""

    @property
    def is_narrow(self) -> bool:
        """Something is filtered, besides what the tabs choose."""
        return any((self.kind, self.owner, self.before, self.words))


def find_actions(actor: Actor, wanted: ActionFilter, today: date | None = None) -> ActionQuerySet:
    """Return the actions that the filter lets through, the most pressing first."""
    day = today or now().astimezone(UTC).date()
    rows = CorrectiveAction.objects.visible_to(actor)
    rows = {
        "": rows.owed,
        "overdue": lambda: rows.overdue(day),
        "verification": rows.awaiting_verification,
        "watch": rows.on_watch,
        "settled": lambda: rows.filter(state__in=(ActionState.VERIFIED, ActionState.EFFECTIVE, ActionState.DROPPED)),
        "all": rows.all,
    }[wanted.show]()
    if wanted.kind:
        rows = rows.filter(kind=wanted.kind)
    if wanted.owner:
        rows = rows.filter(owner=int(wanted.owner))
    if wanted.before:
        rows = rows.filter(needed_before=int(wanted.before))
    for word in wanted.words.split():
        rows = rows.filter(
            Q(number__icontains=word)
            | Q(title__icontains=word)
            | Q(description__icontains=word)
            | Q(anomaly__number__icontains=word)
        )
    return rows.select_related("anomaly", "owner", "verifier", "needed_before").order_by(
        F("due_on").asc(nulls_last=True), "-pk"
    )


def count_tabs(actor: Actor, today: date | None = None) -> list[tuple[str, str, int]]:
    """Return name, label and number of actions of every tab."""
    return [(name, label, find_actions(actor, ActionFilter(name), today).count()) for name, label in SHOW.items()]


def list_owners(actor: Actor) -> list[User]:
    """Return the people who own actions."""
    owned = CorrectiveAction.objects.visible_to(actor).values("owner")
    return list(User.objects.filter(pk__in=owned).order_by("last_name", "username"))


def list_activities(actor: Actor) -> list[Activity]:
    """Return the activities that actions are needed before."""
    needed = CorrectiveAction.objects.visible_to(actor).values("needed_before")
    return list(Activity.objects.filter(pk__in=needed).order_by("-planned_start"))


def write_row(action: CorrectiveAction) -> list[Any]:
    """Return the cells of HEADER."""
    return [
        action.number,
        action.title,
        action.get_kind_display(),
        action.get_state_display(),
        action.anomaly.number,
        action.owner.username if action.owner else None,
        action.due_on.isoformat() if action.due_on else None,
        action.needed_before.title if action.needed_before else None,
        action.verifier.username if action.verifier else None,
        action.verified_at,
    ]
