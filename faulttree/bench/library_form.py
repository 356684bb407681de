"""The form of an item of the library: what a person typed, or what the item says to begin with."""

from __future__ import annotations

from typing import Any

from django.http import QueryDict

from config.kit.errors import BadInput
from faulttree.models import SharedItem, SharedValue
from faulttree.reads.shared import Way, list_ways, read_value
from faulttree.services.library import Sent

PLAIN = ("kind", "name", "label", "unit", "source_kind", "source", "note")
UNITS = (
    *(("", "none"), ("hours-1", "per hour"), ("hours", "hours"), ("years-1", "per year"), ("years", "years")),
    *(("fit", "failures in 10⁹ h (FIT)"), ("demands", "demands"), ("float", "a number"), ("int", "a whole number")),
    ("bool", "true or false"),
)


class ItemForm:
    """Fields, their errors and the ways a value can be said; nothing typed is lost by a mistake or a preview."""

    def __init__(self, value: SharedValue | None, data: QueryDict | None = None, kind: str = "event") -> None:
        self.value, self.data = value, data
        self.errors: dict[str, list[str]] = {}
        start: dict[str, Any] = {"kind": kind, "source_kind": "unknown"}
        if value is not None:
            start = {name: getattr(value, name) for name in ("label", "unit", "source_kind", "source")}
            start.update(kind=value.item.kind, name=value.item.name)
        self.fields = {name: str(start.get(name, "")) for name in PLAIN}
        if data is not None:
            self.fields.update({name: str(data[name]).replace("\0", "") for name in PLAIN if name in data})
        if value is not None:
            self.fields.update(kind=value.item.kind, name=value.item.name)
        self.seen = str(value.data_set.number) if value else "0"
        seen = str(data.get("seen", "")) if data is not None else ""
        if seen.isascii() and seen.isdigit() and len(seen) < 10:
            self.seen = seen

    @property
    def ways(self) -> list[Way]:
        """The ways in which the value can be said."""
        sent = self.data.dict() if self.data is not None else None
        plain = {name: str(text) for name, text in sent.items()} if sent is not None else None
        return list_ways(self.fields["kind"], self.value.expression if self.value else None, plain)

    @property
    def kinds(self) -> list[tuple[str, str]]:
        """What an item can be."""
        return [(str(key), str(label)) for key, label in SharedItem.Kind.choices]

    @property
    def sources(self) -> list[tuple[str, str]]:
        """What kind of source a number can have."""
        return [(str(key), str(label)) for key, label in SharedValue.Source.choices]

    @property
    def units(self) -> tuple[tuple[str, str], ...]:
        """The units of a parameter."""
        return UNITS

    def read(self) -> Sent | None:
        """Return what was typed; None where the errors say what is wrong with it."""
        try:
            expression = read_value({name: str(text) for name, text in (self.data or QueryDict()).dict().items()})
        except BadInput as refused:
            self.add_refusal(refused)
            return None
        kept = {name: self.fields[name] for name in ("label", "unit", "source_kind", "source")}
        return Sent(expression, **kept)

    def add_refusal(self, refused: BadInput) -> None:
        """Show what a service refused, beside the fields it names."""
        for name, messages in (refused.fields or {"": [refused.message]}).items():
            self.errors.setdefault(name, []).extend(messages)
