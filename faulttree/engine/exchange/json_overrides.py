"""Overrides in plain JSON; engine/overrides.py shows the shape."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.json_values import ValueReader, write_expression
from faulttree.engine.model import Expression
from faulttree.engine.overrides import PLACE, Overrides
from faulttree.engine.problems import Problems

MOST = 2_000
DEEPEST = 40
PARTS = ("events", "houses", "parameters", "mission_time")

Setting = TypeVar("Setting")


def read_overrides(data: Any) -> Overrides:
    """Return the overrides that JSON says; raises BadModel with everything that is wrong with it."""
    problems = Problems()
    if not isinstance(data, Mapping):
        problems.add(PLACE, None, "The overrides are not an object.", 'Write {"events": {...}}.')
        raise BadModel(*problems.found)
    for name in data:
        if name not in PARTS:
            problems.add(PLACE, None, f"There is no part {name}.", f"Use {', '.join(PARTS)}.")
    read = _Reader(problems, ValueReader(problems))
    overrides = Overrides(
        events=read.part(data, "events", read.event),
        houses=read.part(data, "houses", read.switch),
        parameters=read.part(data, "parameters", read.expression),
        mission_time=read.mission_time(data.get("mission_time")),
    )
    problems.raise_any()
    return overrides


def write_overrides(overrides: Overrides) -> dict[str, Any]:
    """Return the overrides as JSON: names in order, without what is empty."""
    events = {
        name: setting if isinstance(setting, bool) else write_expression(setting)
        for name, setting in sorted(overrides.events.items())
    }
    parameters = {name: write_expression(value) for name, value in sorted(overrides.parameters.items())}
    parts = {"events": events, "houses": dict(sorted(overrides.houses.items())), "parameters": parameters}
    data: dict[str, Any] = {name: part for name, part in parts.items() if part}
    if overrides.mission_time is not None:
        data["mission_time"] = overrides.mission_time
    return data


class _Reader:
    """Reads settings; what is wrong goes to the problems, each under the name it belongs to."""

    def __init__(self, problems: Problems, values: ValueReader) -> None:
        self._problems = problems
        self._values = values

    def part(self, data: Mapping[str, Any], name: str, read: Callable[[Any, str], Setting]) -> dict[str, Setting]:
        """Return one part, names in order; an absent one is empty."""
        part = data.get(name, {})
        if not isinstance(part, Mapping) or not all(isinstance(key, str) for key in part):
            self._problems.add(f"{PLACE}/{name}", None, "This is not an object.", 'Write {"name": ...}.')
            return {}
        if len(part) > MOST:
            self._problems.add(f"{PLACE}/{name}", None, f"There are {len(part):,} of them.", f"Give at most {MOST:,}.")
            return {}
        return {key: read(value, f"{PLACE}/{name}/{key}") for key, value in sorted(part.items())}

    def event(self, value: Any, where: str) -> bool | Expression:
        """Return false (ruled out), true (certain) or an expression."""
        return value if isinstance(value, bool) else self.expression(value, where)

    def switch(self, value: Any, where: str) -> bool:
        """Return the value of a house event."""
        if not isinstance(value, bool):
            self._problems.add(where, None, "A house event is true or false.", "Write one of the two.")
        return value is True

    def expression(self, value: Any, where: str) -> Expression:
        """Return an expression of a bearable depth."""
        if _is_too_deep(value):
            self._problems.add(where, None, "The expression is nested too deeply.", f"Use {DEEPEST} levels at most.")
            value = 0
        return self._values.expression(value, where)

    def mission_time(self, value: Any) -> float | None:
        """Return hours, None where none are given."""
        is_number = isinstance(value, int | float) and not isinstance(value, bool)
        if value is None or (is_number and 0.0 <= value < math.inf and value < 1e308):
            return None if value is None else float(value)
        self._problems.add(f"{PLACE}/mission_time", None, "This is no mission time.", "Give hours, 0 or more.")
        return None


def _is_too_deep(value: Any) -> bool:
    waiting = [(value, 0)]
    while waiting:
        part, depth = waiting.pop()
        if depth > 2 * DEEPEST:
            return True
        inner = list(part.values()) if isinstance(part, dict) else part if isinstance(part, list) else []
        waiting.extend((item, depth + 1) for item in inner)
    return False
