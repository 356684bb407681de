"""The open benchmark set: exact probability and number of minimal cut sets of every tree.

Source: DOI 10.5281/zenodo.20160659, version 2, published table; where the table is in error the
folder's published.csv says so and holds the value that follows from the file.
"""

from __future__ import annotations

import csv

import pytest

from faulttree.engine.budget import Budget
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.trees import needs_trees, trees_folder

SLOW = {"das9701"}
BRACKET_ONLY = {"nus9601"}  # see tests/engine/truncation


def _rows() -> list[dict[str, str]]:
    folder = trees_folder()
    if folder is None:
        return []
    with (folder / "published.csv").open() as table:
        return [row for row in csv.DictReader(table) if row["tree"] not in BRACKET_ONLY]


def _cases() -> list[object]:
    return [
        pytest.param(row, id=row["tree"], marks=[pytest.mark.slow] if row["tree"] in SLOW else []) for row in _rows()
    ]


@needs_trees
@pytest.mark.parametrize("row", _cases())
def test_published_probability_and_cut_set_count(row: dict[str, str]) -> None:
    folder = trees_folder()
    assert folder is not None
    model = read_open_psa((folder / f"{row['tree']}.xml").read_bytes(), file=f"{row['tree']}.xml")
    result = quantify(model, Request(list_count=10), budget=Budget(memory_mib=2048))
    printed = row["probability_expected"]
    digits = len(printed.upper().split("E")[0].replace(".", "")) - 1
    assert result.method == "exact"
    assert f"{result.probability:.{digits}E}" == f"{float(printed):.{digits}E}"
    assert result.cut_sets is not None
    assert result.cut_sets.count == int(row["cut_sets_expected"])


@needs_trees
def test_the_whole_set_is_there() -> None:
    assert len(_rows()) == 30
