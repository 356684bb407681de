"""A fault-tree model as its author wrote it: gates, events, parameters, expressions.

Everything here is immutable. Names are unique in a model and are what references hold: a public
element is known by its own name, a private one by its dotted path (`tree.component.event`).
`Model` keeps elements in the order of the source, so that writing it back is stable.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias


class Connective(StrEnum):
    """The connectives of a formula, by the names of the Open-PSA Model Exchange Format."""

    AND = "and"
    OR = "or"
    NOT = "not"
    XOR = "xor"  # associative: true when an odd number of arguments is true
    IFF = "iff"
    NAND = "nand"
    NOR = "nor"
    IMPLY = "imply"
    ATLEAST = "atleast"
    CARDINALITY = "cardinality"


@dataclass(frozen=True, slots=True)
class Reference:
    """A gate, basic event or house event, by its unique name in the model."""

    name: str


@dataclass(frozen=True, slots=True)
class Truth:
    """A Boolean constant."""

    value: bool


@dataclass(frozen=True, slots=True)
class Combination:
    """A connective over arguments; `low` is the min of atleast and cardinality, `high` the max of cardinality."""

    connective: Connective
    arguments: tuple[Formula, ...]
    low: int | None = None
    high: int | None = None


Formula: TypeAlias = "Reference | Truth | Combination"


@dataclass(frozen=True, slots=True)
class Number:
    """A real constant."""

    value: float


@dataclass(frozen=True, slots=True)
class ParameterReference:
    """A parameter, by its unique name in the model."""

    name: str


@dataclass(frozen=True, slots=True)
class MissionTime:
    """The mission time of the run, in hours."""


@dataclass(frozen=True, slots=True)
class Call:
    """A function of the exchange format over expressions, arguments in its order.

    `function` is the element's name: `add`, `exp`, `ite`, `exponential`, `GLM`, `Weibull`,
    `periodic-test`, `uniform-deviate`, `lognormal-deviate`, `histogram`, ... A histogram's
    arguments are start, upper bound 1, value 1, upper bound 2, value 2, ...
    """

    function: str
    arguments: tuple[Expression, ...] = ()


Expression: TypeAlias = "Number | ParameterReference | MissionTime | Call"


@dataclass(frozen=True, slots=True)
class Placing:
    """Where an element stands in its source and what is said about it there.

    `path` names the containers from the fault tree down, empty for `model-data`; `role` is
    "public" or "private" as it applies to the element; `line` is 1-based.
    """

    path: tuple[str, ...] = ()
    role: str = "public"
    label: str = ""
    attributes: tuple[tuple[str, str, str], ...] = ()  # name, value, type ("" if none)
    line: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Gate:
    """An intermediate or top event."""

    name: str
    formula: Formula
    placing: Placing = Placing()


@dataclass(frozen=True, slots=True)
class BasicEvent:
    """A leaf with a probability; `expression` is None where the source gives none."""

    name: str
    expression: Expression | None = None
    placing: Placing = Placing()


@dataclass(frozen=True, slots=True)
class HouseEvent:
    """A switch set by the analyst; false unless said otherwise."""

    name: str
    value: bool = False
    placing: Placing = Placing()


@dataclass(frozen=True, slots=True)
class Parameter:
    """A named expression shared by events; drawn once per sample in an uncertainty run."""

    name: str
    expression: Expression
    unit: str = ""
    placing: Placing = Placing()


@dataclass(frozen=True, slots=True)
class CommonCauseGroup:
    """Basic events that can fail together from one cause.

    model : "beta-factor", "MGL", "alpha-factor" or "phi-factor"
    distribution : total failure probability of each member
    factors : (level, expression) in rising level; beta-factor has the single level 2 or n
    """

    name: str
    model: str
    members: tuple[str, ...]
    distribution: Expression
    factors: tuple[tuple[int, Expression], ...]
    placing: Placing = Placing()


@dataclass(frozen=True, slots=True)
class Container:
    """A fault tree (path of length 1) or a component inside one."""

    path: tuple[str, ...]
    role: str = "public"
    label: str = ""
    attributes: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True)
class Model:
    """A whole model. Mappings go from the unique name to the element, in source order."""

    name: str = ""
    label: str = ""
    containers: tuple[Container, ...] = ()
    gates: Mapping[str, Gate] = field(default_factory=dict)
    basic_events: Mapping[str, BasicEvent] = field(default_factory=dict)
    house_events: Mapping[str, HouseEvent] = field(default_factory=dict)
    parameters: Mapping[str, Parameter] = field(default_factory=dict)
    common_cause_groups: Mapping[str, CommonCauseGroup] = field(default_factory=dict)
    attributes: tuple[tuple[str, str, str], ...] = ()


def references(formula: Formula) -> Iterator[str]:
    """Yield the name of every gate or event in a formula, left to right, with repeats."""
    stack: list[Formula] = [formula]
    while stack:
        item = stack.pop()
        if isinstance(item, Reference):
            yield item.name
        elif isinstance(item, Combination):
            stack.extend(reversed(item.arguments))
