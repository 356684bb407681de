"""Severity categories, probability levels and the risk assessment code of MIL-STD-882E.

Source: MIL-STD-882E (11 May 2012), Tables I, II and III, as in two independent transcriptions of the standard; the
standard itself could not be seen. One public transcription has cell 3E as Low; the numeric index of MIL-STD-882D
agrees with Medium, which is used here.
"""

from __future__ import annotations

from django.db.models import IntegerChoices, TextChoices


class Severity(IntegerChoices):
    """Severity category: the worst credible outcome."""

    CATASTROPHIC = 1, "1 · Catastrophic"
    CRITICAL = 2, "2 · Critical"
    MARGINAL = 3, "3 · Marginal"
    NEGLIGIBLE = 4, "4 · Negligible"


class Probability(TextChoices):
    """Probability level of that outcome over the life of an item."""

    FREQUENT = "A", "A · Frequent"
    PROBABLE = "B", "B · Probable"
    OCCASIONAL = "C", "C · Occasional"
    REMOTE = "D", "D · Remote"
    IMPROBABLE = "E", "E · Improbable"
    ELIMINATED = "F", "F · Eliminated"


class Risk(TextChoices):
    """Risk level of a cell of the matrix."""

    HIGH = "high", "High"
    SERIOUS = "serious", "Serious"
    MEDIUM = "medium", "Medium"
    LOW = "low", "Low"
    ELIMINATED = "eliminated", "Eliminated"


_H, _S, _M, _L, _X = Risk.HIGH, Risk.SERIOUS, Risk.MEDIUM, Risk.LOW, Risk.ELIMINATED

_ROWS: dict[str, tuple[Risk, Risk, Risk, Risk]] = {  # severity 1, 2, 3, 4
    "A": (_H, _H, _S, _M),
    "B": (_H, _H, _S, _M),
    "C": (_H, _S, _M, _L),
    "D": (_S, _M, _M, _L),
    "E": (_M, _M, _M, _L),
    "F": (_X, _X, _X, _X),
}

MATRIX: dict[tuple[Severity, Probability], Risk] = {
    (severity, Probability(level)): row[severity - 1] for level, row in _ROWS.items() for severity in Severity
}
"""Table III: (severity, probability) -> risk level."""


def find_risk(severity: int, probability: str) -> Risk:
    """Return the risk level of a severity category and a probability level; raises ValueError for unknown ones."""
    return MATRIX[Severity(severity), Probability(probability)]


def write_code(severity: int, probability: str) -> str:
    """Return the risk assessment code: the category's digit and the level's letter, as in 2C."""
    return f"{Severity(severity).value}{Probability(probability).value}"


def cells_at(risk: str) -> list[tuple[int, str]]:
    """Return the (severity, probability) pairs of one risk level, worst first."""
    return [(severity.value, level.value) for (severity, level), cell in sorted(MATRIX.items()) if cell == risk]
