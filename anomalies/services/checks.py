"""What every service asks before it writes: is the input usable, may the actor, is it the right state."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from anomalies.clock import now
from anomalies.models.base import R, Record, RecordQuerySet
from anomalies.services.ledger import Doer
from anomalies.states import ANOMALY, INVESTIGATION, WITHIN, find_gate
from config.kit.errors import BadInput
from config.kit.permissions import require
from config.kit.transitions import Machine, Move

LONGEST_TEXT = 50_000
CLOCKS_DIFFER_BY = timedelta(minutes=5)

NOT_TEXT = "This holds characters that aren't text."
NO_ZONE = "Give the time with its zone."
NO_SUCH_FIELD = "This can't be set here."
NOT_THERE = "There's no such record."
IN_FUTURE = "This time is in the future."


def begin_move(record: Record, machine: Machine, name: str, actor: Doer) -> Move:
    """Return the move, once the actor may make it and the record's state allows it; NotAllowed, WrongState.

    The anomaly and the investigation that the record is a part of must allow it too.
    """
    require(actor, f"{record.KIND}.{name}", record)
    gate = find_gate(record.KIND, name)
    if gate:
        ANOMALY.move(gate, record.anomaly.state)  # type: ignore[attr-defined]  # every kind with a gate belongs to one
    if record.KIND in WITHIN:
        INVESTIGATION.move(WITHIN[record.KIND], record.investigation.state)  # type: ignore[attr-defined]  # parts of one
    state: str = record.state  # type: ignore[attr-defined]  # every kind with a machine has one
    return machine.move(name, state)


def ask_first(actor: Doer, rule: str, rows: RecordQuerySet[R], pk: int) -> None:
    """Raise NotAllowed before anything is locked or looked at; who may is asked again by `begin_move`."""
    require(actor, rule, rows.get(pk=pk))


def lock_named(name: str, rows: RecordQuerySet[R], pk: int) -> R:
    """Return the locked record that the input names in the field `name`; raises BadInput if there's none."""
    try:
        return rows.lock(pk)
    except rows.model.DoesNotExist:
        raise BadInput(NOT_THERE, code="not_there", fields={name: [NOT_THERE]}) from None


def clean_values(record: Record, values: Mapping[str, Any], allowed: Collection[str]) -> dict[str, Any]:
    """Return the values as the record's fields take them; raises BadInput that names every bad field.

    Related records are given by key, under the name of the column: `activity_id`.
    """
    fields = {field.attname: field for field in record._meta.concrete_fields}
    cleaned, faults = {}, {}
    for name, value in values.items():
        try:
            if name not in allowed:
                raise ValidationError(NO_SUCH_FIELD)
            cleaned[name] = _clean_value(fields[name], value, record)
        except ValidationError as error:
            faults[name] = list(error.messages)
    if faults:
        raise BadInput("Some of this can't be used; nothing was saved.", fields=faults)
    return cleaned


def _clean_value(field: models.Field[Any, Any], value: Any, record: Record) -> Any:
    if isinstance(value, str):
        value = _clean_text(value)
    if isinstance(value, list):
        value = [_clean_text(item) if isinstance(item, str) else item for item in value]
    value = field.clean(value, record)
    if isinstance(value, datetime) and timezone.is_naive(value):
        raise ValidationError(NO_ZONE)
    return value


def _clean_text(text: str) -> str:
    text = text.replace("\r\n", "\n").strip()
    if "\0" in text or any("\ud800" <= sign <= "\udfff" for sign in text):
        raise ValidationError(NOT_TEXT)
    if len(text) > LONGEST_TEXT:
        raise ValidationError(f"This has {len(text):,} characters; at most {LONGEST_TEXT:,} are kept.")
    return text


def clean_text(name: str, text: str) -> str:
    """Return the text, cleaned; raises BadInput on the field `name` if it can't be kept."""
    try:
        return _clean_text(text)
    except ValidationError as error:
        raise BadInput(error.messages[0], fields={name: error.messages}) from None


def need_text(name: str, text: str, message: str) -> str:
    """Return the text, cleaned; raises BadInput on the field `name` if there is none."""
    text = clean_text(name, text)
    if not text:
        raise BadInput(message, fields={name: [message]})
    return text


def need_past(name: str, at: datetime) -> datetime:
    """Return the moment; raises BadInput on the field `name` if it's to come, by more than clocks may differ."""
    if timezone.is_naive(at):
        raise BadInput(NO_ZONE, fields={name: [NO_ZONE]})
    if at > now() + CLOCKS_DIFFER_BY:
        raise BadInput(IN_FUTURE, code="in_future", fields={name: [IN_FUTURE]})
    return at
