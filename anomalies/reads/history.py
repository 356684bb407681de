"""The history of a record, as people read it: labels for fields, names for keys, words for states."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import models
from django.db.models import Q

from anomalies.models.base import Record, record_models
from anomalies.models.ledger import LedgerEntry
from anomalies.reads.step_history import (
    Texts,
    describe_step_value,
    is_step_field,
    label_step_field,
    read_step_texts,
)
from config.kit.ledger import Recorded, kept_models

NOTHING = "—"
LONG = 600
Names = dict[tuple[type[models.Model], Any], str]


@dataclass(frozen=True, slots=True)
class Change:
    """A field by its label, before and after; a dash where there was or is nothing."""

    label: str
    before: str
    after: str

    @property
    def is_long(self) -> bool:
        """Too long to read in passing."""
        return len(self.before) + len(self.after) > LONG


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of the ledger. `action` is its dotted name, `kind` and `record_id` say what it was done to."""

    sequence: int
    at: datetime
    who: str
    action: str
    kind: str
    record_id: int
    reason: str
    changes: tuple[Change, ...]
    is_first: bool = False
    """It made the record: all of `changes` is what the record held at first."""


def read_history(record: Recorded, *, parts: Iterable[models.QuerySet[Any]] = ()) -> list[Event]:
    """Return all that was done to the record and to its `parts` (other records that belong to it), oldest first.

    One query for the entries, one per kind of part, one per kind of record that a change points at. The keys of the
    parts are fetched first: with a subquery in each branch PostgreSQL would read the whole ledger.
    """
    wanted = Q(kind=record.KIND, record_id=record.pk)
    for rows in parts:
        wanted |= Q(kind=rows.model.KIND, record_id__in=list(rows.order_by().values_list("pk", flat=True)))
    return _describe_entries(list(LedgerEntry.objects.filter(wanted).select_related("actor").order_by("sequence")))


def read_history_since(record: Record, version: int) -> list[Event]:
    """Return what was done to the record after it had this version, oldest first."""
    later = LedgerEntry.objects.of(record.KIND, record.pk).filter(version__gt=version)
    return _describe_entries(list(later.select_related("actor")))


def describe_values(kind: str, name: str, values: Sequence[Any]) -> tuple[str, list[str]]:
    """Return the label of a field, and recorded values of it as people read them."""
    field = _find_field(kind, name)
    names = _find_names({field.related_model: set(values) - {None}}) if isinstance(field, models.ForeignKey) else {}
    return _label(field, name), [_describe(field, value, names) for value in values]


def _describe_entries(entries: Sequence[LedgerEntry]) -> list[Event]:
    names, texts = _read_names(entries), read_step_texts(entries)
    return [_describe_entry(entry, names, texts) for entry in entries]


def _describe_entry(entry: LedgerEntry, names: Names, texts: Texts) -> Event:
    changes = []
    for name, (before, after) in entry.changes.items():
        if is_step_field(entry.kind, name):
            values = (describe_step_value(name, value, texts) if value else NOTHING for value in (before, after))
            changes.append(Change(label_step_field(name), *values))
        elif name != "version":
            field = _find_field(entry.kind, name)
            changes.append(Change(_label(field, name), *(_describe(field, value, names) for value in (before, after))))
    return Event(
        entry.sequence,
        entry.at,
        _name(entry.actor) if entry.actor else entry.actor_name,
        entry.action,
        entry.kind,
        entry.record_id,
        entry.reason,
        tuple(changes),
        entry.version == 1,
    )


def _describe(field: models.Field[Any, Any] | None, value: Any, names: Names) -> str:
    """Return a recorded value in words; one of a column that is gone stays as it was recorded."""
    if value is None:
        return NOTHING
    if isinstance(field, models.ForeignKey):
        return names.get((field.related_model, value), str(value))
    if isinstance(field, models.DateTimeField):
        return f"{datetime.fromisoformat(value):%Y-%m-%d %H:%M:%S} UTC"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(item) for item in value)
    if isinstance(value, dict):
        return ", ".join(f"{name} {item}" for name, item in value.items())
    choices: Sequence[Any] = field.flatchoices if field else ()
    return str(dict(choices).get(value, value))


def _read_names(entries: Iterable[LedgerEntry]) -> Names:
    keys: dict[Any, set[Any]] = defaultdict(set)
    for entry in entries:
        for name, values in entry.changes.items():
            field = _find_field(entry.kind, name)
            if isinstance(field, models.ForeignKey):
                keys[field.related_model].update(value for value in values if value is not None)
    return _find_names(keys)


def _find_names(keys: Mapping[Any, Collection[Any]]) -> Names:
    return {
        (model, row.pk): _name(row)
        for model, wanted in keys.items()
        for row in model._base_manager.filter(pk__in=wanted)
    }


def _label(field: models.Field[Any, Any] | None, name: str) -> str:
    return str(field.verbose_name) if field else name.replace("_", " ")


def _name(row: models.Model) -> str:
    return (row.get_full_name() or row.username) if isinstance(row, User) else str(row)


def _find_field(kind: str, name: str) -> models.Field[Any, Any] | None:
    models_of_all: list[Any] = [*record_models(), *kept_models()]
    model = next((model for model in models_of_all if kind == model.KIND), None)
    fields = model._meta.concrete_fields if model else ()
    return next((field for field in fields if field.attname == name), None)
