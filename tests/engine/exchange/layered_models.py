"""Random models with all that the formats can hold: components, private names, groups, any expression."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from hypothesis import strategies as st

from faulttree.engine.events.functions import FUNCTIONS
from faulttree.engine.exchange.names import NameSpace
from faulttree.engine.exchange.read_xml import UNITS
from faulttree.engine.model import (
    BasicEvent,
    Call,
    Combination,
    CommonCauseGroup,
    Connective,
    Container,
    Expression,
    Formula,
    Gate,
    HouseEvent,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
    Reference,
    Truth,
)

OWN_NAMES = ("a", "b", "pump", "valve-1", "Größe", "x_2")  # few, so that scopes hide one another
TEXTS = st.text(
    st.characters(exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn")) | st.sampled_from("\n\t <>&'\""), max_size=12
)
LABELS = TEXTS.map(lambda text: " ".join(text.split()))
ATTRIBUTES = st.lists(st.tuples(TEXTS, TEXTS, TEXTS), max_size=2).map(tuple)
ROLES = st.sampled_from(("public", "private"))
SHARES = st.floats(0.0, 1.0)


@dataclass
class _Scopes:
    """What the draws so far have defined."""

    containers: list[Container]
    events: NameSpace = field(default_factory=NameSpace)
    parameters: NameSpace = field(default_factory=NameSpace)
    groups: NameSpace = field(default_factory=NameSpace)


@st.composite
def layered_models(draw: st.DrawFn) -> Model:
    """A model that every check accepts; references go to elements drawn before.

    All names are placed first: a later one could hide an earlier one from a reference.
    """
    scopes = _Scopes(draw(_containers()))
    placed_parameters = draw(_places(scopes, scopes.parameters, "parameter", 4))
    placed_basics = draw(_places(scopes, scopes.events, "basic-event", 4))
    placed_houses = draw(_places(scopes, scopes.events, "house-event", 2))
    placed_gates = draw(_places(scopes, scopes.events, "gate", 5))
    parameters: dict[str, Parameter] = {}
    for name, placing in placed_parameters.items():
        expression = draw(_guarded(_visible(scopes.parameters, parameters, placing)))
        parameters[name] = Parameter(name, expression, draw(st.sampled_from(("", *UNITS))), placing)
    basics: dict[str, BasicEvent] = {}
    for name, placing in placed_basics.items():
        optional = st.none() | _guarded(_visible(scopes.parameters, parameters, placing))
        basics[name] = BasicEvent(name, draw(optional), placing)
    houses = {name: HouseEvent(name, draw(st.booleans()), placing) for name, placing in placed_houses.items()}
    gates: dict[str, Gate] = {}
    for name, placing in placed_gates.items():
        pool = _visible(scopes.events, {**basics, **houses, **gates}, placing)
        gates[name] = Gate(name, draw(_formulas(pool)), placing)
    groups = draw(_groups(scopes, parameters, basics))
    name, label, attributes = draw(TEXTS), draw(LABELS), draw(ATTRIBUTES)
    return Model(name, label, tuple(scopes.containers), gates, basics, houses, parameters, groups, attributes)


@st.composite
def _containers(draw: st.DrawFn) -> list[Container]:
    found: dict[tuple[str, ...], Container] = {}

    def grow(path: tuple[str, ...], depth: int) -> None:
        if path not in found:
            found[path] = Container(path, draw(ROLES), draw(LABELS), draw(ATTRIBUTES))
            for name in draw(st.lists(st.sampled_from(OWN_NAMES), max_size=2, unique=True)) if depth else ():
                grow((*path, name), depth - 1)

    for name in draw(st.lists(st.sampled_from(("t", "a")), min_size=1, max_size=2, unique=True)):
        grow((name,), 2)
    return list(found.values())


@st.composite
def _places(draw: st.DrawFn, scopes: _Scopes, space: NameSpace, kind: str, most: int) -> dict[str, Placing]:
    """Up to so many elements of a kind, by unique name."""
    paths = [container.path for container in scopes.containers]
    placed = {}
    for _ in range(draw(st.integers(0, most))):
        path = draw(st.sampled_from(paths if kind == "gate" else [(), *paths]))
        role = draw(ROLES) if path else "public"
        unique = space.add(draw(st.sampled_from(OWN_NAMES)), path, role, kind)
        if unique is not None:
            placed[unique] = Placing(path, role, draw(LABELS), draw(ATTRIBUTES))
    return placed


def _visible(space: NameSpace, elements: Iterable[str], placing: Placing) -> list[str]:
    return [name for name in elements if space.spell(name, placing.path) is not None]


@st.composite
def _formulas(draw: st.DrawFn, pool: list[str], depth: int = 3) -> Formula:
    kind = draw(st.integers(0, 9))
    if kind == 0 or (not pool and depth == 0):
        return Truth(draw(st.booleans()))
    if pool and (kind < 5 or depth == 0):
        return Reference(draw(st.sampled_from(pool)))
    connective = draw(st.sampled_from(tuple(Connective)))
    least, most = {"not": (1, 1), "imply": (2, 2), "iff": (2, 3)}.get(connective, (1, 3))
    arguments = draw(st.lists(_formulas(pool, depth - 1), min_size=least, max_size=most))
    low = high = None
    if connective in ("atleast", "cardinality"):
        low = draw(st.integers(1, len(arguments)))
        high = draw(st.integers(low, len(arguments))) if connective == "cardinality" else None
    return Combination(connective, tuple(arguments), low, high)


def _guarded(parameters: list[str]) -> st.SearchStrategy[Expression]:
    """A share, or any expression as a case that counts at some mission times only, so that no check can refuse it."""
    condition = Call("gt", (MissionTime(), Number(1.0)))
    cases = _expressions(parameters).map(lambda case: Call("ite", (condition, case, Number(0.5))))
    return SHARES.map(Number) | cases


@st.composite
def _expressions(draw: st.DrawFn, parameters: list[str], depth: int = 2) -> Expression:
    kind = draw(st.integers(0, 5))
    if kind == 0 and parameters:
        return ParameterReference(draw(st.sampled_from(parameters)))
    if kind == 1:
        return MissionTime()
    if kind == 2 or depth == 0:
        return Number(draw(st.floats(allow_nan=False, allow_infinity=False)))
    function = FUNCTIONS[draw(st.sampled_from(tuple(FUNCTIONS)))]
    count = draw(st.integers(function.least, min(function.most, function.least + 2)).filter(function.accepts))
    return Call(function.name, tuple(draw(_expressions(parameters, depth - 1)) for _ in range(count)))


@st.composite
def _groups(
    draw: st.DrawFn, scopes: _Scopes, parameters: dict[str, Parameter], basics: dict[str, BasicEvent]
) -> dict[str, CommonCauseGroup]:
    placed = draw(_places(scopes, scopes.groups, "group", 1))
    if not placed:
        return {}
    [(name, placing)] = placed.items()
    pool = _visible(scopes.events, basics, placing)
    if len(pool) < 2:
        return {}
    members = tuple(draw(st.permutations(pool))[: draw(st.integers(2, len(pool)))])
    model = draw(st.sampled_from(("beta-factor", "MGL", "alpha-factor", "phi-factor")))
    n = len(members)
    levels = {"beta-factor": [draw(st.sampled_from((2, n)))], "MGL": range(2, n + 1)}.get(model, range(1, n + 1))
    factors = tuple((level, Number(1.0 / n if model == "phi-factor" else draw(SHARES))) for level in levels)
    distribution = draw(_guarded(_visible(scopes.parameters, parameters, placing)))
    return {name: CommonCauseGroup(name, model, members, distribution, factors, placing)}
