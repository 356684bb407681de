"""What is read, written and read again is the same model, in either format."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings

from faulttree.engine.exchange.plain_json import read_json, write_json
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import Model
from tests.engine.exchange.layered_models import layered_models
from tests.trees import ROOT, needs_trees, trees_folder

EXAMPLES = sorted((ROOT / "fixtures" / "trees").glob("*.xml"))


@settings(max_examples=100, deadline=None)
@given(layered_models())
def test_xml_gives_back_any_model(model: Model) -> None:
    source = write_open_psa(model)
    again = read_open_psa(source)
    assert again == model
    assert write_open_psa(again) == source


@settings(max_examples=100, deadline=None)
@given(layered_models())
def test_plain_json_gives_back_any_model(model: Model) -> None:
    source = write_json(model)
    again = read_json(source)
    assert again == model
    assert write_json(again) == source


def _check_both(path: Path) -> None:
    model = read_open_psa(path.read_bytes(), file=path.name)
    assert model.gates
    assert read_open_psa(write_open_psa(model)) == model
    assert read_json(write_json(model)) == model


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example_trees_are_given_back(path: Path) -> None:
    _check_both(path)


def test_there_are_example_trees() -> None:
    assert len(EXAMPLES) >= 4


@needs_trees
def test_benchmark_trees_are_given_back() -> None:
    folder = trees_folder()
    assert folder is not None
    paths = sorted(folder.glob("*.xml"))
    assert len(paths) >= 31
    for path in paths:
        _check_both(path)
