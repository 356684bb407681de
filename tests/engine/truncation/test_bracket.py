"""The bracket must hold the true probability at every cut-off, however coarse."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from faulttree.engine.budget import Budget, Watch
from faulttree.engine.errors import Cancelled
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.netlist import Netlist
from faulttree.engine.logic.simplify import simplify
from faulttree.engine.model import Model, Number
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.truncation.bracket import bracket
from faulttree.engine.truncation.refinement import Refinement, Wanted
from tests.engine import oracle
from tests.engine.models import random_models, top_of
from tests.trees import needs_trees, trees_folder


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


@settings(max_examples=200, deadline=None)
@given(random_models(coherent=True, most_events=9), st.integers(-3, 6))
def test_every_cut_off_gives_a_valid_interval(model: Model, margin: int) -> None:
    netlist = simplify(compile_model(model, top_of(model)))
    assume(netlist.root >= 0)
    p = _numbers(model, netlist)
    truth = _truth(netlist, p)
    refinement = Refinement(netlist, p, Watch(), Wanted(10))
    interval = refinement.refine(margin)
    assert interval.lower <= truth * (1 + 1e-12) + 1e-300
    assert interval.upper >= truth * (1 - 1e-12)
    assert refinement.crude_upper() >= truth * (1 - 1e-12)


@settings(max_examples=150, deadline=None)
@given(random_models(most_events=8))
def test_trees_with_negations_are_enclosed(model: Model) -> None:
    netlist = compile_model(model, top_of(model))
    p = _numbers(model, netlist)
    found = bracket(netlist, p, Watch(Budget(seconds=20)), Wanted(5))
    truth = _truth(netlist, p)
    assert found.lower <= truth * (1 + 1e-9)
    assert found.upper >= truth * (1 - 1e-9)
    assert 0.0 <= found.lower <= found.upper <= 1.0


@settings(max_examples=100, deadline=None)
@given(random_models(coherent=True, most_events=8))
def test_a_fine_cut_off_closes_the_interval(model: Model) -> None:
    netlist = simplify(compile_model(model, top_of(model)))
    assume(netlist.root >= 0)
    p = np.clip(_numbers(model, netlist), 0.01, 0.9)
    interval = Refinement(netlist, p, Watch(), Wanted()).refine(80)
    truth = _truth(netlist, p)
    assert interval.lower == pytest.approx(truth, rel=1e-9)
    assert interval.upper == pytest.approx(truth, rel=1e-9)


def test_a_cancelled_run_stops() -> None:
    model = _read("chinese") if trees_folder() else None
    if model is None:
        pytest.skip("the benchmark trees are not there (BENCHMARK_TREES)")
    netlist = compile_model(model, "r1")
    with pytest.raises(Cancelled):
        bracket(netlist, _numbers(model, netlist), Watch(cancelled=lambda: True), Wanted())


def _read(name: str) -> Model:
    folder = trees_folder()
    assert folder is not None
    return read_open_psa((folder / f"{name}.xml").read_bytes(), file=name)


@needs_trees
@pytest.mark.parametrize("name", ["baobab1", "das9201", "das9601", "edf9205", "isp9603"])
def test_published_probabilities_lie_inside(name: str) -> None:
    # Source: open benchmark set, DOI 10.5281/zenodo.20160659, published table
    folder = trees_folder()
    assert folder is not None
    with (folder / "published.csv").open() as table:
        expected = {row["tree"]: float(row["probability_expected"] or "nan") for row in csv.DictReader(table)}
    result = quantify(_read(name), Request(), budget=Budget(nodes=1, seconds=6))
    assert result.method == "bracket"
    assert result.lower is not None
    assert result.upper is not None
    assert result.lower <= expected[name] * (1 + 5e-6)
    assert result.upper >= expected[name] * (1 - 5e-6)


@needs_trees
@pytest.mark.slow
def test_the_largest_tree_gets_a_tight_bracket() -> None:
    """nus9601 (1,567 events) has no published value; the bracket aimed at is [9.94e-6, 1.054e-5]."""
    result = quantify(_read("nus9601"), Request(), budget=Budget(seconds=20))
    assert result.method == "bracket"
    assert result.lower is not None
    assert result.upper is not None
    assert result.lower >= 9.94e-6
    assert result.upper <= 1.054e-5
