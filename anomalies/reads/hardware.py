"""Hardware as pages show it: what an item is part of, and what is part of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Q

from anomalies.models import HardwareItem, HardwareType
from anomalies.models.hardware import HardwareItemQuerySet
from anomalies.states import HardwareState
from config.kit.addresses import read_choice, read_key, read_text
from config.kit.permissions import Actor

DEEPEST = 20
HEADER = ("part number", "type", "serial number", "state", "location", "installed in")


@dataclass(frozen=True, slots=True)
class Part:
    """An item and its parts."""

    item: HardwareItem
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True)
class HardwareFilter:
    """What a list of hardware shows."""

    words: str = ""
    state: str = ""
    type: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> HardwareFilter:
        """Return what the address asks for; what makes no sense is left out."""
        state = read_choice(query, "state", HardwareState.values)
        return cls(read_text(query), state, read_key(query, "type"))

    @property
    def query(self) -> str:
        """The address of the filter, ending in & unless it's empty."""
        given = {name: getattr(self, name) for name in self.__slots__ if getattr(self, name)}
        return f"{urlencode(given)}&" if given else ""


def find_items(actor: Actor, wanted: HardwareFilter) -> HardwareItemQuerySet:
    """Return the items that the filter lets through."""
    rows = HardwareItem.objects.visible_to(actor)
    if wanted.state:
        rows = rows.filter(state=wanted.state)
    if wanted.type:
        rows = rows.filter(type=int(wanted.type))
    for word in wanted.words.split():
        rows = rows.filter(
            Q(serial_number__icontains=word)
            | Q(type__name__icontains=word)
            | Q(type__part_number__icontains=word)
            | Q(location__icontains=word)
        )
    return rows.select_related("type", "installed_in__type").order_by(
        "type__name", "type__part_number", "serial_number"
    )


def read_parts(item: HardwareItem) -> tuple[Part, ...]:
    """Return what is part of the item, level by level: one query per level."""
    below: dict[int, list[HardwareItem]] = {}
    level = [item.pk]
    for _ in range(DEEPEST):
        rows = list(HardwareItem.objects.filter(installed_in__in=level).select_related("type"))
        if not rows:
            break
        for row in rows:
            below.setdefault(row.installed_in_id or 0, []).append(row)
        level = [row.pk for row in rows]

    def build(key: int) -> tuple[Part, ...]:
        return tuple(Part(row, build(row.pk)) for row in below.get(key, []))

    return build(item.pk)


def read_way_up(item: HardwareItem) -> list[HardwareItem]:
    """Return what the item is part of, the outermost first."""
    way: list[HardwareItem] = []
    key = item.installed_in_id
    while key is not None and len(way) < DEEPEST:
        above = HardwareItem.objects.select_related("type").get(pk=key)
        way.insert(0, above)
        key = above.installed_in_id
    return way


def list_types(actor: Actor) -> list[HardwareType]:
    """Return the types, by name."""
    return list(HardwareType.objects.visible_to(actor).order_by("name", "part_number"))


def write_row(item: HardwareItem) -> list[Any]:
    """Return the cells of HEADER."""
    within = item.installed_in
    return [
        item.type.part_number,
        item.type.name,
        item.serial_number,
        item.get_state_display(),
        item.location,
        f"{within.type.part_number} {within.serial_number}" if within else "",
    ]
