"""Choosing options within a budget, held against problems that are solved without any tree.

A top event that is an OR of independent causes has P = 1 - product of (1 - q_i), so that ruling causes out within a
budget is a 0/1 knapsack with the values -ln(1 - q_i). Source: De Morgan and independence (any textbook of probability);
the knapsack is solved by scipy.optimize.milp on its own, and by dynamic programming over whole costs (Bellman 1957,
from memory).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from faulttree.engine.effects.choose import EVERY_SET, PROGRAMME, choose_options
from faulttree.engine.effects.kinds import Effect, EffectKind, Limits, Option
from tests.engine.models import either, make_model

CAUSES = 32


def make_knapsack(seed: int, causes: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Probabilities from 1e-6 to 1e-2, whole costs, a budget of about a third of all."""
    generator = np.random.default_rng(seed)
    q = 10.0 ** generator.uniform(-6.0, -2.0, causes)
    cost = generator.integers(5, 60, causes).astype(float)
    return q, cost, float(np.floor(cost.sum() / 3.0))


def least_by_milp(q: np.ndarray, cost: np.ndarray, budget: float) -> float:
    worth = -np.log1p(-q)
    found = milp(
        -worth / worth.max(),
        integrality=np.ones(len(q), np.int64),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(cost[None, :], -np.inf, budget),
        options={"mip_rel_gap": 0.0},
    )
    return -math.expm1(-float(worth[found.x < 0.5].sum()))


def least_by_dynamic_programming(q: np.ndarray, cost: np.ndarray, budget: float) -> float:
    worth = -np.log1p(-q)
    best = np.zeros(int(budget) + 1)
    for value, price in zip(worth, cost.astype(int), strict=True):
        best[price:] = np.maximum(best[price:], best[: len(best) - price] + value)
    return -math.expm1(-float(worth.sum() - best[-1]))


@pytest.mark.parametrize(("seed", "causes"), [(1, CAUSES), (2, CAUSES), (3, CAUSES), (4, 14), (5, 14)])
def test_a_budget_over_independent_causes_is_a_knapsack(seed: int, causes: int) -> None:
    q, cost, budget = make_knapsack(seed, causes)
    names = [f"e{i}" for i in range(causes)]
    model = make_model({"top": either(*names)}, dict(zip(names, q.tolist(), strict=True)))
    options = [Option(name.upper(), cost=price) for name, price in zip(names, cost.tolist(), strict=True)]
    effects = [Effect(name.upper(), EffectKind.RULED_OUT, name) for name in names]
    found = choose_options(model, "top", options, effects, Limits(cost=budget), seconds=60.0)
    assert found.method == (EVERY_SET if causes <= 16 else PROGRAMME)
    assert found.probability == pytest.approx(least_by_dynamic_programming(q, cost, budget), rel=1e-4)
    assert found.probability == pytest.approx(least_by_milp(q, cost, budget), rel=1e-4)
    assert found.lower_bound <= found.probability
    assert found.gap < 1e-3
