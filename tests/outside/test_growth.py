"""Trend tests, growth models, a control chart and waiting times against handbooks and textbooks."""

from __future__ import annotations

import math
from itertools import accumulate

import pytest
from scipy import stats

from faulttree.engine.growth.control import make_u_chart
from faulttree.engine.growth.fit import check_fit
from faulttree.engine.growth.laplace import find_trend
from faulttree.engine.growth.power_law import fit_power_law
from faulttree.engine.growth.record import make_record
from faulttree.engine.growth.waiting import estimate_waiting

HANDBOOK = (5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0)
DEVELOPMENT = (
    *(2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5),
    *(98.1, 101.1, 132.0, 142.2, 147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1),
)
TWO_PROTOTYPES = (
    *(2.7, 10.3, 12.5, 30.6, 57.0, 61.3, 80.0, 109.5, 125.0, 128.6, 143.8),
    *(167.9, 229.2, 296.7, 320.6, 328.2, 366.2, 396.7, 421.1, 438.2, 501.2, 620.0),
)
WORSENING = (
    *(104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106),
    *(140, 1, 102, 3, 393, 96, 232, 89, 61, 37, 293, 7, 165, 87, 99),
)


def test_the_reliability_improvement_data_of_the_handbook() -> None:
    """Source: NIST/SEMATECH e-Handbook, section 8.4.5: printed beta 0.483506, MTBF 310.234, limits 157.7138, 548.5566.

    Its limits rest on a normal approximation around the corrected MTBF; ours are exact around the maximum-likelihood
    one. The corrected MTBF 310.234 is ours times n/(n-1).
    """
    record = make_record(HANDBOOK, 1500.0)
    fit = fit_power_law(record, confidence=0.8)
    assert fit.beta == pytest.approx(0.537228866, rel=1e-8)
    assert fit.scale == pytest.approx(0.196658216, rel=1e-7)
    assert fit.beta_unbiased == pytest.approx(0.483506, abs=5e-7)
    assert fit.intensity == pytest.approx(0.00358152577, rel=1e-8)
    assert fit.mtbf * 10 / 9 == pytest.approx(310.234, abs=5e-4)
    assert fit.mtbf_limits.low == pytest.approx(157.7138, rel=0.05)
    assert fit.mtbf_limits.high == pytest.approx(548.5566, rel=0.1)


def test_two_trend_tests_of_the_same_data() -> None:
    """Source: formulas of the NIST/SEMATECH e-Handbook, section 8.2.3.4, recomputed; 2 sum ln is MIL-HDBK-189's."""
    record = make_record(HANDBOOK, 1500.0)
    trend = find_trend(record)
    assert trend.statistic == pytest.approx(-1.326949, abs=1e-6)
    assert stats.norm.cdf(trend.statistic) == pytest.approx(0.092263, abs=1e-6)
    assert trend.p_improved == pytest.approx(0.092263, abs=0.003)
    assert 2 * record.log_sum == pytest.approx(37.2281, abs=1e-4)
    assert fit_power_law(record).p_improved == pytest.approx(0.010986, abs=1e-6)


def test_the_individual_failure_times_of_the_military_handbook() -> None:
    """Source: MIL-HDBK-189 (1981), appendix C (from memory): beta 0.716, lambda 0.454, intensity 0.0645, MTBF 15.5."""
    fit = fit_power_law(make_record(DEVELOPMENT, 300.0))
    assert fit.beta == pytest.approx(0.716339262, rel=1e-8)
    assert fit.scale == pytest.approx(0.453841861, rel=1e-8)
    assert fit.intensity == pytest.approx(0.064470534, rel=1e-7)
    assert fit.mtbf == pytest.approx(15.510962, rel=1e-7)
    assert fit.beta_unbiased == pytest.approx(0.689808179, rel=1e-8)
    assert check_fit(fit).statistic == pytest.approx(0.0910611224, rel=1e-7)
    assert 2 * fit.record.log_sum == pytest.approx(75.383276, abs=1e-6)
    assert find_trend(fit.record).statistic == pytest.approx(-2.318, abs=5e-4)


def test_a_failure_truncated_development_test() -> None:
    """Source: two-prototype example of public reliability-growth tutorials: beta 0.6142, lambda 0.4239."""
    fit = fit_power_law(make_record(TWO_PROTOTYPES))
    assert fit.beta == pytest.approx(0.614210400, rel=1e-8)
    assert fit.scale == pytest.approx(0.423942215, rel=1e-8)
    assert fit.beta_unbiased == pytest.approx(0.558373091, rel=1e-8)
    assert fit.mtbf == pytest.approx(45.883, abs=5e-4)


def test_a_failure_truncated_record_that_worsens() -> None:
    """Source: Modarres, Kaminskiy and Krivtsov, Reliability Engineering and Risk Analysis, example 5.11.

    U is 2.409 without the event that ended the watching; with it, it would be 2.685.
    """
    record = make_record(list(accumulate(float(gap) for gap in WORSENING)))
    trend = find_trend(record)
    assert (record.end, trend.used) == (5256.0, 29)
    assert trend.statistic == pytest.approx(2.409438, abs=1e-6)
    fit = fit_power_law(record)
    assert fit.beta == pytest.approx(1.588053, abs=1e-6)
    assert fit.scale == pytest.approx(3.702729e-5, rel=1e-6)
    assert trend.p_changed == pytest.approx(0.01598, abs=1e-4)


@pytest.mark.parametrize(
    ("count", "confidence", "low", "high"),
    [
        *((3, 0.8, 0.333, 6.326), (3, 0.9, 0.263, 9.736), (3, 0.95, 0.217, 14.55), (3, 0.98, 0.174, 24.10)),
        *((4, 0.8, 0.385, 4.243), (4, 0.9, 0.312, 5.947), (5, 0.9, 0.352, 4.517), (5, 0.95, 0.300, 5.862)),
    ],
)
def test_tabled_factors_of_the_mtbf_at_a_fixed_end(count: int, confidence: float, low: float, high: float) -> None:
    """Source: MIL-HDBK-189, table of confidence intervals for the MTBF, time-truncated (Crow; from memory)."""
    fit = fit_power_law(make_record([float(n) for n in range(1, count + 1)], count + 2.0), confidence=confidence)
    assert fit.mtbf_limits.low / fit.mtbf == pytest.approx(low, abs=6e-4)
    assert fit.mtbf_limits.high / fit.mtbf == pytest.approx(high, rel=3e-4)


@pytest.mark.parametrize(("count", "low", "high"), [(4, 0.6601, 5.328), (5, 0.6568, 4.000), (6, 0.6600, 3.321)])
def test_tabled_factors_of_the_mtbf_at_the_last_event(count: int, low: float, high: float) -> None:
    """Source: MIL-HDBK-189, table of confidence intervals for the MTBF, failure-truncated, 80 % (Crow; from memory)."""
    fit = fit_power_law(make_record([float(n) for n in range(1, count + 1)]), confidence=0.8)
    assert fit.mtbf_limits.low / fit.mtbf == pytest.approx(low, abs=1e-4)
    assert fit.mtbf_limits.high / fit.mtbf == pytest.approx(high, rel=2e-4)


@pytest.mark.parametrize(("count", "critical"), [(3, 0.154), (5, 0.160), (10, 0.167), (20, 0.172), (30, 0.172)])
def test_tabled_critical_values_of_the_fit(count: int, critical: float) -> None:
    """Source: MIL-HDBK-189 and IEC 61164, Cramer-von Mises critical values at 10 % (from memory); both simulated."""
    times = [float(n) for n in range(1, count + 1)]
    assert check_fit(fit_power_law(make_record(times, count + 1.0))).critical == pytest.approx(critical, abs=0.004)


def test_a_chart_of_counts() -> None:
    """Source: NIST/SEMATECH e-Handbook, section 6.3.3.1 (counts from memory): 25 wafers, mean 16, limits 4 and 28.

    The handbook's 3-sigma limits call wafer 24 with 31 out of control, and have 28 on the limit. The exact quantiles
    of the same tail are 5 and 29, and call the same wafer.
    """
    counts = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
    chart = make_u_chart(counts, [1.0] * 25)
    assert chart.centre == 16.0
    assert 16 + 3 * math.sqrt(chart.centre) == 28.0
    assert (chart.points[0].low, chart.points[0].high) == (5.0, 29.0)
    assert chart.signals == (23,)


def test_remission_times() -> None:
    """Source: Freireich and others 1963, as in Kalbfleisch and Prentice (from memory): medians 23 and 8 weeks."""
    treated = estimate_waiting(
        [6.0, 6.0, 6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0],
        [6.0, 9.0, 10.0, 11.0, 17.0, 19.0, 20.0, 25.0, 32.0, 32.0, 34.0, 35.0],
    )
    others = estimate_waiting(
        [float(t) for t in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)]
    )
    assert treated is not None
    assert others is not None
    assert (treated.median, others.median) == (23.0, 8.0)
