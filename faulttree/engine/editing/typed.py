"""Failure models as people fill them in: a model, and for each of its arguments a number or the name of a parameter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.exchange.json_values import write_expression
from faulttree.engine.exchange.names import NAME
from faulttree.engine.model import Call, Expression, MissionTime, Number, ParameterReference


@dataclass(frozen=True, slots=True)
class Argument:
    """One field: what it is called, its unit, and what it means when it's left empty."""

    label: str
    unit: str = ""
    empty: str = ""  # "mission time", a number as text, or "" where it must be given


@dataclass(frozen=True, slots=True)
class ValueModel:
    """A way to say a value: its key, what people call it, its function in the exchange format, its arguments."""

    key: str
    label: str
    function: str
    arguments: tuple[Argument, ...]
    is_uncertain: bool = False


_RATE = Argument("Failure rate λ", "1/h")
_TIME = Argument("Time", "h", "mission time")

VALUE_MODELS = (
    ValueModel("number", "Fixed probability", "", (Argument("Probability"),)),
    ValueModel("exponential", "Constant failure rate, not repaired", "exponential", (_RATE, _TIME)),
    ValueModel(
        "repairable",
        "Failure on demand, then rate and repair",
        "GLM",
        (Argument("Probability on demand γ", "", "0"), _RATE, Argument("Repair rate μ", "1/h"), _TIME),
    ),
    ValueModel(
        "weibull",
        "Weibull: wear or early failures",
        "Weibull",
        (Argument("Scale α", "h"), Argument("Shape β"), Argument("Shift t₀", "h", "0"), _TIME),
    ),
    ValueModel(
        "tested",
        "Found and mended only at tests",
        "periodic-test",
        (_RATE, Argument("Test interval τ", "h"), Argument("First test θ", "h"), _TIME),
    ),
    ValueModel("parameter", "Value of a parameter", "parameter", (Argument("Parameter"),)),
    ValueModel(
        "lognormal",
        "Uncertain, lognormal by mean and error factor",
        "lognormal-deviate",
        (Argument("Mean"), Argument("Error factor"), Argument("Level of the error factor", "", "0.95")),
        True,
    ),
    ValueModel("uniform", "Uncertain, uniform", "uniform-deviate", (Argument("From"), Argument("To")), True),
    ValueModel(
        "normal", "Uncertain, normal", "normal-deviate", (Argument("Mean"), Argument("Standard deviation")), True
    ),
    ValueModel("gamma", "Uncertain, gamma", "gamma-deviate", (Argument("Shape k"), Argument("Scale θ")), True),
    ValueModel("beta", "Uncertain, beta", "beta-deviate", (Argument("Alpha"), Argument("Beta")), True),
)
MODEL_BY_KEY = {model.key: model for model in VALUE_MODELS}


def read_typed(key: str, arguments: Sequence[str], field: str = "expression") -> Expression:
    """Return the expression that a person filled in; raises EditRefused naming the argument at fault."""
    model = MODEL_BY_KEY.get(key)
    if model is None:
        raise EditRefused("There is no such failure model.", "Choose one of the list.", field)
    if len(arguments) != len(model.arguments):
        raise EditRefused(f"{model.label} has {len(model.arguments)} fields.", "Fill in each.", field)
    parts = tuple(
        _read_argument(text, argument, f"{field}-{place}")
        for place, (text, argument) in enumerate(zip(arguments, model.arguments, strict=True))
    )
    if model.function in ("", "parameter"):
        if model.function and not isinstance(parts[0], ParameterReference):
            raise EditRefused("This is no name of a parameter.", "Choose one that is there.", f"{field}-0")
        return parts[0]
    return Call(model.function, parts)


def write_typed(expression: Expression | None) -> tuple[str, list[str]] | None:
    """Return model key and fields of an expression, None for one that the models can't say."""
    if expression is None:
        return "number", [""]
    if isinstance(expression, Number):
        return "number", [write_number(expression.value)]
    if isinstance(expression, ParameterReference):
        return "parameter", [expression.name]
    if not isinstance(expression, Call):
        return None
    for model in VALUE_MODELS:
        if model.function == expression.function and len(model.arguments) == len(expression.arguments):
            fields = [_write_argument(part) for part in expression.arguments]
            return None if None in fields else (model.key, [field or "" for field in fields])
    if expression.function == "lognormal-deviate" and len(expression.arguments) == 2:
        return None  # mu and sigma of the logarithm
    return None


def complete_edit(edit: Mapping[str, Any]) -> dict[str, Any]:
    """Return an edit with what was typed turned into our JSON form, as `apply_edit` and the steps of a draft take it.

    typed : {"expression": {"model": key, "arguments": [text, ...]}, "distribution": text, "factors": {level: text}}
    """
    plain = {name: value for name, value in edit.items() if name != "typed"}
    typed = edit.get("typed")
    if typed is None:
        return plain
    if not isinstance(typed, Mapping):
        raise EditRefused("What was typed can't be read.", "Send it as an object.", "typed")
    for name, value in typed.items():
        if name == "expression" and isinstance(value, Mapping):
            arguments = [str(text) for text in value.get("arguments", ())]
            is_empty = value.get("model") == "number" and arguments == [""]
            found = None if is_empty else read_typed(str(value.get("model", "")), arguments)
            plain[name] = None if found is None else write_expression(found)
        elif name == "factors" and isinstance(value, Mapping):
            plain[name] = {
                str(level): write_expression(_read_argument(str(text), Argument("Factor"), f"factors-{level}"))
                for level, text in value.items()
            }
        elif name == "distribution":
            plain[name] = write_expression(_read_argument(str(value), Argument("Probability"), name))
    return plain


def write_number(value: float) -> str:
    """Return a number as people type it, short and without loss."""
    return f"{value:.0f}" if value == round(value) and abs(value) < 1e6 else repr(value)


def _read_argument(text: str, argument: Argument, field: str) -> Expression:
    text = text.strip()
    if not text:
        if argument.empty == "mission time":
            return MissionTime()
        text = argument.empty
    if not text:
        raise EditRefused(f"{argument.label} is missing.", "Give a number or the name of a parameter.", field)
    if NAME.match(text):
        return ParameterReference(text)
    try:
        value = float(text.replace("−", "-"))
    except ValueError:
        message = f"{argument.label}: “{text[:40]}” is neither a number nor the name of a parameter."
        raise EditRefused(message, "Write a number like 0.001 or 1e-3.", field) from None
    if not math.isfinite(value):
        raise EditRefused(f"{argument.label} is not finite.", "Give a number.", field)
    return Number(value)


def _write_argument(part: Expression) -> str | None:
    if isinstance(part, MissionTime):
        return ""
    if isinstance(part, ParameterReference):
        return part.name
    return write_number(part.value) if isinstance(part, Number) else None
