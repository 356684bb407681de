"""Products and sums of decision diagrams against plain arrays."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from faulttree.engine.budget import Budget, Watch
from faulttree.engine.elimination import kernels
from faulttree.engine.elimination import table as module
from faulttree.engine.elimination.table import AddTable
from faulttree.engine.errors import LimitReached

LEVELS = 6


def _table(rng: np.random.Generator, **limits: int) -> AddTable:
    ones = rng.random(LEVELS)
    return AddTable(np.column_stack([1.0 - ones, ones]), limit=limits.get("limit", 1 << 20), watch=Watch())


def _store(table: AddTable, values: np.ndarray) -> int:
    """Reference of a function given as an array with one axis per level."""
    references = [table.leaf(float(value)) for value in values.ravel()]
    for level in range(LEVELS - 1, -1, -1):
        pairs = zip(references[::2], references[1::2], strict=True)
        references = [table.node(level, low, high) for low, high in pairs]
    return references[0]


def _look_up(table: AddTable, reference: int) -> np.ndarray:
    values = np.empty((2,) * LEVELS)
    for state in itertools.product((0, 1), repeat=LEVELS):
        at = reference
        while at >= 0:
            at = int(table.nodes[at, 1 + state[table.nodes[at, 0]]])
        values[state] = table.value(at)
    return values


def _random_function(rng: np.random.Generator) -> np.ndarray:
    """Few distinct values, and some levels without effect."""
    shape = [1 if rng.random() < 0.3 else 2 for _ in range(LEVELS)]
    return np.broadcast_to(rng.choice([0.0, 1.0, 2.0, 0.3, 0.7], shape), (2,) * LEVELS)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("fuel", [1, 400_000])
def test_multiply_and_sum_is_what_arrays_give(seed: int, fuel: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FUEL", fuel)
    rng = np.random.default_rng(seed)
    table = _table(rng)
    f, g = _random_function(rng), _random_function(rng)
    cut = int(rng.integers(0, LEVELS + 1))
    expected = f * g
    for level in range(LEVELS - 1, cut - 1, -1):
        expected = np.tensordot(expected, table.weights[level], axes=([level], [0]))
    found = _look_up(table, table.multiply_and_sum(_store(table, f), _store(table, g), cut))
    np.testing.assert_allclose(
        found, np.broadcast_to(expected.reshape((2,) * cut + (1,) * (LEVELS - cut)), found.shape), rtol=1e-13
    )


@pytest.mark.parametrize("seed", range(10))
def test_a_product_is_what_arrays_give(seed: int) -> None:
    rng = np.random.default_rng(seed)
    table = _table(rng)
    f, g = _random_function(rng), _random_function(rng)
    assert np.array_equal(_look_up(table, table.multiply(_store(table, f), _store(table, g))), f * g)


def test_equal_functions_are_one_node() -> None:
    rng = np.random.default_rng(0)
    table = _table(rng)
    f = rng.choice([0.0, 1.0, 0.25], (2,) * LEVELS)
    assert _store(table, f) == _store(table, f.copy())
    assert table.leaf(0.0) == kernels.ZERO
    assert table.leaf(-0.0) == kernels.ZERO
    assert table.leaf(1.0) == kernels.ONE


def test_tables_grow_in_the_middle_of_a_call(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_CAPACITY", 4)
    rng = np.random.default_rng(1)
    table = _table(rng)
    f, g = rng.random((2,) * LEVELS), rng.random((2,) * LEVELS)
    product = table.multiply(_store(table, f), _store(table, g))
    assert len(table.nodes) > 64
    np.testing.assert_allclose(_look_up(table, product), f * g, rtol=0)


def test_collecting_keeps_the_roots() -> None:
    rng = np.random.default_rng(2)
    table = _table(rng)
    functions = [rng.choice([0.0, 0.5, 0.125, 3.0], (2,) * LEVELS) for _ in range(3)]
    references = [_store(table, f) for f in functions]
    before = table.count
    kept = table.collect([references[0], references[2], kernels.ONE])
    assert table.count < before
    assert kept[2] == kernels.ONE
    assert np.array_equal(_look_up(table, kept[0]), functions[0])
    assert np.array_equal(_look_up(table, kept[1]), functions[2])
    assert _store(table, functions[2]) == kept[1]
    product = table.multiply(kept[0], kept[1])
    assert np.array_equal(_look_up(table, product), functions[0] * functions[2])
    assert table.size(product) == len(_reach(table, product))


def _reach(table: AddTable, reference: int) -> set[int]:
    if reference < 0:
        return set()
    low, high = (int(table.nodes[reference, column]) for column in (1, 2))
    return {reference} | _reach(table, low) | _reach(table, high)


def test_limits_are_errors_of_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FIRST_CAPACITY", 4)
    rng = np.random.default_rng(3)
    with pytest.raises(LimitReached, match="4 nodes"):
        _store(_table(rng, limit=4), rng.random((2,) * LEVELS))
    small = AddTable(np.full((LEVELS, 2), 0.5), limit=100, watch=Watch(Budget(memory_mib=0)))
    with pytest.raises(LimitReached, match="MiB"):
        _store(small, rng.random((2,) * LEVELS))
