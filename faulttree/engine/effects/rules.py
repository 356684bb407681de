"""Which sets of options may be chosen: limits, what must be in, what excludes and needs what."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from faulttree.engine.effects.compiled import Sets, Values
from faulttree.engine.effects.kinds import RESOURCES, Limits, Option
from faulttree.engine.errors import BadModel, Problem

ROUNDING = 1e-12  # of a limit: sums of decimal figures may pass it by their rounding
SUMMED = ("cost", "mass", "crew_hours")


@dataclass(frozen=True)
class Rules:
    """The rules over options by their places; see `choose_options`."""

    options: tuple[Option, ...]
    limits: Limits
    must: frozenset[int]
    excludes: frozenset[tuple[int, int]]
    needs: frozenset[tuple[int, int]]

    def allow(self, sets: Sets, *, any_cost: bool = False) -> Sets:
        """Return bool[N]: which sets keep all rules, or all but the limit of cost."""
        allowed = np.ones(len(sets), bool)
        for place in self.must:
            allowed &= sets[:, place]
        for one, other in self.excludes:
            allowed &= ~(sets[:, one] & sets[:, other])
        for one, other in self.needs:
            allowed &= ~sets[:, one] | sets[:, other]
        for resource in RESOURCES:
            limit = getattr(self.limits, resource)
            if limit is not None and not (any_cost and resource == "cost"):
                allowed &= self.take(sets, resource) <= limit * (1.0 + ROUNDING)
        return allowed

    def take(self, sets: Sets, resource: str) -> Values:
        """Return float64[N], what each set takes of a resource."""
        each = np.array([getattr(option, resource) for option in self.options], np.float64)
        if resource in SUMMED:
            return np.asarray(sets @ each, np.float64)
        return np.asarray(np.max(np.where(sets, each, 0.0), axis=1, initial=0.0), np.float64)

    @property
    def first(self) -> Sets:
        """The smallest set that holds what must be in, and what that needs."""
        inside, left = set(self.must), list(self.must)
        while left:
            here = left.pop()
            more = {other for one, other in self.needs if one == here} - inside
            inside |= more
            left.extend(more)
        return np.array([place in inside for place in range(len(self.options))], bool)

    def check(self) -> None:
        """Raise BadModel where what must be in breaks a rule: then no set keeps them all."""
        first = self.first
        names = ", ".join(option.key for option, held in zip(self.options, first, strict=True) if held)
        for one, other in sorted(self.excludes):
            if first[one] and first[other]:
                message = f"{self.options[one].key} and {self.options[other].key} exclude each other."
                raise BadModel(Problem(message, "Don't ask for both.", "must"))
        for resource in RESOURCES:
            limit = getattr(self.limits, resource)
            taken = float(self.take(first[None, :], resource)[0])
            if limit is not None and taken > limit * (1.0 + ROUNDING):
                message = (
                    f"What must be chosen ({names}) takes {taken:g} of {say(resource)}, and the limit is {limit:g}."
                )
                raise BadModel(Problem(message, "Raise the limit, or ask for less.", "must"))


def say(resource: str) -> str:
    """Return a resource in words."""
    return resource.replace("_", " ")


def make_rules(
    options: Sequence[Option],
    limits: Limits,
    must: Collection[str],
    excludes: Iterable[Collection[str]],
    needs: Iterable[tuple[str, str]],
) -> Rules:
    """Return the rules by the places of the options; raises BadModel for a key that isn't there and a wrong number."""
    places = {option.key: place for place, option in enumerate(options)}

    def find(key: str) -> int:
        if key not in places:
            raise BadModel(Problem(f"There is no option {key}.", "Name one of the options.", "options"))
        return places[key]

    for holder in (*options, limits):
        for resource in RESOURCES:
            value = getattr(holder, resource)
            if value is not None and not 0.0 <= value < np.inf:
                where = getattr(holder, "key", "limits")
                raise BadModel(Problem(f"{say(resource)} is {value:g}.", "Give a number, 0 or more.", where))
    pairs = {(min(pair), max(pair)) for pair in (tuple(find(key) for key in each) for each in excludes)}
    return Rules(
        tuple(options),
        limits,
        frozenset(find(key) for key in must),
        frozenset((one, other) for one, other in pairs),
        frozenset((find(one), find(other)) for one, other in needs),
    )
