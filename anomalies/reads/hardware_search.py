"""Hardware found by words: name, part number, serial number."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import Case, IntegerField, Q, Value, When
from django.db.models.functions import Length

from anomalies.models import ActivityHardware, AnomalyHardware, HardwareItem
from anomalies.states import HardwareState
from config.kit.permissions import Actor

MOST = 12


@dataclass(frozen=True, slots=True)
class Found:
    """Items to choose from; `more` tells that there are others that hold the words."""

    items: tuple[HardwareItem, ...]
    more: bool


def find_hardware(actor: Actor, words: str, *, most: int = MOST) -> Found:
    """Return the items that hold every word, those whose serial number is a word first; never retired ones first."""
    asked = words.split()
    if not asked:
        return Found((), False)
    items = HardwareItem.objects.visible_to(actor).select_related("type")
    for word in asked:
        fits = Q(serial_number__icontains=word)
        items = items.filter(fits | Q(type__part_number__icontains=word) | Q(type__name__icontains=word))
    exact = Q(pk__in=())
    for word in asked:
        exact |= Q(serial_number__iexact=word)
    rank = Case(When(exact, then=Value(0)), When(state=HardwareState.RETIRED, then=Value(2)), default=Value(1))
    ordered = items.annotate(rank=rank, length=Length("serial_number", output_field=IntegerField()))
    rows = list(ordered.order_by("rank", "type__part_number", "length", "serial_number")[: most + 1])
    return Found(tuple(rows[:most]), len(rows) > most)


def suggest_hardware(actor: Actor, activity_id: int | None, *, most: int = MOST) -> tuple[HardwareItem, ...]:
    """Return what the activity uses; without one, what anomalies concerned last."""
    if activity_id is not None:
        uses = ActivityHardware.objects.filter(activity_id=activity_id, active=True).values("item")
        return tuple(HardwareItem.objects.visible_to(actor).filter(pk__in=uses).select_related("type")[:most])
    latest = AnomalyHardware.objects.filter(active=True).order_by("-pk").values_list("item", flat=True)[: 4 * most]
    return read_items(actor, list(dict.fromkeys(latest))[:most])


def read_items(actor: Actor, keys: Collection[int]) -> tuple[HardwareItem, ...]:
    """Return the items with these keys that the actor may see, in this order."""
    found = HardwareItem.objects.visible_to(actor).select_related("type").in_bulk(list(keys))
    return tuple(found[key] for key in keys if key in found)
