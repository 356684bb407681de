"""Variable elimination must give the exact probability, by whatever order it walks."""

from __future__ import annotations

import csv
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from faulttree.engine.analysis.probability import evaluate
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.diagrams.solution import solve
from faulttree.engine.elimination import eliminate as module
from faulttree.engine.elimination.binary import BinaryNet, binarise
from faulttree.engine.elimination.decomposition import Decomposition, DecompositionSearch
from faulttree.engine.elimination.eliminate import Elimination, eliminate_probability
from faulttree.engine.errors import Cancelled, LimitReached
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.logic.build import NetBuilder
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.netlist import FALSE, TRUE, Netlist
from faulttree.engine.model import Model, Number
from faulttree.engine.validate import choose_top
from tests.engine import oracle
from tests.engine.models import random_models, top_of
from tests.trees import needs_trees, trees_folder

SMALL = [
    *("baobab1", "baobab2", "chinese", "das9201", "das9202", "das9203", "das9204", "das9205", "das9206", "das9207"),
    *("das9209", "das9601", "edf9201", "edf9202", "edf9204", "edf9205", "edfpa14b", "edfpa14o", "edfpa14p", "edfpa14q"),
    *("edfpa15b", "edfpa15p", "edfpa15q", "edfpa15r", "isp9601", "isp9603", "isp9605", "isp9606", "jbd9601"),
]


def _numbers(model: Model, netlist: Netlist) -> np.ndarray:
    values = []
    for name in netlist.variables:
        expression = model.basic_events[name].expression
        assert isinstance(expression, Number)
        values.append(expression.value)
    return np.array(values)


def _truth(netlist: Netlist, p: np.ndarray) -> float:
    states = oracle.true_states(lambda state: oracle.evaluate(netlist, state), len(netlist.variables))
    return float(oracle.probability(states, [float(x) for x in p]))


def _eliminate(net: BinaryNet, order: list[int], p: np.ndarray) -> float:
    decomposition = Decomposition(net, np.array(order, np.int64), np.zeros(net.nodes, np.int64))
    return Elimination(decomposition, p, Watch()).run()


@settings(max_examples=200, deadline=None)
@given(random_models())
def test_probability_equals_enumeration(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    p = _numbers(model, netlist)
    assert eliminate_probability(netlist, p, Watch()) == pytest.approx(_truth(netlist, p), rel=1e-12, abs=1e-300)


@settings(max_examples=150, deadline=None)
@given(random_models(), st.randoms(use_true_random=False))
def test_any_order_gives_the_same_number(model: Model, random) -> None:  # type: ignore[no-untyped-def]
    netlist = compile_model(model, top_of(model))
    p = _numbers(model, netlist)
    net = binarise(netlist)
    order = list(range(net.nodes))
    random.shuffle(order)
    found = _eliminate(net, order, p)
    assert found == pytest.approx(_truth(netlist, p), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(("root", "expected"), [(TRUE, 1.0), (FALSE, 0.0), (0, 0.25), (1, 0.75)])
def test_constants_and_single_variables(root: int, expected: float) -> None:
    assert eliminate_probability(Netlist(("x",), [], root), np.array([0.25]), Watch()) == expected


def test_a_wide_vote_needs_no_combinations() -> None:
    """At least 20 of 60 like events: a binomial tail."""
    builder = NetBuilder(f"e{i}" for i in range(60))
    netlist = builder.finish(builder.at_least(20, [2 * i for i in range(60)]))
    tail = sum(comb(60, j) * 0.2**j * 0.8 ** (60 - j) for j in range(20, 61))
    assert eliminate_probability(netlist, np.full(60, 0.2), Watch()) == pytest.approx(tail, rel=1e-12)


def test_an_event_shared_by_very_many_gates() -> None:
    """Hundreds of factors meet at one variable; their scale must not leave the range of numbers."""
    count = 1200
    builder = NetBuilder([*(f"e{i}" for i in range(count)), "shared"])
    netlist = builder.finish(builder.either(builder.both([2 * i, 2 * count]) for i in range(count)))
    net = binarise(netlist)
    steps = [(i, count + 1 + i, 2 * count + i) for i in range(count)]  # event, its gate, the OR of all gates so far
    order = [count, *(node for i, step in enumerate(steps) for node in step[: 3 if i else 2])]
    p = np.append(np.full(count, 1e-3), 0.01)
    expected = -0.01 * np.expm1(count * np.log1p(-1e-3))
    for walk in (order, order[::-1]):
        assert _eliminate(net, walk, p) == pytest.approx(expected, rel=1e-12)


def test_a_rare_top_event_keeps_its_digits() -> None:
    """Nothing is subtracted, so P = 1e-200 is as exact as P = 0.1."""
    builder = NetBuilder(f"e{i}" for i in range(40))
    netlist = builder.finish(builder.both(builder.either([2 * i, 2 * i + 2]) for i in range(0, 40, 2)))
    p = np.full(40, 1e-10)
    assert eliminate_probability(netlist, p, Watch()) == pytest.approx((2e-10 - 1e-20) ** 20, rel=1e-12)


def _grid(side: int) -> tuple[Netlist, np.ndarray]:
    """Every gate of a layer takes three of the layer below: no small decomposition."""
    builder = NetBuilder(f"e{i}" for i in range(side))
    layer = [2 * i for i in range(side)]
    for depth in range(side):
        gate = builder.both if depth % 2 else builder.either
        layer = [
            gate([layer[i], layer[(i + 1) % side], layer[(3 * i + depth) % side] ^ depth % 2]) for i in range(side)
        ]
    return builder.finish(builder.odd(layer)), np.full(side, 0.3)


def test_every_limit_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "TRIALS", ((1, 1, 1_000),))
    netlist, p = _grid(16)
    with pytest.raises(LimitReached) as nodes:
        eliminate_probability(netlist, p, Watch(Budget(nodes=1000)))
    assert nodes.value.limit == "nodes"
    with pytest.raises(LimitReached) as seconds:
        eliminate_probability(netlist, p, Watch(Budget(seconds=0.0)))
    assert seconds.value.limit == "seconds"
    with pytest.raises(LimitReached) as memory:
        eliminate_probability(netlist, p, Watch(Budget(memory_mib=1)))
    assert memory.value.limit == "memory"


def test_a_cancelled_run_stops_in_the_middle() -> None:
    netlist, p = _grid(16)
    asked = 0

    def cancelled() -> bool:
        nonlocal asked
        asked += 1
        return asked > 8

    with pytest.raises(Cancelled):
        eliminate_probability(netlist, p, Watch(cancelled=cancelled))


def test_a_full_run_follows_trials_that_were_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    netlist, p = _grid(11)
    expected = eliminate_probability(netlist, p, Watch())
    monkeypatch.setattr(module, "TRIALS", ((1, 1, -1), (1, 2, -1)))
    assert eliminate_probability(netlist, p, Watch()) == pytest.approx(expected, rel=1e-12)
    assert expected == pytest.approx(_truth(netlist, p), rel=1e-12)


def test_progress_is_told_within_bounds() -> None:
    netlist, p = _grid(12)
    shares: list[float] = []
    eliminate_probability(netlist, p, Watch(progress=lambda _, share: shares.append(share)))
    assert shares
    assert all(0.0 <= share <= 1.0 for share in shares)


def test_a_search_is_reproducible() -> None:
    netlist, _ = _grid(14)
    first, second = (DecompositionSearch(netlist, Watch(), seed=3) for _ in range(2))
    first.search(3)
    second.search(3)
    assert [d.cost for d in first.found] == [d.cost for d in second.found]
    assert np.array_equal(first.found[0].order, second.found[0].order)


def _read(name: str) -> tuple[Netlist, np.ndarray]:
    folder = trees_folder()
    assert folder is not None
    model = read_open_psa((folder / f"{name}.xml").read_bytes(), file=name)
    netlist = compile_model(model, choose_top(model, None))
    return netlist, _numbers(model, netlist)


@needs_trees
@pytest.mark.parametrize("name", SMALL)
def test_the_benchmark_trees(name: str) -> None:
    """Same number as the diagrams to 1e-10, same digits as the published table.

    Source: open benchmark set, DOI 10.5281/zenodo.20160659, published table (corrections noted there).
    """
    folder = trees_folder()
    assert folder is not None
    netlist, p = _read(name)
    found = eliminate_probability(netlist, p, Watch(Budget(seconds=60)))
    assert found == pytest.approx(evaluate(solve(netlist, Watch()), p).holds, rel=1e-10)
    with (folder / "published.csv").open() as table:
        printed = {row["tree"]: row["probability_expected"] for row in csv.DictReader(table)}[name]
    digits = len(printed.upper().split("E")[0]) - 2
    assert f"{found:.{digits}E}" == f"{float(printed):.{digits}E}"
