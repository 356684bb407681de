"""The library as pages and files show it, and values of items as forms hold them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from config.kit.errors import BadInput
from config.kit.permissions import Actor
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.shared import Key
from faulttree.engine.editing.typed import VALUE_MODELS, read_typed, write_typed
from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.json_values import ValueReader, write_expression
from faulttree.engine.model import Expression
from faulttree.engine.problems import Problems
from faulttree.engine.say_overrides import say_expression
from faulttree.models import DataSet, SharedItem, SharedValue

OTHER = "other"
OTHER_LABEL = "Another expression, as JSON"
PARAMETER_MODELS = ("number", "parameter", "lognormal", "uniform", "normal", "gamma", "beta")
HEADER = ("kind", "name", "title", "value", "unit", "source kind", "source", "data set", "trees", "retired")


@dataclass(frozen=True, slots=True)
class ItemRow:
    """An item with the value it has now, in words, and how many trees use it."""

    item: SharedItem
    value: SharedValue
    words: str
    trees: int


@dataclass(frozen=True, slots=True)
class Way:
    """A way to say a value: its fields are (name of the input, label, unit, what it means when empty, text)."""

    key: str
    label: str
    fields: tuple[tuple[str, str, str, str, str], ...]
    is_here: bool


def find_items(
    actor: Actor, *, words: str = "", kind: str = "", source: str = "", counts: Mapping[Key, int] | None = None
) -> list[ItemRow]:
    """Return the items that hold every word in name or title, parameters after events, by name."""
    newest = DataSet.objects.newest()
    if newest is None:
        return []
    visible = SharedItem.objects.visible_to(actor)
    rows = SharedValue.objects.at(newest.number).filter(item__in=visible).select_related("item", "data_set__author")
    if kind in SharedItem.Kind.values:
        rows = rows.filter(item__kind=kind)
    if source in SharedValue.Source.values:
        rows = rows.filter(source_kind=source)
    found = []
    for row in rows.order_by("item__kind", "item__name"):
        text = f"{row.item.name} {row.label}".lower()
        if all(word in text for word in words.lower().split()):
            trees = (counts or {}).get((row.item.kind, row.item.name), 0)
            found.append(ItemRow(row.item, row, say_value(row.expression), trees))
    return found


def write_row(row: ItemRow) -> list[Any]:
    """Return the cells of HEADER."""
    value = row.value
    said = [row.item.get_kind_display(), row.item.name, value.label, row.words, value.unit]
    return [
        *said,
        value.get_source_kind_display(),
        value.source,
        value.data_set.number,
        row.trees,
        value.is_retired,
    ]


def say_value(expression: Any) -> str:
    """Return an expression in our JSON form in words: the way it is said, each argument with its unit."""
    return describe_expression(_read(expression))


def describe_expression(expression: Expression) -> str:
    """Return an expression in plain words with units: constant failure rate, failure rate λ 2e-06 1/h, …"""
    typed = write_typed(expression)
    if typed is None:
        return say_expression(expression)
    key, texts = typed
    model = next(model for model in VALUE_MODELS if model.key == key)
    if key in ("number", "parameter"):
        return texts[0]
    parts = [
        f"{argument.label} {text or argument.empty}{f' {argument.unit}' if argument.unit and text else ''}"
        for argument, text in zip(model.arguments, texts, strict=True)
    ]
    return f"{model.label}: {', '.join(parts)}"


def list_ways(kind: str, expression: Any, sent: Mapping[str, str] | None = None) -> list[Way]:
    """Return the ways in which a value can be said, that of `expression` filled in, or what was sent."""
    typed = write_typed(_read(expression)) if expression is not None else ("number", [""])
    chosen, texts = typed or (OTHER, [json.dumps(expression)])
    if sent is not None:
        chosen = sent.get("model", chosen)
    ways = []
    for model in VALUE_MODELS:
        if kind == SharedItem.Kind.PARAMETER and model.key not in PARAMETER_MODELS:
            continue
        is_here = model.key == chosen
        fields = []
        for place, argument in enumerate(model.arguments):
            name = f"{model.key}-{place}"
            text = sent.get(name, "") if sent is not None else texts[place] if is_here else ""
            label = "Value" if model.key == "number" and kind == SharedItem.Kind.PARAMETER else argument.label
            fields.append((name, label, argument.unit, argument.empty, text))
        label = "Fixed value" if model.key == "number" and kind == SharedItem.Kind.PARAMETER else model.label
        ways.append(Way(model.key, label, tuple(fields), is_here))
    text = sent.get(f"{OTHER}-0", "") if sent is not None else texts[0] if chosen == OTHER else ""
    ways.append(Way(OTHER, OTHER_LABEL, ((f"{OTHER}-0", "Expression", "", "", text),), chosen == OTHER))
    return ways


def read_value(sent: Mapping[str, str]) -> Any:
    """Return what was filled in as our JSON form; raises BadInput whose field is the name of the input at fault."""
    key = sent.get("model", "")
    if key == OTHER:
        return _read_json(sent.get(f"{OTHER}-0", ""))
    model = next((model for model in VALUE_MODELS if model.key == key), None)
    texts: Sequence[str] = [sent.get(f"{key}-{place}", "") for place in range(len(model.arguments) if model else 0)]
    try:
        return write_expression(read_typed(key, texts, key))
    except EditRefused as refused:
        text = str(refused)
        raise BadInput(text, fields={refused.field or "model": [text]}) from None


def _read_json(text: str) -> Any:
    field = f"{OTHER}-0"
    try:
        found = json.loads(text)
        _read(found)
    except (ValueError, RecursionError):
        message = 'This is no JSON. Write a number, a name in quotes, or a function like {"exponential": ["rate", 8]}.'
        raise BadInput(message, fields={field: [message]}) from None
    except BadModel as refused:
        told = [str(problem) for problem in refused.problems]
        raise BadInput(" ".join(told), fields={field: told}) from None
    return found


def _read(expression: Any) -> Expression:
    problems = Problems("")
    found = ValueReader(problems).expression(expression, "value")
    problems.raise_any()
    return found


def list_offered(kind: str) -> list[str]:
    """Return the names of the items of a kind that trees may take: those that aren't retired now."""
    newest = DataSet.objects.newest()
    values = SharedValue.objects.at(newest.number if newest else 0).filter(item__kind=kind, is_retired=False)
    return sorted(values.values_list("item__name", flat=True))
