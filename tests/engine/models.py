"""Small models for tests: builders with few words, and random ones for hypothesis."""

from __future__ import annotations

from collections.abc import Mapping

from hypothesis import strategies as st

from faulttree.engine.model import (
    BasicEvent,
    Combination,
    Connective,
    Expression,
    Formula,
    Gate,
    HouseEvent,
    Model,
    Number,
    Reference,
    Truth,
)


def combine(connective: str, *arguments: str | Formula, low: int | None = None, high: int | None = None) -> Combination:
    """A formula over names or formulas; a name with a leading "-" is negated."""
    return Combination(Connective(connective), tuple(map(_formula, arguments)), low, high)


def _formula(argument: str | Formula) -> Formula:
    if not isinstance(argument, str):
        return argument
    if argument.startswith("-"):
        return Combination(Connective.NOT, (Reference(argument[1:]),))
    return Reference(argument)


def both(*arguments: str | Formula) -> Combination:
    """AND."""
    return combine("and", *arguments)


def either(*arguments: str | Formula) -> Combination:
    """OR."""
    return combine("or", *arguments)


def make_model(
    gates: Mapping[str, Formula],
    events: Mapping[str, float | Expression],
    houses: Mapping[str, bool] | None = None,
) -> Model:
    """A model without containers; numbers become constant probabilities."""
    return Model(
        gates={name: Gate(name, formula) for name, formula in gates.items()},
        basic_events={
            name: BasicEvent(name, Number(float(value)) if isinstance(value, int | float) else value)
            for name, value in events.items()
        },
        house_events={name: HouseEvent(name, value) for name, value in (houses or {}).items()},
    )


def evaluate_formula(model: Model, formula: Formula, state: Mapping[str, bool]) -> bool:
    """Truth of a formula, straight from the meaning of its connectives."""
    if isinstance(formula, Truth):
        return formula.value
    if isinstance(formula, Reference):
        if formula.name in model.gates:
            return evaluate_formula(model, model.gates[formula.name].formula, state)
        if formula.name in model.house_events:
            return model.house_events[formula.name].value
        return state[formula.name]
    values = [evaluate_formula(model, argument, state) for argument in formula.arguments]
    match formula.connective:
        case Connective.AND:
            return all(values)
        case Connective.OR:
            return any(values)
        case Connective.NOT:
            return not values[0]
        case Connective.XOR:
            return sum(values) % 2 == 1
        case Connective.IFF:
            result = values[0]
            for value in values[1:]:  # associative, as the exchange format says
                result = result == value
            return result
        case Connective.NAND:
            return not all(values)
        case Connective.NOR:
            return not any(values)
        case Connective.IMPLY:
            return not values[0] or values[1]
        case Connective.ATLEAST:
            return sum(values) >= (formula.low or 0)
        case Connective.CARDINALITY:
            return (formula.low or 0) <= sum(values) <= (formula.high or 0)


_COHERENT = ("and", "or", "atleast")
_ALL = (*_COHERENT, "xor", "iff", "nand", "nor", "imply", "cardinality", "not")

PROBABILITIES = st.one_of(st.floats(0.001, 0.999), st.sampled_from([0.0, 1.0, 1e-9, 0.5]))


@st.composite
def random_models(draw: st.DrawFn, *, coherent: bool = False, most_events: int = 8) -> Model:
    """A model with the gates g0, g1, ..., the last one the top; arguments are earlier gates and any events."""
    names = [f"e{i}" for i in range(draw(st.integers(1, most_events)))]
    gates: dict[str, Formula] = {}
    houses = {"h": True, "l": False} if draw(st.booleans()) and not coherent else {}
    for g in range(draw(st.integers(1, 7))):
        pool = [*names, *gates, *houses]
        connective = draw(st.sampled_from(_COHERENT if coherent else _ALL))
        least, most = {"not": (1, 1), "imply": (2, 2), "iff": (2, 3)}.get(connective, (1, 4))
        arguments = draw(st.lists(st.sampled_from(pool), min_size=least, max_size=most))
        low = high = None
        if connective in ("atleast", "cardinality"):
            low = draw(st.integers(0 if connective == "cardinality" else 1, len(arguments)))
            high = draw(st.integers(low, len(arguments))) if connective == "cardinality" else None
        gates[f"g{g}"] = combine(connective, *arguments, low=low, high=high)
    return make_model(gates, {name: draw(PROBABILITIES) for name in names}, houses)


def top_of(model: Model) -> str:
    """The last gate of a random model."""
    return list(model.gates)[-1]
