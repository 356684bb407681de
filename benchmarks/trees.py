"""Trees made by seed for measurements: coherent, with repeated events and k-of-n gates, like those that people draw."""

from __future__ import annotations

import random
from math import log

from faulttree.engine.model import (
    BasicEvent,
    Call,
    Combination,
    Connective,
    Expression,
    Gate,
    MissionTime,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Reference,
)

REPEATED = 0.15  # share of a gate's inputs that are events used elsewhere too
VOTES = 0.12  # share of gates that are k-of-n


def make_tree(events: int, seed: int = 1, *, uncertain: bool = False) -> Model:
    """Return a coherent tree of so many basic events, top event "TOP"; the same for the same seed.

    Events are gathered into gates of two to five inputs from the leaves up, subsystem by subsystem, until one is
    left: most OR, then AND, then k-of-n. Each event is used; some are used again in gates near by, as supplies
    and sensors are. A third of the events are exponential over the mission time with rates shared by groups
    of events, the rest constant. `uncertain` makes every rate and constant a lognormal deviate.
    """
    draw = random.Random(seed)
    names = [f"E{n:03d}" for n in range(events)]
    gates: dict[str, Gate] = {}
    level = list(names)
    while len(level) > 1:
        level = _gather(draw, level, names, gates)
    (last,) = level
    gates["TOP"] = Gate("TOP", gates.pop(last).formula)
    rates = {f"rate-{n}": _uncertain(10.0 ** draw.uniform(-7, -4.5), uncertain) for n in range(max(1, events // 15))}
    basic = {name: BasicEvent(name, _law(draw, list(rates), uncertain)) for name in names}
    parameters = {name: Parameter(name, rate, "hours-1") for name, rate in rates.items()}
    return Model(name=f"made-{events}-{seed}", gates=gates, basic_events=basic, parameters=parameters)


def _gather(draw: random.Random, level: list[str], names: list[str], gates: dict[str, Gate]) -> list[str]:
    """One more level of gates over what stands side by side."""
    above, place = [], 0
    while place < len(level):
        width = draw.randint(2, 5)
        inputs = level[place : place + width]
        place += width
        if len(inputs) == 1:
            above.append(inputs[0])
            continue
        centre = names.index(inputs[0]) if inputs[0] in names else draw.randrange(len(names))
        near = names[max(0, centre - 20) : centre + 20]
        extra = [draw.choice(near) for _ in inputs if draw.random() < REPEATED]
        inputs = list(dict.fromkeys([*inputs, *extra]))
        name = f"G{len(gates):03d}"
        gates[name] = Gate(name, _formula(draw, inputs, of_gates=inputs[0] in gates))
        above.append(name)
    return above


def _formula(draw: random.Random, inputs: list[str], *, of_gates: bool) -> Combination:
    """AND gates stand rather at the bottom, as redundancy does; else the top event would be all but impossible."""
    references = tuple(map(Reference, inputs))
    chance = draw.random()
    if chance < VOTES and len(inputs) > 2:
        return Combination(Connective.ATLEAST, references, draw.randint(2, len(inputs) - 1))
    return Combination(Connective.OR if chance < VOTES + (0.7 if of_gates else 0.48) else Connective.AND, references)


def _law(draw: random.Random, rates: list[str], uncertain: bool) -> Expression:
    if draw.random() < 1.0 / 3.0:
        return Call("exponential", (ParameterReference(draw.choice(rates)), MissionTime()))
    return _uncertain(10.0 ** draw.uniform(-4, -2), uncertain)


def _uncertain(median: float, uncertain: bool) -> Expression:
    if not uncertain:
        return Number(median)
    return Call("lognormal-deviate", (Number(log(median)), Number(0.7)))
