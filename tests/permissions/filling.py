"""Fills in a form as a person would who has no particular wish: the first choice, some words, a file."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms

from anomalies.web.fields import MomentField
from tests.anomalies.files import PDF, PNG, SERIES, upload
from tests.anomalies.people import SEEN_AT
from tests.anomalies.procedures import PASSWORD
from tests.permissions.world import World

WORDS = "Words."
BY_NAME = {
    "activity": "",  # where either that or a type of hardware is to be named
    "address": "https://example.org/report",
    "due_on": "2099-01-01",
    "false_alarm": "0.1",
    "hardware_type": "{type.pk}",
    "number": "{anomaly_closed.number}",
    "password": PASSWORD,
    "serial": "P2",
    "statement": "It wept.",
}
"""Fields that take neither the first choice nor any words."""
FILES = {"add-photographs": (PNG, "photo.png"), "add-telemetry": (SERIES, "series.csv")}


def fill(form: Any, move: str, world: World) -> dict[str, Any]:
    """Return what a browser would send: what the form holds at first, every box ticked, and no field left empty."""
    sent = {}
    for bound in form:
        value = bound.value()
        if value in (None, "", []) and not bound.is_hidden:
            value = choose(bound.name, bound.field, move, world)
        if value not in (None, "", [], False):
            sent[bound.html_name] = value
    return sent


def choose(name: str, field: forms.Field, move: str, world: World) -> Any:
    """Return a value that the field takes."""
    if name in BY_NAME:
        return world.fill(BY_NAME[name])
    if isinstance(field, forms.ModelMultipleChoiceField):
        return [row.pk for row in field.queryset]
    if isinstance(field, forms.ChoiceField):
        first = next((str(key) for key in list_keys(field) if str(key)), "")
        return [first] if isinstance(field, forms.MultipleChoiceField) else first
    if isinstance(field, forms.BooleanField):
        return "on"
    if isinstance(field, forms.FileField):
        return upload(*FILES.get(move, (PDF, "report.pdf")))
    if isinstance(field, forms.IntegerField):
        return 1
    if isinstance(field, (MomentField, forms.DateField)):
        return f"{SEEN_AT:%Y-%m-%d %H:%M}"
    return WORDS if field.required else ""


def list_keys(field: forms.ChoiceField) -> Iterator[Any]:
    """Return what can be chosen, out of groups too."""
    for key, words in field.choices:
        yield from (each for each, _ in words) if isinstance(words, (list, tuple)) else [key]
