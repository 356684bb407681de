"""Common-cause groups: the levels of each model, and a model with every group written out.

Source: Open-PSA Model Exchange Format, meta-logical layer; NUREG/CR-5485 for the alpha-factor forms
(staggered form from memory). Q is the total failure probability of one member of n; Q_k that of the
event "these k members fail together and no other does from this cause", so that
sum over k of C(n-1, k-1) Q_k = Q.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import comb

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import (
    BasicEvent,
    Call,
    Combination,
    CommonCauseGroup,
    Connective,
    Expression,
    Gate,
    Model,
    Number,
    Parameter,
    ParameterReference,
    Placing,
    Reference,
)

LARGEST_GROUP = 8  # 255 events; a beta-factor group may be of any size


def beta_levels(beta: float, n: int, total: float) -> list[float]:
    """Q_1..Q_n of the beta-factor model."""
    return [(1.0 - beta) * total, *[0.0] * (n - 2), beta * total]


def mgl_levels(rho: Sequence[float], total: float) -> list[float]:
    """Q_1..Q_n of the multiple Greek letter model; rho holds rho_2..rho_n."""
    n = len(rho) + 1
    chain = [1.0, *rho, 0.0]  # rho_1 .. rho_(n+1)
    levels, product = [], 1.0
    for k in range(1, n + 1):
        product *= chain[k - 1]
        levels.append(product * (1.0 - chain[k]) * total / comb(n - 1, k - 1))
    return levels


def alpha_levels(alpha: Sequence[float], total: float) -> list[float]:
    """Q_1..Q_n of the alpha-factor model for non-staggered testing, the form of the exchange format."""
    n, weighted = len(alpha), sum(k * a for k, a in enumerate(alpha, 1))
    return [k * a / (comb(n - 1, k - 1) * weighted) * total for k, a in enumerate(alpha, 1)]


def alpha_staggered_levels(alpha: Sequence[float], total: float) -> list[float]:
    """Q_1..Q_n of the alpha-factor model for staggered testing."""
    n = len(alpha)
    return [a / comb(n - 1, k - 1) * total for k, a in enumerate(alpha, 1)]


def phi_levels(phi: Sequence[float], total: float) -> list[float]:
    """Q_1..Q_n of the phi-factor model, phi_k being the share of a member's total at level k."""
    n = len(phi)
    return [f * total / comb(n - 1, k - 1) for k, f in enumerate(phi, 1)]


def alpha_to_mgl(alpha: Sequence[float], *, staggered: bool) -> list[float]:
    """Return rho_2..rho_n that give the same levels as these alpha factors (NUREG/CR-5485, from memory)."""
    weights = [a if staggered else k * a for k, a in enumerate(alpha, 1)]
    tails = [sum(weights[k:]) for k in range(len(weights))]
    return [tails[k] / tails[k - 1] for k in range(1, len(tails))]


def expand_common_cause(model: Model) -> Model:
    """Return the model with every group written out, or the model itself when it has none.

    A member becomes an OR gate of its name over the derived events that contain it. Distribution
    and factors become parameters, so that an uncertain one is drawn once per sample.
    """
    if not model.common_cause_groups:
        return model
    gates, events, parameters = dict(model.gates), dict(model.basic_events), dict(model.parameters)
    for group in model.common_cause_groups.values():
        own = _group_parameters(group)
        _refuse_taken(group, own, parameters)
        parameters.update(own)
        derived = derive_events(group)
        _refuse_taken(group, {event.name: event for _, event in derived}, {**gates, **events, **model.house_events})
        for member in group.members:
            parts = tuple(Reference(event.name) for subset, event in derived if member in subset)
            placing = replace(events.pop(member).placing)
            gates[member] = Gate(member, Combination(Connective.OR, parts), placing)
        events.update((event.name, event) for _, event in derived)
    return replace(model, gates=gates, basic_events=events, parameters=parameters, common_cause_groups={})


def _refuse_taken(group: CommonCauseGroup, new: Mapping[str, object], known: Mapping[str, object]) -> None:
    for name in new:
        if name in known:
            message = f"Writing out the group needs the name {name}, which is taken."
            raise BadModel(Problem(message, "Rename the element or the group.", f"common-cause group {group.name}"))


def _prefix(group: CommonCauseGroup) -> str:
    """The group's name without the dots of a path, which a name of its own can't hold."""
    return group.name.replace(".", "-")


def _total_name(group: CommonCauseGroup) -> str:
    return f"{_prefix(group)}-total"


def _factor_name(group: CommonCauseGroup, level: int) -> str:
    return f"{_prefix(group)}-factor-{level}"


def _group_parameters(group: CommonCauseGroup) -> dict[str, Parameter]:
    placing = replace(group.placing, label=f"of the common-cause group {group.name}")
    named = {_total_name(group): group.distribution}
    named.update((_factor_name(group, level), expression) for level, expression in group.factors)
    return {name: Parameter(name, expression, "", placing) for name, expression in named.items()}


def derive_events(group: CommonCauseGroup) -> list[tuple[tuple[str, ...], BasicEvent]]:
    """Return the derived events of a group, each with the members that it fails.

    The beta-factor model has one for each member alone and one for all; the others one for each of
    the 2^n - 1 sets of members. Raises BadModel when these are too many.
    """
    n = len(group.members)
    sizes = [1, n] if group.model == "beta-factor" else list(range(1, n + 1))
    if len(sizes) > 2 and n > LARGEST_GROUP:
        message = f"{n} members would give {2**n - 1} events; at most {LARGEST_GROUP} members are written out."
        mend = "Use the beta-factor model or a smaller group."
        raise BadModel(Problem(message, mend, f"common-cause group {group.name}", line=group.placing.line))
    subsets = [subset for size in sizes for subset in itertools.combinations(group.members, size)]
    derived = []
    for subset, name in zip(subsets, _derived_names(group, subsets), strict=True):
        label = f"{', '.join(subset)} {'fails alone' if len(subset) == 1 else 'fail together'} ({group.model})"
        placing = Placing((), "public", label, (), group.placing.line)
        derived.append((subset, BasicEvent(name, _level_expression(group, len(subset)), placing)))
    return derived


def _derived_names(group: CommonCauseGroup, subsets: list[tuple[str, ...]]) -> list[str]:
    """One name for each set of members, by the shortest spelling of the members that keeps the names apart."""
    spellings = [
        {member: member.rsplit(".", 1)[-1] for member in group.members},
        {member: member.replace(".", "-") for member in group.members},
        {member: str(place) for place, member in enumerate(group.members, 1)},
    ]
    names: list[str] = []
    for spelling in spellings:
        names = [_derived_name(group, [spelling[member] for member in subset]) for subset in subsets]
        if len(set(names)) == len(names):
            break
    return names


def _derived_name(group: CommonCauseGroup, members: list[str]) -> str:
    if len(members) == len(group.members):
        return f"{_prefix(group)}-all"
    return "-".join([_prefix(group), *members, "alone" if len(members) == 1 else "together"])


def _level_expression(group: CommonCauseGroup, k: int) -> Expression:
    """Q_k as an expression over the group's parameters."""
    n = len(group.members)
    total = ParameterReference(_total_name(group))
    factors = {level: ParameterReference(_factor_name(group, level)) for level, _ in group.factors}
    share = Number(1.0 / comb(n - 1, k - 1))
    if group.model == "beta-factor":
        beta = next(iter(factors.values()))
        return Call("mul", (total, beta if k == n else _one_minus(beta)))
    if group.model == "MGL":
        chain: list[Expression] = [factors[i] for i in range(2, k + 1)]
        if k < n:
            chain.append(_one_minus(factors[k + 1]))
        return Call("mul", (total, share, *chain))
    if group.model == "phi-factor":
        return Call("mul", (total, share, factors[k]))
    weighted = [Call("mul", (Number(float(level)), factor)) for level, factor in factors.items()]
    return Call("mul", (total, share, Number(float(k)), Call("div", (factors[k], Call("add", tuple(weighted))))))


def _one_minus(expression: Expression) -> Expression:
    return Call("sub", (Number(1.0), expression))
