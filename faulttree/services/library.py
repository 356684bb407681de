"""Writes of the library: new items, other values, items that are retired. Each change is one new data set."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from config.kit.errors import BadInput, Conflict
from config.kit.ledger import note_write
from config.kit.permissions import require
from faulttree.assembly import Value, find_faults
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.names import check_name
from faulttree.engine.editing.shared import Key
from faulttree.engine.exchange.read_xml import UNITS
from faulttree.models import DataSet, SharedItem, SharedValue

NEEDS_SOURCE = (SharedValue.Source.HANDBOOK, SharedValue.Source.TEST, SharedValue.Source.SERVICE)
SAME_MOMENT = "Somebody changed the library at the same moment. Look at what is there now, then save again."
UNCHANGED = "Nothing is different from what the library says now. Change something, or leave it."


@dataclass(frozen=True, slots=True)
class Sent:
    """What a person says of an item; `expression` as in our JSON form."""

    expression: Any
    source_kind: str
    source: str = ""
    label: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """A value that an item is to have; `seen` is the number of the data set whose value the person saw."""

    item_id: int
    sent: Sent
    seen: int
    is_retired: bool = False


def add_item(*, actor: User, kind: str, name: str, sent: Sent, note: str = "") -> SharedValue:
    """A basic event or parameter is in the library, with its first value, from a new data set on.

    Raises BadInput naming the field for a name that is taken or a value that can't be used.
    """
    require(actor, "library.change")
    name = name.strip()
    if kind not in SharedItem.Kind.values:
        raise _refuse("kind", "An item is a basic event or a parameter. Choose one of the two.")
    taken = SharedItem.objects.filter(kind=kind).values_list("name", flat=True)
    try:
        check_name(name, set(taken))
    except EditRefused as refused:
        raise _refuse("name", str(refused)) from None
    if len(name) > 200:
        raise _refuse("name", f"The name has {len(name)} letters; 200 is the most.")
    sent = _clean(sent, kind, note)
    try:
        with transaction.atomic():
            data_set = _begin(actor, note or f"{name} is new.")
            _check({(kind, name): sent}, data_set.number - 1)
            item = SharedItem.objects.create(kind=kind, name=name)
            value = _write(item, data_set, sent)
            note_write(data_set, actor=actor, action="data_set.change", reason=data_set.note)
            return value
    except IntegrityError:
        raise Conflict(SAME_MOMENT) from None


def change_values(*, actor: User, changes: Sequence[Change], note: str = "") -> DataSet:
    """Items have other values from one new data set on.

    Raises BadInput for values that can't be used or that are as they were, Conflict where an item has another value
    by now than the person saw.
    """
    require(actor, "library.change")
    try:
        with transaction.atomic():
            found = SharedItem.objects.in_bulk([change.item_id for change in changes])
            items = [(found[change.item_id], change) for change in changes]
            cleaned = [(item, change, _clean(change.sent, item.kind, note)) for item, change in items]
            for item, change, sent in cleaned:
                _require_news(item, change, sent)
            words = ", ".join(item.name for item, _ in items)
            data_set = _begin(actor, note or f"Another value of {words}.")
            _check({(item.kind, item.name): sent for item, _, sent in cleaned}, data_set.number - 1)
            for item, change, sent in cleaned:
                _write(item, data_set, sent, is_retired=change.is_retired)
            note_write(data_set, actor=actor, action="data_set.change", reason=data_set.note)
            return data_set
    except IntegrityError:
        raise Conflict(SAME_MOMENT) from None


def change_value(*, actor: User, item_id: int, sent: Sent, seen: int, note: str = "") -> DataSet:
    """An item has another value from a new data set on."""
    return change_values(actor=actor, changes=[Change(item_id, sent, seen)], note=note)


def retire(*, actor: User, item_id: int, seen: int, note: str = "", back: bool = False) -> DataSet:
    """An item isn't offered to trees any more, or is again; those that use it go on with its value."""
    require(actor, "library.change")
    item = SharedItem.objects.get(pk=item_id)
    now = item.values.select_related("data_set").first()
    assert now is not None
    sent = Sent(now.expression, now.source_kind, now.source, now.label, now.unit)
    words = note or f"{item.name} is {'offered again' if back else 'retired'}."
    return change_values(actor=actor, changes=[Change(item.pk, sent, seen, is_retired=not back)], note=words)


def check_sent(*, kind: str, name: str, sent: Sent, note: str) -> Sent:
    """Return what was sent, cleaned, as a change would take it; raises BadInput naming each field at fault."""
    newest = DataSet.objects.newest()
    sent = _clean(sent, kind, note)
    _check({(kind, name): sent}, newest.number if newest else 0)
    return sent


def as_value(kind: str, name: str, sent: Sent) -> Value:
    """Return what was sent as a model is assembled with it."""
    return Value(kind, name, json.dumps(sent.expression), sent.label, sent.unit)


def _begin(actor: User, note: str) -> DataSet:
    newest = DataSet.objects.newest()
    return DataSet.objects.create(number=newest.number + 1 if newest else 1, note=note.strip()[:500], author=actor)


def _write(item: SharedItem, data_set: DataSet, sent: Sent, *, is_retired: bool = False) -> SharedValue:
    return SharedValue.objects.create(
        item=item,
        data_set=data_set,
        label=sent.label,
        unit=sent.unit,
        expression=sent.expression,
        source_kind=sent.source_kind,
        source=sent.source,
        is_retired=is_retired,
    )


def _clean(sent: Sent, kind: str, note: str) -> Sent:
    label, source, unit = " ".join(sent.label.split()), sent.source.strip(), sent.unit.strip()
    errors: dict[str, list[str]] = {}
    if len(label) > 300:
        errors["label"] = [f"The title has {len(label)} letters; 300 is the most."]
    if unit and (unit not in UNITS or kind == SharedItem.Kind.EVENT):
        known = ", ".join(UNITS)
        errors["unit"] = [
            "A basic event has a probability and no unit. Leave it empty."
            if kind == SharedItem.Kind.EVENT
            else f"“{unit[:40]}” is no unit of the exchange format. Choose one of {known}."
        ]
    if sent.source_kind not in SharedValue.Source.values:
        errors["source_kind"] = ["Say what kind of source the number has."]
    elif not source and sent.source_kind in NEEDS_SOURCE:
        errors["source"] = ["Name the source: title and page, test report, or the records that were counted."]
    elif not source and not note.strip():
        errors["note"] = ["No source is named, so say here why the number is believed for now."]
    if errors:
        told = " ".join(message for messages in errors.values() for message in messages)
        raise BadInput(f"The value can't be saved yet. {told}", fields=errors)
    return Sent(sent.expression, sent.source_kind, source, label, unit)


def _check(sent: Mapping[tuple[str, str], Sent], number: int) -> None:
    """Refuse values that the engine can't compute with, together with the rest of the library."""
    changes: dict[Key, Value] = {}
    for (kind, name), one in sent.items():
        value = as_value(kind, name, one)
        changes[value.key] = value
    faults = find_faults(changes, number)
    if faults:
        raise BadInput(" ".join(faults), code="bad_value", fields={"expression": faults})


def _require_news(item: SharedItem, change: Change, sent: Sent) -> None:
    now = item.values.select_related("data_set__author").first()
    if now is None:
        return
    if now.data_set.number > change.seen:
        who = now.data_set.author.get_full_name() or now.data_set.author.username
        message = f"{who} changed {item.name} in data set {now.data_set.number} in the meantime: {now.data_set.note}"
        raise Conflict(f"{message} Look at the value it has now, then save again if yours is still wanted.")
    kept = Sent(now.expression, now.source_kind, now.source, now.label, now.unit)
    if kept == sent and now.is_retired == change.is_retired:
        raise BadInput(UNCHANGED, code="unchanged", fields={"expression": [UNCHANGED]})


def _refuse(field: str, message: str) -> BadInput:
    return BadInput(message, fields={field: [message]})
