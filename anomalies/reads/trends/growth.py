"""Whether anomalies come rarer as exposure grows: the Laplace test, and the power-law model with its limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from anomalies.reads.trends.axis import Axis
from anomalies.reads.trends.facts import Case, Facts
from anomalies.reads.trends.filter import CONFIDENCES, TrendFilter
from config.kit.figures import write_plain, write_share
from faulttree.facade import (
    BadModel,
    Fit,
    Growth,
    GrowthRecord,
    Laplace,
    Truncation,
    check_fit,
    find_trend,
    fit_power_law,
    make_record,
)

MOST_FITTED = 2_000
"""With more anomalies the fit isn't checked: its distribution is simulated, which would take too much memory."""


@dataclass(frozen=True, slots=True)
class Placed:
    """An anomaly on the axis of exposure."""

    case: Case
    at: float


@dataclass(frozen=True, slots=True)
class Trend:
    """Test and model. What couldn't be had is None, and its `why_not` says why.

    placed : on the axis, the earliest first; early : those that came before any exposure, which are left out
    """

    placed: tuple[Placed, ...]
    early: tuple[Case, ...]
    total: float
    record: GrowthRecord | None
    laplace: Laplace | None
    no_laplace: str
    growth: Growth | None
    no_growth: str
    fit: Fit | None
    no_fit: str
    wanted: TrendFilter

    @property
    def is_by_last(self) -> bool:
        """The last anomaly ended the watching."""
        return self.record is not None and self.record.truncation == Truncation.FAILURE

    @property
    def level(self) -> float:
        """Above this two-sided p, chance is explanation enough."""
        return 1.0 - self.wanted.level


def read_trend(facts: Facts, wanted: TrendFilter) -> Trend:
    """Place every anomaly on the axis, and test and fit what can be."""
    axis = Axis(facts.outings, wanted.measure)
    places = axis.places([case.occurred_at for case in facts.cases])
    placed = [Placed(case, at) for case, at in zip(facts.cases, places, strict=True) if at > 0.0]
    early = tuple(case for case, at in zip(facts.cases, places, strict=True) if at <= 0.0)
    placed.sort(key=lambda each: (each.at, each.case.occurred_at))
    record, why_not = _make_record([each.at for each in placed], axis.total, wanted)
    if record is None:
        return Trend(tuple(placed), early, axis.total, None, None, why_not, None, why_not, None, "", wanted)
    laplace, no_laplace = _try_laplace(record)
    growth, no_growth = _try_growth(record, wanted.level)
    fit, no_fit = _try_fit(growth)
    return Trend(tuple(placed), early, axis.total, record, laplace, no_laplace, growth, no_growth, fit, no_fit, wanted)


def _make_record(places: Sequence[float], total: float, wanted: TrendFilter) -> tuple[GrowthRecord | None, str]:
    if total <= 0.0:
        return None, f"No exposure is on record: a trend needs activities that are over, counted in {wanted.units}."
    try:
        return make_record(places, total if wanted.until == "now" else None), ""
    except BadModel as error:
        return None, _say(error)


def _try_laplace(record: GrowthRecord) -> tuple[Laplace | None, str]:
    try:
        return find_trend(record), ""
    except BadModel as error:
        return None, _say(error)


def _try_growth(record: GrowthRecord, confidence: float) -> tuple[Growth | None, str]:
    try:
        return fit_power_law(record, confidence=confidence), ""
    except BadModel as error:
        return None, _say(error)


def _try_fit(growth: Growth | None) -> tuple[Fit | None, str]:
    if growth is None:
        return None, ""
    if growth.record.free > MOST_FITTED:
        return None, f"The fit isn't checked for more than {MOST_FITTED:,} anomalies."
    return check_fit(growth), ""


def _say(error: BadModel) -> str:
    """Return what is wrong and the mend; events of the engine are anomalies here."""
    words = " ".join(f"{problem.message} {problem.mend}" for problem in error.problems)
    return words.replace("kinds of events", "systems").replace("events", "anomalies").replace("event", "anomaly")


def say_laplace(trend: Trend) -> str:
    """Return what the test says, in a sentence."""
    found = trend.laplace
    if found is None:
        return trend.no_laplace
    often = write_share(found.p_changed)
    if found.p_changed > trend.level:
        return (
            f"No trend is shown at {CONFIDENCES[trend.wanted.confidence]} confidence: with a constant rate, anomalies "
            f"would lie at least so unevenly in {often} of records."
        )
    way = "early, so they come rarer" if found.statistic < 0 else "late, so they come denser"
    return (
        f"Anomalies lie {way} as exposure grows: with a constant rate they would lie at least so unevenly in {often} "
        "of records."
    )


def say_growth(trend: Trend) -> str:
    """Return what the model says, in a sentence."""
    found = trend.growth
    if found is None:
        return trend.no_growth
    low, high = found.beta_limits.low, found.beta_limits.high
    limits = f"{CONFIDENCES[trend.wanted.confidence]} limits {write_plain(low)} to {write_plain(high)}"
    if low <= 1.0 <= high:
        return f"β is {write_plain(found.beta)}, {limits}: 1 lies within, so a constant rate can't be ruled out."
    way = "below 1: anomalies come rarer" if high < 1.0 else "above 1: anomalies come denser"
    return f"β is {write_plain(found.beta)}, {limits}, all {way} as exposure grows."


def say_fit(trend: Trend) -> str:
    """Return whether the model may be believed, in a sentence."""
    found = trend.fit
    if found is None:
        return trend.no_fit
    worse = f"chance alone gives a worse one in about {write_share(found.p)} of records"
    if found.is_poor:
        return f"The model fits poorly ({worse}), so don't rest anything on its figures."
    return f"Nothing speaks against the model's fit ({worse}); with few anomalies, that says little."
