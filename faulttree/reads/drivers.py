"""What drives the uncertainty of an answer, by the names that the author gave."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from faulttree.drawing.graph import FaultGraph
from faulttree.reads.tables import name_event

SHOWN = 25


@dataclass(frozen=True, slots=True)
class DriverRow:
    """One uncertain source. `detail` says which of several deviates it is; None where a figure wasn't to be had."""

    kind: str  # "parameter" or "basic event"
    name: str
    label: str
    detail: str
    rank_correlation: float | None
    rank_interval: tuple[float, float] | None
    variance_share: float | None
    variance_share_error: float | None


@dataclass(frozen=True, slots=True)
class Drivers:
    """The strongest sources; `count` of all, `samples` on which they were measured."""

    rows: tuple[DriverRow, ...]
    count: int
    samples: int
    is_partial: bool  # not all samples of the run were used

    @property
    def has_shares(self) -> bool:
        """Some share of the variance was estimated."""
        return any(row.variance_share is not None for row in self.rows)


def read_drivers(spread: dict[str, Any] | None, graph: FaultGraph | None) -> Drivers | None:
    """Return the drivers of an uncertainty run; None where nothing is uncertain, or the run is older than they are."""
    found = (spread or {}).get("drivers")
    if not spread or not found:
        return None
    several = {driver["owner"] for driver in found if driver["place"] > 1}
    rows = tuple(_row(driver, graph, several) for driver in found[:SHOWN])
    return Drivers(rows, len(found), spread["driver_samples"], spread["driver_samples"] < spread["samples"])


def _row(driver: dict[str, Any], graph: FaultGraph | None, several: set[str]) -> DriverRow:
    owner = driver["owner"]
    kind = "parameter" if owner.startswith("parameter ") else "basic event"
    name = owner.removeprefix(f"{kind} ")
    interval = driver["rank_interval"]
    return DriverRow(
        kind=kind,
        name=name,
        label=name_event(graph, name).label if kind == "basic event" else "",
        detail=f"random number {driver['place']}" if owner in several else "",
        rank_correlation=driver["rank_correlation"],
        rank_interval=(interval[0], interval[1]) if interval else None,
        variance_share=driver["variance_share"],
        variance_share_error=driver["variance_share_error"],
    )
