"""The answer of a run as a page shows it: headline figures, each with what must be said beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from faulttree.models import Run

CONSERVATIVE_FROM = 1.01
"""A figure more than 1 % above the exact one is called conservative."""


@dataclass(frozen=True, slots=True)
class Beside:
    """An approximate figure beside the exact one, and what it is worth; `flag` is empty where it agrees."""

    name: str
    meaning: str
    value: float | None
    flag: str


@dataclass(frozen=True, slots=True)
class OrderRow:
    """How many minimal cut sets have this many events; `share` of all, 0 where there are none."""

    order: int
    count: int
    share: float


@dataclass(frozen=True)
class Answer:
    """What the page says about the result as a whole."""

    run: Run
    data: dict[str, Any]
    beside: tuple[Beside, ...]
    by_order: tuple[OrderRow, ...]

    @property
    def is_exact(self) -> bool:
        """False for a bracket."""
        return bool(self.data["method"] == "exact")

    @property
    def probability(self) -> float | None:
        """Of the top event; None for a bracket."""
        value: float | None = self.data.get("probability")
        return value

    @property
    def gap(self) -> float | None:
        """Width of a bracket as a share of its upper end."""
        upper = self.data.get("upper")
        return (upper - self.data["lower"]) / upper if upper else None

    @property
    def listed(self) -> list[dict[str, Any]]:
        """The cut sets that are listed, likeliest first."""
        cut_sets = self.data.get("cut_sets")
        return list(cut_sets["listed"]) if cut_sets else []

    @property
    def all_are_listed(self) -> bool:
        """Every minimal cut set is in the list."""
        cut_sets = self.data.get("cut_sets")
        return bool(cut_sets and cut_sets.get("exact", True) and len(cut_sets["listed"]) == cut_sets["count"])


def read_answer(run: Run | None) -> Answer | None:
    """Return the answer of a run that is done, else None."""
    if run is None or run.result is None:
        return None
    data = run.result
    return Answer(run, data, _figures_beside(data), _by_order(data))


def _figures_beside(data: dict[str, Any]) -> tuple[Beside, ...]:
    exact = data.get("probability")
    return (
        Beside(
            "Rare-event sum",
            "Sum of the products of all minimal cut sets. Never too low for a coherent tree; above 1 no probability.",
            data["rare_event"],
            _flag(data["rare_event"], exact, data["coherent"]),
        ),
        Beside(
            "Min-cut upper bound",
            "1 − Π(1 − product) over all minimal cut sets: an upper bound for a coherent tree with independent events.",
            data["min_cut_upper_bound"],
            _flag(data["min_cut_upper_bound"], exact, data["coherent"]),
        ),
    )


def _flag(value: float | None, exact: float | None, coherent: bool) -> str:
    if value is None:
        return "not available"
    if value > 1.0:
        return "above 1: not a probability"
    if not coherent:
        return "ignores what must not occur"
    if exact and value > exact * CONSERVATIVE_FROM:
        return f"conservative: {(value / exact - 1.0) * 100.0:.2g} % above exact"
    return ""


def _by_order(data: dict[str, Any]) -> tuple[OrderRow, ...]:
    cut_sets = data.get("cut_sets") or {"by_order": {}, "count": 0}
    counts = {int(order): count for order, count in cut_sets["by_order"].items()}
    total = sum(counts.values())
    return tuple(OrderRow(order, count, count / total if total else 0.0) for order, count in sorted(counts.items()))
