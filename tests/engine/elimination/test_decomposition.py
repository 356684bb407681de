"""Pairing arguments keeps the function; orders are what they say."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings

from faulttree.engine.budget import Watch
from faulttree.engine.elimination import decomposition as module
from faulttree.engine.elimination.binary import BinaryNet, binarise
from faulttree.engine.elimination.decomposition import Decomposition, DecompositionSearch, build_tree
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.build import NetBuilder
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.netlist import TRUE, Netlist
from faulttree.engine.model import Model
from tests.engine import oracle
from tests.engine.models import random_models, top_of


def _evaluate(net: BinaryNet, state: tuple[bool, ...]) -> bool:
    values = list(state)
    for gate in net.gates:
        a, b = (values[literal >> 1] != bool(literal & 1) for literal in (gate.a, gate.b))
        values.append(a != b if gate.exclusive else a and b)
    return net.root == TRUE if net.root < 0 else values[net.root >> 1] != bool(net.root & 1)


def _same(netlist: Netlist, net: BinaryNet) -> bool:
    states = itertools.product((False, True), repeat=len(netlist.variables))
    return all(_evaluate(net, state) == oracle.evaluate(netlist, state) for state in states)


@settings(max_examples=150, deadline=None)
@given(random_models(most_events=6))
def test_pairing_keeps_the_function_however_often_it_is_done_anew(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    assert _same(netlist, binarise(netlist))
    search = DecompositionSearch(netlist, Watch())
    search.search(3)
    for found in search.found:
        assert _same(netlist, found.net)
        assert _same(netlist, binarise(netlist, (found.net, build_tree(found))))
        assert sorted(found.order.tolist()) == list(range(found.net.nodes))
        assert found.width == _width(found)


def _width(decomposition: Decomposition) -> int:
    """Most neighbours at elimination, by sets."""
    net = decomposition.net
    tied: list[set[int]] = [set() for _ in range(net.nodes)]
    for i, gate in enumerate(net.gates):
        for u, v in itertools.permutations((net.variables + i, gate.a >> 1, gate.b >> 1), 2):
            tied[u].add(v)
    most = 0
    for v in decomposition.order.tolist():
        most = max(most, len(tied[v]))
        for u in tied[v]:
            tied[u] |= tied[v]
            tied[u] -= {u, v}
    return most


def _ladder(rungs: int) -> Netlist:
    """A wide OR over pairs of neighbours in a random row: chained in row order it is narrow, as given it is not."""
    row = np.random.default_rng(5).permutation(rungs).tolist()
    builder = NetBuilder(f"e{i}" for i in range(rungs))
    pairs = np.random.default_rng(6).permutation(list(itertools.pairwise(row))).tolist()
    return builder.finish(builder.either(builder.both([2 * a, 2 * b]) for a, b in pairs))


def test_pairing_along_the_tree_makes_it_narrow() -> None:
    search = DecompositionSearch(_ladder(150), Watch())
    search.search(1)
    first = search.found[0].width
    search.search(30)
    assert search.found[0].width < first
    assert search.found[0].width <= 4


def test_a_net_too_large_for_the_bit_matrix_is_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "MOST_VERTICES", 10)
    search = DecompositionSearch(_ladder(30), Watch())
    with pytest.raises(LimitReached, match="at most 10"):
        search.search(1)
