"""What a run gives back. Every figure says how it was got; a bracket is never called exact."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from faulttree.engine.overrides import Overrides


@dataclass(frozen=True, slots=True)
class CutSet:
    """One minimal cut set; `events` sorted by name; `probability` = product over its events.

    In a list of prime implicants an event that must not occur carries a leading "not ".
    """

    events: tuple[str, ...]
    probability: float

    @property
    def order(self) -> int:
        """Number of events."""
        return len(self.events)


@dataclass(frozen=True, slots=True)
class CutSets:
    """Minimal cut sets: exact count (None when only a bracket was reached), count by order, the likeliest.

    `exact` tells whether `count` is the whole; otherwise it counts those that were kept.
    """

    count: int
    by_order: dict[int, int]
    listed: tuple[CutSet, ...]
    exact: bool = True


@dataclass(frozen=True, slots=True)
class Importance:
    """Importance measures of one event; definitions and sources in engine/README.md.

    A ratio whose denominator is zero is infinite; a measure that does not apply is None.
    """

    birnbaum: float
    criticality: float
    fussell_vesely_union: float | None
    fussell_vesely_rare_event: float | None
    risk_achievement_worth: float
    risk_reduction_worth: float
    diagnostic: float


@dataclass(frozen=True, slots=True)
class TimePoint:
    """Top event at time t (hours): probability, and frequency per hour (None where undefined)."""

    t: float
    probability: float
    frequency: float | None


@dataclass(frozen=True, slots=True)
class TimeCourse:
    """Top event over a time grid; the average and the expected number of occurrences by quadrature."""

    points: tuple[TimePoint, ...]
    average_probability: float
    expected_failures: float | None


@dataclass(frozen=True, slots=True)
class Driver:
    """How much one random deviate moves the top-event probability; a parameter shared by events is one.

    owner, place : whose deviate it is, as "parameter X" or "basic event Y", and which of its deviates, from 1
    rank_correlation : Spearman's, of the deviate with the top event; None where either never varies
    rank_interval : its 95 % interval
    variance_share : first-order share of the variance, a given-data estimate; see analysis/drivers.py
    variance_share_error : its standard error
    """

    owner: str
    place: int
    rank_correlation: float | None
    rank_interval: tuple[float, float] | None
    variance_share: float | None
    variance_share_error: float | None


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Distribution of the top-event probability over samples of the parameters.

    `errors` holds the sampling standard error of the mean and the 95 % interval of each percentile.
    `histogram` is (bin edges, counts). `drivers` stand in falling order of rank correlation; they are
    measured on the first `driver_samples` samples.
    """

    mean: float
    standard_deviation: float
    p05: float
    p50: float
    p95: float
    samples: int
    seed: int
    sampling: str
    errors: dict[str, Any]
    histogram: tuple[tuple[float, ...], tuple[int, ...]]
    drivers: tuple[Driver, ...] = ()
    driver_samples: int = 0


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Probability of each event given the top event and the evidence; exact."""

    evidence_probability: float
    posterior: dict[str, float]


@dataclass(frozen=True, slots=True)
class Quantification:
    """The whole answer. `probability` is None exactly when `method` is "bracket"."""

    tree: str
    top: str
    mission_time: float | None
    coherent: bool
    events: int
    gates: int
    modules: int
    method: str  # "exact" or "bracket"
    probability: float | None
    lower: float | None
    upper: float | None
    rare_event: float | None
    min_cut_upper_bound: float | None
    cut_sets: CutSets | None
    importance: dict[str, Importance] = field(default_factory=dict)
    prime_implicants: CutSets | None = None
    time: TimeCourse | None = None
    uncertainty: Uncertainty | None = None
    diagnosis: Diagnosis | None = None
    overrides: Overrides = field(default_factory=Overrides)  # what was different from the model
    notes: tuple[str, ...] = ()  # assumptions and warnings, whole sentences
    seconds: dict[str, float] = field(default_factory=dict)
    peak_memory_mib: float = 0.0
