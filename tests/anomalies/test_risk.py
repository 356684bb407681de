"""The risk matrix against its sources."""

from __future__ import annotations

from collections import Counter

import pytest

from anomalies.risk import MATRIX, Probability, Risk, Severity, cells_at, find_risk, write_code

# Source: MIL-STD-882E, Table III, as in two independent transcriptions (secondary copies seen, not the standard).
TABLE_III = {
    "A": "High High Serious Medium",
    "B": "High High Serious Medium",
    "C": "High Serious Medium Low",
    "D": "Serious Medium Medium Low",
    "E": "Medium Medium Medium Low",
    "F": "Eliminated Eliminated Eliminated Eliminated",
}
# Source: MIL-STD-882D, mishap risk assessment values, as in a secondary copy: an independent check of 882E's cells.
INDEX_882D = {"A": (1, 3, 7, 13), "B": (2, 5, 9, 16), "C": (4, 6, 11, 18), "D": (8, 10, 14, 19), "E": (12, 15, 17, 20)}


@pytest.mark.parametrize("level", TABLE_III)
def test_every_cell_is_that_of_table_iii(level):
    assert [find_risk(severity, level).label for severity in Severity] == TABLE_III[level].split()


@pytest.mark.parametrize("level", INDEX_882D)
def test_every_cell_agrees_with_the_index_of_882d(level):
    for severity, index in zip(Severity, INDEX_882D[level], strict=True):
        expected = "high" if index <= 5 else "serious" if index <= 9 else "medium" if index <= 17 else "low"
        assert find_risk(severity, level) == expected


def test_the_counts_of_cells_add_up():
    counts = Counter(risk for (_, level), risk in MATRIX.items() if level != Probability.ELIMINATED)
    assert counts == {Risk.HIGH: 5, Risk.SERIOUS: 4, Risk.MEDIUM: 8, Risk.LOW: 3}
    assert sum(len(cells_at(risk)) for risk in Risk) == len(MATRIX) == 24


def test_a_code_is_digit_and_letter():
    assert write_code(2, "C") == "2C"
    assert {write_code(severity, level) for severity, level in cells_at("high")} == {"1A", "1B", "1C", "2A", "2B"}


@pytest.mark.parametrize(("severity", "probability"), [(0, "A"), (5, "A"), (1, "G"), (1, "")])
def test_what_is_not_in_the_table_is_refused(severity, probability):
    with pytest.raises(ValueError, match="valid"):
        find_risk(severity, probability)
