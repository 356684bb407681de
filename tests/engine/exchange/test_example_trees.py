"""The bundled trees: the textbook one gives its known figures, the demonstration ones hold what a real one would."""

from __future__ import annotations

from pathlib import Path

import pytest

from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.model import Connective, Model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.validate import choose_top
from tests.trees import ROOT

FOLDER = ROOT / "fixtures" / "trees"
DEMONSTRATION = sorted(path for path in FOLDER.glob("*.xml") if path.stem != "pressure-tank")


def _read(path: Path) -> Model:
    return read_open_psa(path.read_bytes(), file=path.name)


def test_the_pressure_tank_gives_the_figures_of_the_handbook_tree() -> None:
    """Source: NUREG-0492 (1981), chapters VIII and XI, tree and inputs from memory; exact figure by enumeration."""
    result = quantify(_read(FOLDER / "pressure-tank.xml"), Request(list_count=10))
    assert result.probability == pytest.approx(3.501584875e-5, rel=1e-9)
    assert result.cut_sets is not None
    listed = {frozenset(cut.events): cut.probability for cut in result.cut_sets.listed}
    assert listed == pytest.approx(
        {
            frozenset({"T"}): 5e-6,
            frozenset({"K2"}): 3e-5,
            frozenset({"S", "S1"}): 3e-9,
            frozenset({"S", "K1"}): 3e-9,
            frozenset({"S", "R"}): 1e-8,
        },
        rel=1e-12,
    )


@pytest.mark.parametrize("path", DEMONSTRATION, ids=lambda path: path.stem)
def test_demonstration_trees_are_whole_and_say_that_they_are_invented(path: Path) -> None:
    model = _read(path)
    assert choose_top(model)
    assert model.containers[0].path == (path.stem,)
    assert "invented data" in model.containers[0].label
    assert 10 <= len(model.basic_events) <= 40
    for elements in (model.gates, model.basic_events, model.parameters):
        assert all(element.placing.label for element in elements.values())
    if len(model.basic_events) >= 15:
        assert model.house_events
        assert model.common_cause_groups
        assert any(getattr(gate.formula, "connective", None) is Connective.ATLEAST for gate in model.gates.values())


@pytest.mark.parametrize("path", DEMONSTRATION, ids=lambda path: path.stem)
def test_demonstration_trees_are_quantified_exactly(path: Path) -> None:
    result = quantify(_read(path), Request(mission_time=8.0, samples=200, seed=1))
    assert result.method == "exact"
    assert result.probability is not None
    assert 1e-8 < result.probability < 1e-2
    assert result.uncertainty is not None
