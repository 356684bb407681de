"""The node table: growth, collection, limits and cancellation, with its invariants checked."""

from __future__ import annotations

import random

import numpy as np
import pytest

from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams.bdd import FALSE_EDGE, TRUE_EDGE, Bdd
from faulttree.engine.diagrams.table import NodeTable
from faulttree.engine.errors import Cancelled, LimitReached

VARIABLES = 14


def check_consistent(table: NodeTable) -> None:
    """Children first, variables rising, low edges regular, no row twice, every row found by its hash."""
    rows = table.nodes[: table.count]
    seen = set()
    for node in range(1, table.count):
        variable, low, high = (int(x) for x in rows[node, :3])
        assert low & 1 == 0
        assert low != high
        for child in (low >> 1, high >> 1):
            assert child < node
            assert child == 0 or rows[child, 0] > variable
        assert (variable, low, high) not in seen
        seen.add((variable, low, high))
        assert table.find_or_add(variable, low, high) == node


def _random_function(bdd: Bdd, chance: random.Random, steps: int) -> list[int]:
    edges = [bdd.variable(i) for i in range(VARIABLES)]
    for _ in range(steps):
        a, b = (edges[chance.randrange(len(edges))] ^ chance.randrange(2) for _ in range(2))
        edges.append(chance.choice([bdd.both, bdd.either, bdd.differ])(a, b))
    return edges


def _value(bdd: Bdd, edge: int, state: list[bool]) -> bool:
    while edge > 1:
        variable, low, high = (int(x) for x in bdd.table.nodes[edge >> 1, :3])
        edge = (high if state[variable] else low) ^ (edge & 1)
    return edge == TRUE_EDGE


@pytest.mark.parametrize("seed", range(8))
def test_table_stays_consistent_and_functions_right_through_collection(seed: int) -> None:
    chance = random.Random(seed)
    bdd = Bdd(VARIABLES, limit=1 << 20, watch=Watch())
    edges = _random_function(bdd, chance, 120)
    check_consistent(bdd.table)
    states = [[chance.random() < 0.5 for _ in range(VARIABLES)] for _ in range(50)]
    kept = edges[-20:]
    before = [[_value(bdd, edge, state) for state in states] for edge in kept]
    roots = np.array(kept, np.int64)
    count = bdd.table.count
    bdd.table.collect(roots)
    assert bdd.table.count <= count
    check_consistent(bdd.table)
    assert [[_value(bdd, int(edge), state) for state in states] for edge in roots] == before
    again = bdd.both(int(roots[0]), int(roots[1]))
    for state in states:
        assert _value(bdd, again, state) == (_value(bdd, int(roots[0]), state) and _value(bdd, int(roots[1]), state))
    check_consistent(bdd.table)


def test_equal_functions_have_equal_edges() -> None:
    bdd = Bdd(3, limit=1000, watch=Watch())
    a, b, c = (bdd.variable(i) for i in range(3))
    assert bdd.both(a, bdd.either(b, c)) == bdd.either(bdd.both(a, b), bdd.both(a, c))
    assert bdd.differ(a, a) == FALSE_EDGE
    assert bdd.either(a, a ^ 1) == TRUE_EDGE
    assert bdd.at_least(2, [a, b, c]) == bdd.either(bdd.both(a, b), bdd.both(c, bdd.either(a, b)))


def _parity_of_products(bdd: Bdd, pairs: int) -> int:
    """x0 x_n + x1 x_(n+1) + ... under an order that keeps partners apart: 2^n nodes."""
    result = FALSE_EDGE
    for i in range(pairs):
        result = bdd.either(result, bdd.both(bdd.variable(i), bdd.variable(i + pairs)))
    return result


def test_node_limit_is_kept() -> None:
    bdd = Bdd(60, limit=1 << 14, watch=Watch())
    with pytest.raises(LimitReached, match="nodes") as caught:
        _parity_of_products(bdd, 30)
    assert caught.value.limit == "nodes"
    assert len(bdd.table.nodes) <= 1 << 15


def test_memory_limit_is_kept_before_memory_is_asked_for() -> None:
    bdd = Bdd(60, limit=1 << 30, watch=Watch(Budget(memory_mib=64)))
    with pytest.raises(LimitReached, match="MiB") as caught:
        _parity_of_products(bdd, 30)
    assert caught.value.limit == "memory"
    assert bdd.table.nodes.nbytes + bdd.table.buckets.nbytes + bdd.table.cache.nbytes < 64 * 2**20


def test_time_limit_and_cancellation_stop_inside_one_operation() -> None:
    bdd = Bdd(60, limit=1 << 30, watch=Watch(Budget(seconds=0.3)))
    with pytest.raises(LimitReached) as caught:
        _parity_of_products(bdd, 30)
    assert caught.value.limit == "seconds"
    asked = []
    bdd = Bdd(60, limit=1 << 30, watch=Watch(cancelled=lambda: len(asked) > 2 or bool(asked.append(1))))
    with pytest.raises(Cancelled):
        _parity_of_products(bdd, 30)
