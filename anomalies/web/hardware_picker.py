"""A field for any number of hardware items: they are found by words and ticked, with or without JavaScript.

Without it, the button beside the words sends the form: it comes back with what was found, and everything else kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict

from anomalies.models import HardwareItem
from anomalies.reads.hardware_search import find_hardware, read_items, suggest_hardware
from config.kit.permissions import Actor

TICK = "Tick what is concerned, then send the form."


@dataclass(frozen=True, slots=True)
class Picked:
    """What was ticked, the words that were typed, and whether the person only wants to look."""

    keys: tuple[str, ...] = ()
    words: str = ""
    is_looking: bool = False


@dataclass(frozen=True, slots=True)
class Options:
    """What the field shows: ticked items, then others to tick."""

    ticked: tuple[HardwareItem, ...]
    others: tuple[HardwareItem, ...]
    words: str
    more: bool


def read_picked(data: Mapping[str, Any], name: str) -> Picked:
    """Return what was sent."""
    keys = data.getlist(name) if isinstance(data, QueryDict) else data.get(name, ())
    return Picked(tuple(map(str, keys)), str(data.get(f"{name}_words", "")).strip(), f"{name}_look" in data)


def as_picked(value: Any) -> Picked:
    """Return what is ticked, from what was sent or from keys."""
    return value if isinstance(value, Picked) else Picked(tuple(str(key) for key in value or ()))


def find_options(actor: Actor, picked: Picked, activity_id: int | None = None) -> Options:
    """Return the items to show: what holds the words; where there are none, what is likely."""
    keys = [int(key) for key in picked.keys if key.isdecimal() and len(key) < 19]
    ticked = read_items(actor, dict.fromkeys(keys))
    found = find_hardware(actor, picked.words)
    offered = found.items if picked.words else suggest_hardware(actor, activity_id)
    others = tuple(item for item in offered if item not in ticked)
    return Options(ticked, others, picked.words, found.more)


class HardwareWidget(forms.Widget):
    """Words to find by, and boxes to tick."""

    template_name = "anomalies/widgets/hardware.html"
    use_fieldset = True

    def __init__(self) -> None:
        super().__init__()
        self.actor: Actor | None = None
        self.activity_id: int | None = None

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> Picked:
        """Return what was sent."""
        return read_picked(data, name)

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        """Add the items to show."""
        context = super().get_context(name, value, attrs)
        if self.actor is not None:
            context["options"] = find_options(self.actor, as_picked(value), self.activity_id)
        return context

    def id_for_label(self, id_: str, index: str | None = None) -> str:
        """The words are what a label of the whole would lead to."""
        return f"{id_}_words"


class HardwareField(forms.Field):
    """Gives the keys of the items; the service checks that they are there."""

    widget = HardwareWidget

    def __init__(self, label: str, *, help_text: str = "") -> None:
        super().__init__(label=label, required=False, help_text=help_text)

    def serve(self, actor: Actor, activity_id: int | None) -> None:
        """Look for hardware as this person may see it; first what this activity uses."""
        self.widget.actor, self.widget.activity_id = actor, activity_id

    def clean(self, value: Any) -> list[int]:
        """Return the keys; a form that was sent only to look comes back."""
        picked = as_picked(value)
        if picked.is_looking:
            raise forms.ValidationError(TICK, code="looking")
        keys = [key for key in picked.keys if key.isdecimal() and len(key) < 19]
        if len(keys) != len(picked.keys):
            raise forms.ValidationError("This isn't hardware of the list.")
        return [int(key) for key in keys]
