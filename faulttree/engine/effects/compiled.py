"""One tree, solved once, in which every choice of options is another vector of probabilities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.analysis.probability import evaluate, evaluate_batch
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.effects.apply import describe_additions
from faulttree.engine.effects.checks import check_effects, name_additions
from faulttree.engine.effects.kinds import ADDING, Effect, EffectKind, do_clash, find_clashes, group_by_target
from faulttree.engine.effects.structure import put_behind
from faulttree.engine.effects.values import change_value, part_draws
from faulttree.engine.errors import BadModel, LimitReached, Problem
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.netlist import Netlist
from faulttree.engine.model import BasicEvent, Expression, Model, Number
from faulttree.engine.overrides import members_of_groups
from faulttree.engine.validate import check_model, choose_top

Values = NDArray[np.float64]
Sets = NDArray[np.bool_]
"""Sets of options, bool[N, n]: which of n options each of N sets holds."""

MOST_ON_ONE_EVENT = 12
SWITCH = "\0switch "  # no name of a model holds it


@dataclass(frozen=True)
class Lever:
    """One variable that options change.

    place : of the variable
    options : places of the options
    values : float64[2**m], its probability by the options that are chosen, the first option being bit 0; NaN where
        those can't hold together
    expressions : by the same index, what the value is computed from; None for one that is certain to be `values`
    """

    place: int
    options: tuple[int, ...]
    values: Values
    expressions: tuple[Expression | None, ...]

    def find_states(self, sets: Sets) -> NDArray[np.int64]:
        """Return int64[N], the index of each set."""
        return np.asarray(sets[:, self.options] @ (1 << np.arange(len(self.options))), np.int64)


@dataclass(frozen=True)
class Compiled:
    """A tree with all effects of all options built in, none of them in force.

    clashes : places of the options that can't hold together
    base : float64[V], probabilities with no option chosen
    """

    model: Model
    options: tuple[str, ...]
    clashes: tuple[tuple[int, int], ...]
    mission_time: float | None
    netlist: Netlist
    table: EventTable
    base: Values
    levers: tuple[Lever, ...]
    solution: Solution

    def fill(self, sets: Sets) -> Values:
        """Return float64[N, V], the probabilities of each set; NaN where options of it can't hold together."""
        p = np.repeat(self.base[None, :], len(sets), axis=0)
        for lever in self.levers:
            p[:, lever.place] = lever.values[lever.find_states(sets)]
        return p

    def are_possible(self, sets: Sets) -> Sets:
        """Return bool[N]: whether the options of each set can hold together."""
        possible = np.ones(len(sets), bool)
        for one, other in self.clashes:
            possible &= ~(sets[:, one] & sets[:, other])
        return possible

    def evaluate_sets(self, sets: Sets) -> Values:
        """Return float64[N], the top-event probability of each set, at least to about 1e-15 of 1."""
        return evaluate_batch(self.solution, self.fill(sets))

    def evaluate_exactly(self, chosen: Sequence[bool] | NDArray[np.bool_]) -> float:
        """Return the top-event probability of one set, with all digits however small it is."""
        return evaluate(self.solution, self.fill(np.asarray(chosen, bool)[None, :])[0]).holds

    def sample(self, sets: Sets, sampling: Sampling) -> Values:
        """Return float64[N, S], the top event in the same samples for each set."""
        base = self.table.sample(self.mission_time, sampling).probability
        known: dict[tuple[int, int], Values] = {}
        out = np.empty((len(sets), len(base)))
        states = [lever.find_states(sets) for lever in self.levers]
        for row in range(len(sets)):
            p = base.copy()
            for lever, state in zip(self.levers, states, strict=True):
                key = lever.place, int(state[row])
                if key not in known:
                    known[key] = self._sample_lever(lever, key[1], sampling)
                p[:, lever.place] = known[key]
            out[row] = evaluate_batch(self.solution, p)
        return out

    def _sample_lever(self, lever: Lever, state: int, sampling: Sampling) -> Values:
        expression = lever.expressions[state]
        if expression is None:
            return np.full(sampling.stop - sampling.start, lever.values[state])
        name = self.netlist.variables[lever.place]
        return _tabulate(self.model, name, expression).sample(self.mission_time, sampling).probability[:, 0]


def compile_options(
    model: Model, top: str, options: Sequence[str], effects: Sequence[Effect], mission_time: float | None, watch: Watch
) -> Compiled:
    """Return the tree solved with all effects built in; raises BadModel, LimitReached.

    mission_time : hours
    """
    _check_options(options, effects)
    check_effects(model, effects)
    check_model(model)
    top = choose_top(model, top)
    members = members_of_groups(model)
    names = name_additions(model, effects)
    base = part_draws(model, effects)
    built = base
    adders: dict[str, tuple[set[str], float]] = {}
    for target, together in group_by_target(effects).items():
        additions = describe_additions(effects, names, target)
        for name, (label, expression) in additions.items():
            assert isinstance(expression, Number)
            adders[name] = (_adder(effects, names, name), expression.value)
            additions[name] = (label, Number(1.0))
        out = {effect.option for effect in together if effect.kind == EffectKind.RULED_OUT}
        if out and target in members:
            adders[SWITCH + target] = (out, 0.0)
            additions[SWITCH + target] = ("", Number(1.0))
        if additions:
            built = put_behind(built, target, additions)
    built = expand_common_cause(built)
    netlist = compile_model(built, top)
    table = EventTable(built, netlist.variables)
    p = table.probabilities(mission_time)
    levers = []
    for place, variable in enumerate(netlist.variables):
        if variable in adders:
            keys, amount = adders[variable]
            levers.append(_make_adder(place, [options.index(key) for key in sorted(keys)], amount))
        else:
            here = [e for e in effects if e.target == variable and e.kind not in ADDING]
            if here:
                levers.append(_make_lever(built, place, variable, options, here, mission_time))
    solution = solve(netlist, watch)
    pairs = [sorted(options.index(key) for key in pair) for pair in find_clashes(effects)]
    clashes = tuple(sorted((one, other) for one, other in pairs))
    return Compiled(built, tuple(options), clashes, mission_time, netlist, table, p, tuple(levers), solution)


def _check_options(options: Sequence[str], effects: Sequence[Effect]) -> None:
    if len(set(options)) < len(options):
        raise BadModel(Problem("Two options have the same key.", "Name each option once.", "options"))
    for effect in effects:
        if effect.option not in options:
            message = f"There is no option {effect.option}, which an effect on {effect.target} belongs to."
            raise BadModel(Problem(message, "Add the option, or take the effect back.", "options"))


def _adder(effects: Sequence[Effect], names: dict[int, str], name: str) -> set[str]:
    return {effect.option for place, effect in enumerate(effects) if names.get(place) == name}


def _make_adder(place: int, options: list[int], amount: float) -> Lever:
    values = np.full(1 << len(options), amount)
    values[0] = 1.0
    return Lever(place, tuple(options), values, (None,) * len(values))


def _make_lever(
    model: Model, place: int, name: str, options: Sequence[str], effects: Sequence[Effect], hours: float | None
) -> Lever:
    """Every state of an event that effects change the value of."""
    keys = [key for key in options if any(effect.option == key for effect in effects)]
    if len(keys) > MOST_ON_ONE_EVENT:
        message = f"{len(keys)} options change {name}; at most {MOST_ON_ONE_EVENT} are weighed on one event."
        raise LimitReached("options", message)
    values = np.full(1 << len(keys), np.nan)
    expressions: list[Expression | None] = [None] * len(values)
    for state in range(len(values)):
        here = [effect for effect in effects if state >> keys.index(effect.option) & 1]
        if any(do_clash(a, b) for i, a in enumerate(here) for b in here[:i]):
            continue
        if any(effect.kind == EffectKind.RULED_OUT for effect in here):
            values[state] = 0.0
            continue
        expression = change_value(model, name, here)
        assert expression is not None
        expressions[state] = expression
        values[state] = _tabulate(model, name, expression).probabilities(hours)[0]
    return Lever(place, tuple(options.index(key) for key in keys), values, tuple(expressions))


def _tabulate(model: Model, name: str, expression: Expression) -> EventTable:
    event = replace(model.basic_events.get(name) or BasicEvent(name), expression=expression)
    return EventTable(replace(model, basic_events={name: event}), (name,))
