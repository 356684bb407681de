"""Events of a diagram tinted by a measure: five steps of one hue, by powers of ten where the values span them."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass

from config.kit.figures import write_plain
from faulttree.drawing.graph import FaultGraph
from faulttree.drawing.shades import STEPS, Shade
from faulttree.reads.answers import Answer
from faulttree.reads.tables import MEASURES, list_importance

PROBABILITY = "probability"
ROUNDING = 1e-9
"""A value so near above the end of a step still belongs to it."""
LOG_FROM = 10.0
"""From this ratio of the largest to the smallest value above 0 on, steps go by equal factors."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the legend: which values it stands for, and how many events have one of them."""

    number: int
    words: str
    count: int


@dataclass(frozen=True)
class Shading:
    """The tint of every event that has a value, and the legend.

    by_factor : the steps go by equal factors, not by equal differences
    without : how many events have no value and stay plain
    """

    key: str
    name: str
    by_factor: bool
    steps: tuple[Step, ...]
    shades: Mapping[str, Shade]
    without: int


def list_choices(answer: Answer | None) -> list[tuple[str, str]]:
    """Return the measures that events can be tinted by; none without an answer."""
    if answer is None:
        return []
    measures = [(measure.key, measure.name) for measure in MEASURES] if answer.data.get("importance") else []
    return [(PROBABILITY, "Probability"), *measures]


def read_shading(answer: Answer | None, graph: FaultGraph, key: str) -> Shading | None:
    """Return the shading by a measure; None where it isn't one of the choices or no event has a value."""
    name = dict(list_choices(answer)).get(key)
    if name is None or answer is None:
        return None
    values = _read_values(answer, graph, key)
    known = {event: value for event, value in values.items() if value is not None}
    if not known:
        return None
    scale = _Scale(list(known.values()))
    steps = {event: scale.step_of(value) for event, value in known.items()}
    counts = [list(steps.values()).count(number) for number in range(1, STEPS + 1)]
    return Shading(
        key=key,
        name=name,
        by_factor=scale.by_factor,
        steps=tuple(Step(number, scale.say(number), counts[number - 1]) for number in scale.numbers),
        shades={event: Shade(steps[event], f"{name} {write_plain(value, 4)}") for event, value in known.items()},
        without=len(values) - len(known),
    )


def _read_values(answer: Answer, graph: FaultGraph, key: str) -> dict[str, float | None]:
    if key == PROBABILITY:
        return {node.name: node.probability for node in graph.nodes.values() if node.kind == "basic"}
    place = [measure.key for measure in MEASURES].index(key)
    return {row.event.name: row.values[place] for row in list_importance(answer, graph, {})}


class _Scale:
    """The five steps between the least and the largest value; infinite values are in the last."""

    def __init__(self, values: list[float]) -> None:
        finite = [value for value in values if math.isfinite(value)]
        above = [value for value in finite if value > 0.0]
        self._has_infinite = len(finite) < len(values)
        low, high = (min(finite), max(finite)) if finite else (0.0, 0.0)
        self.by_factor = bool(above) and max(above) / min(above) >= LOG_FROM
        self._has_below = self.by_factor and len(above) < len(finite)
        if self.by_factor:
            least = min(above)
            shares = [(high / least) ** (number / STEPS) for number in range(STEPS + 1)]
            self._edges = [least * share for share in shares]
        else:
            self._edges = [low + (high - low) * number / STEPS for number in range(STEPS + 1)]
        self._edges[-1] = high
        self.is_single = high == low and not self._has_infinite

    @property
    def numbers(self) -> range:
        """The steps of the legend: all, or the middle one where all values are the same."""
        return range(3, 4) if self.is_single else range(1, STEPS + 1)

    def step_of(self, value: float) -> int:
        """Return the step of a value, from 1."""
        if self.is_single:
            return 3
        if math.isinf(value):
            return STEPS
        return bisect_left(self._edges, value - ROUNDING * abs(value), 1, STEPS)

    def say(self, number: int) -> str:
        """Return which values a step stands for."""
        low, high = write_plain(self._edges[number - 1], 2), write_plain(self._edges[number], 2)
        if self.is_single:
            return write_plain(self._edges[0], 3)
        if number == 1 and self._has_below:
            return f"up to {high}"
        if number == STEPS and self._has_infinite:
            return f"{low} to ∞"
        return f"{low} to {high}"
