"""The form of a variant: a row for each event, house event and parameter that is shown, whatever the tree holds.

Fields are named by a letter for their kind and the element: `e:PUMP` says what becomes of an event, `p:PUMP` its
probability, `h:winter` the switch of a house event, `v:rate` the value of a parameter.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from django.http import QueryDict

from config.kit.errors import BadInput
from faulttree.models import TreeRevision, Variant
from faulttree.reads.settable import list_settable

MOST_SHOWN = 60
"""Elements that are shown beside those that are set; the others are found by their names."""

AS_IT_IS, RULED_OUT, CERTAIN, PROBABILITY, ON, OFF = "", "ruled-out", "certain", "probability", "on", "off"
NO_NUMBER = "Give a number such as 1e-4, or the name of a parameter."


@dataclass
class Line:
    """One element with what is put in its place."""

    kind: str  # "event", "house" or "parameter"
    name: str
    label: str
    now: str
    is_member: bool = False
    choice: str = ""
    value: str = ""
    errors: list[str] = field(default_factory=list)

    @property
    def is_set(self) -> bool:
        """Something is put in its place."""
        return bool(self.choice or (self.kind == "parameter" and self.value.strip()))


class VariantForm:
    """What a person typed, or what a variant says to begin with; nothing typed is lost by a search or a mistake."""

    def __init__(self, revision: TreeRevision, variant: Variant | None, data: QueryDict | None = None) -> None:
        self.revision, self.variant, self.data = revision, variant, data
        self.errors: dict[str, list[str]] = {}
        kept = variant.overrides if variant else {}
        self.version = self._typed("version", str(variant.version) if variant else "1")
        self.name = self._typed("name", variant.name if variant else "")
        self.note = self._typed("note", variant.note if variant else "")
        hours = kept.get("mission_time")
        self.mission_time = self._typed("mission_time", "" if hours is None else f"{hours:g}")
        self.find = self._typed("find", "")
        self._all = [self._fill(line, kept) for line in _lines(revision)]
        self.strays = self._strays(kept)

    @property
    def seen(self) -> int:
        """The version that the person began with; 0, which no variant has, for what is no number."""
        return int(self.version) if self.version.isascii() and self.version.isdecimal() else 0

    def _typed(self, name: str, start: str) -> str:
        return self.data.get(name, start) if self.data is not None else start

    def _fill(self, line: Line, kept: dict[str, Any]) -> Line:
        if self.data is not None:
            letter = {"event": "e", "house": "h", "parameter": ""}[line.kind]
            line.choice = self.data.get(f"{letter}:{line.name}", "") if letter else ""
            line.value = self.data.get(f"{'p' if line.kind == 'event' else 'v'}:{line.name}", "")
            return line
        part = {"event": "events", "house": "houses", "parameter": "parameters"}[line.kind]
        if line.name in kept.get(part, {}):
            line.choice, line.value = _show(line.kind, kept[part][line.name])
        return line

    def _strays(self, kept: dict[str, Any]) -> list[str]:
        """What the variant names that this revision doesn't hold; saving leaves it out."""
        known = {(line.kind, line.name) for line in self._all}
        parts = (("event", "events"), ("house", "houses"), ("parameter", "parameters"))
        return [name for kind, part in parts for name in kept.get(part, {}) if (kind, name) not in known]

    @cached_property
    def events(self) -> list[Line]:
        """The events that are shown: those that are set, then those that fit the search."""
        return self._shown("event")

    @cached_property
    def houses(self) -> list[Line]:
        """The house events that are shown."""
        return self._shown("house")

    @cached_property
    def parameters(self) -> list[Line]:
        """The parameters that are shown."""
        return self._shown("parameter")

    @cached_property
    def hidden_count(self) -> int:
        """How many elements aren't shown."""
        return len(self._all) - len(self.events) - len(self.houses) - len(self.parameters)

    @cached_property
    def needs_search(self) -> bool:
        """There are more elements than are shown by themselves."""
        return len(self._all) > MOST_SHOWN

    def _shown(self, kind: str) -> list[Line]:
        lines = [line for line in self._all if line.kind == kind]
        words = self.find.casefold().split()
        fitting = [line for line in lines if all(word in f"{line.name} {line.label}".casefold() for word in words)]
        chosen = [line for line in lines if line.is_set or line.errors]
        return chosen + [line for line in fitting if line not in chosen][:MOST_SHOWN]

    def read_overrides(self) -> dict[str, Any]:
        """Return what was typed as JSON; what can't be read goes to the errors of its line."""
        parts: dict[str, dict[str, Any]] = {"events": {}, "houses": {}, "parameters": {}}
        for line in self._all:
            if line.kind == "house" and line.choice in (ON, OFF):
                parts["houses"][line.name] = line.choice == ON
            elif line.kind == "event" and line.choice in (RULED_OUT, CERTAIN):
                parts["events"][line.name] = line.choice == CERTAIN
            elif line.is_set or (line.kind == "event" and line.value.strip()):
                line.choice = PROBABILITY if line.kind == "event" else ""
                parts["events" if line.kind == "event" else "parameters"][line.name] = self._read(line)
        data: dict[str, Any] = {name: part for name, part in parts.items() if part}
        if self.mission_time.strip():
            data["mission_time"] = self._read_hours()
        return data

    def _read(self, line: Line) -> Any:
        value = _parse(line.value)
        if value is None:
            line.errors.append(NO_NUMBER)
            self.errors.setdefault("overrides", []).append(f"{line.name}: {NO_NUMBER}")
        return value

    def _read_hours(self) -> float | None:
        value = _parse(self.mission_time)
        if isinstance(value, float) and 0.0 <= value < float("inf"):
            return value
        self.errors.setdefault("mission_time", []).append("Give hours, 0 or more.")
        return None

    def add_refusal(self, refused: BadInput) -> None:
        """Take what a service says, each message to its field, and to the line that it names."""
        for name, messages in (refused.fields or {"overrides": [refused.message]}).items():
            self.errors.setdefault(name, []).extend(messages)
            for line in self._all:
                line.errors += [message for message in messages if line.is_set and f" {line.name}" in message]


def _lines(revision: TreeRevision) -> Iterable[Line]:
    for item in list_settable(revision):
        yield Line(item.kind, item.name, item.label, item.now, item.is_member)


def _show(kind: str, value: Any) -> tuple[str, str]:
    """Return the choice and the text of a field for a setting."""
    if isinstance(value, bool):
        return ((ON if value else OFF) if kind == "house" else (CERTAIN if value else RULED_OUT)), ""
    written = value if isinstance(value, str) else json.dumps(value)
    return (PROBABILITY if kind == "event" else ""), written


def _parse(text: str) -> Any:
    """Return a number, the name of a parameter or a function in JSON; None for what is none of them."""
    text = text.strip()
    try:
        return float(text)
    except ValueError:
        pass
    if text.startswith("{"):
        try:
            return json.loads(text)
        except ValueError:
            return None
    return text if text and not any(letter in text for letter in " ,;") else None
