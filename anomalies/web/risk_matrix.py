"""The risk matrix as pages show it, and the words that help to choose a cell of it.

Source: MIL-STD-882E, Tables I and II, from memory, in fewer words; the matrix itself is in anomalies/risk.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.risk import Probability, Risk, Severity, find_risk, write_code

SEVERITY_WORDS: dict[int, str] = {
    Severity.CATASTROPHIC: "Death, permanent total disability, or a loss of 10 M$ or more.",
    Severity.CRITICAL: "Permanent partial disability, three or more people in hospital, or a loss of 1 M$ or more.",
    Severity.MARGINAL: "Injury or illness with lost work days, or a loss of 100 k$ or more.",
    Severity.NEGLIGIBLE: "Injury or illness without a lost work day, or a smaller loss.",
}
PROBABILITY_WORDS: dict[str, str] = {
    Probability.FREQUENT: "Likely to occur often in the life of an item.",
    Probability.PROBABLE: "Will occur several times in the life of an item.",
    Probability.OCCASIONAL: "Likely to occur sometime in the life of an item.",
    Probability.REMOTE: "Unlikely, but possible in the life of an item.",
    Probability.IMPROBABLE: "So unlikely that it may be assumed not to occur.",
    Probability.ELIMINATED: "Can't occur: the hazard was found and is gone.",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its code, the risk level there, and what a screen reader says of it."""

    code: str
    risk: Risk
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Row:
    """All cells of one probability level."""

    letter: str
    label: str
    words: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a severity category."""

    digit: int
    label: str
    words: str


@dataclass(frozen=True, slots=True)
class Matrix:
    """The whole matrix."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


def draw_matrix(chosen: str = "", *, with_eliminated: bool = True) -> Matrix:
    """Return the matrix, with the cell of this code marked."""
    levels = [level for level in Probability if with_eliminated or level != Probability.ELIMINATED]
    columns = tuple(Column(each.value, name_of(each), SEVERITY_WORDS[each]) for each in Severity)
    return Matrix(columns, tuple(_draw_row(level, chosen) for level in levels))


def _draw_row(level: Probability, chosen: str) -> Row:
    cells = []
    for severity in Severity:
        code = write_code(severity, level)
        words = f"{name_of(severity)}, {name_of(level).lower()}"
        cells.append(Cell(code, find_risk(severity, level), words, code == chosen))
    return Row(level.value, name_of(level), PROBABILITY_WORDS[level], tuple(cells))


def name_of(choice: Severity | Probability) -> str:
    """Return the name without its digit or letter."""
    return str(choice.label).partition("· ")[2]


def choices(*, with_eliminated: bool = True) -> list[tuple[str, str]]:
    """Return every cell as a choice of a form."""
    rows = draw_matrix(with_eliminated=with_eliminated).rows
    return [(cell.code, f"{cell.code} {cell.risk.label}") for row in rows for cell in row.cells]
