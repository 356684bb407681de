"""Shape checks of what the bench sends."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django import forms

from config.kit.errors import BadInput


class NewTreeForm(forms.Form):
    """The beginning of a tree: what must not happen, and what it's called."""

    label = forms.CharField(
        label="Undesired event",
        max_length=300,
        help_text="What must not happen, in plain words, for instance: suit cooling is lost.",
    )
    name = forms.CharField(
        label="Name", max_length=200, help_text="Short, one word, for files and lists, for instance suit-cooling."
    )
    kind = forms.ChoiceField(
        label="It happens when",
        choices=(("or", "any one of several things happens (OR)"), ("and", "all of several things happen (AND)")),
    )


class SaveForm(forms.Form):
    """A note on what the revision is."""

    seen = forms.IntegerField(min_value=0)
    note = forms.CharField(max_length=500, required=False)


@dataclass(frozen=True, slots=True)
class Body:
    """What the bench's script sends.

    seen : number of the step that the page shows; view : its query; chosen, under : the chosen element
    """

    seen: int
    edit: dict[str, Any]
    view: str
    chosen: str
    under: str
    hours: float | None


def read_body(data: bytes) -> Body:
    """Return what was sent; raises BadInput for anything else."""
    try:
        sent = json.loads(data or b"{}")
    except (ValueError, RecursionError):
        sent = None
    if not isinstance(sent, dict) or type(sent.get("seen")) is not int or not isinstance(sent.get("edit", {}), dict):
        raise BadInput("The bench's message can't be read. Load the page again.", code="bad_message")
    texts = {name: str(sent.get(name, ""))[:4000] for name in ("view", "chosen", "under")}
    return Body(seen=sent["seen"], edit=sent.get("edit", {}), hours=_read_hours(sent.get("hours")), **texts)


def _read_hours(value: Any) -> float | None:
    text = "" if value is None else str(value).strip()
    if not text:
        return None
    try:
        return float(text)
    except ValueError:
        message = f"The mission time “{text[:40]}” is no number."
        raise BadInput(message, fields={"mission_time": ["Give hours, for instance 8."]}) from None
