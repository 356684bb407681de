"""The figures of the trend test and of the growth model."""

from __future__ import annotations

from anomalies.reads.trends.addresses import find_records_url
from anomalies.reads.trends.filter import CONFIDENCES
from anomalies.reads.trends.growth import Trend, say_fit, say_growth, say_laplace
from anomalies.reads.trends.page import Trends
from anomalies.web.explained import Explained, Input, explained
from anomalies.web.explanations.trends import ALIKE, EXPOSED, RECORDED
from config.kit.figures import write_plain
from faulttree.facade import Growth

NO_GAPS = "Anomalies of one moment of the axis, as of one pause between activities, lie on top of each other there."
ONE_PROCESS = "All that is counted together is one process: a system that was added or dropped looks like a trend."
POWER = "The rate is a power of exposure: events come from a Poisson process with λ·β·t^(β−1)."
CROW = "Crow 1974 and 1982; MIL-HDBK-189 (1981), appendix C (from memory); NIST/SEMATECH e-Handbook, section 8.4.5."


@explained("trends", "laplace")
def explain_laplace(trends: Trends, of: str) -> Explained | None:
    """The statistic of the Laplace test with its p-values."""
    trend = trends.trend
    found = trend.laplace
    if found is None or of:
        return None
    law = "exact: the mean of n uniform numbers" if found.is_exact else "by the normal law, off by less than 0.0015"
    return Explained(
        "Laplace test",
        f"U = {write_plain(found.statistic, 4)}",
        say_laplace(trend),
        (
            "U = (mean − T/2) / (T / √(12 n))",
            f"= ({found.mean:.5g} − {found.end:.5g}/2) / ({found.end:.5g} / √(12·{found.used})) "
            f"= {write_plain(found.statistic, 5)}",
            f"p ({law}): so early or earlier {write_plain(found.p_improved, 4)}; two-sided, twice the smaller tail, "
            f"{write_plain(found.p_changed, 4)}",
        ),
        (
            Input("anomalies n", str(found.used), "on the axis of exposure", find_records_url(trends.wanted, "placed")),
            Input("their mean place", f"{found.mean:.5g} {trends.wanted.units}", "exposure passed at each"),
            _end(trends),
        ),
        ("With a constant rate, anomalies are scattered evenly over exposure.", NO_GAPS, ONE_PROCESS, ALIKE, RECORDED),
        "Cox and Lewis 1966, section 3.3 (from memory); NIST/SEMATECH e-Handbook, section 8.2.3.4.",
    )


@explained("trends", "beta")
def explain_beta(trends: Trends, of: str) -> Explained | None:
    """The exponent of the power law."""
    growth = trends.trend.growth
    if growth is None or of:
        return None
    record, limits = growth.record, growth.beta_limits
    tail = (1.0 - growth.confidence) / 2.0
    return Explained(
        "Exponent β of the power law",
        f"{write_plain(growth.beta, 4)} ({write_plain(limits.low)} to {write_plain(limits.high)})",
        f"{say_growth(trends.trend)} Below 1 anomalies come rarer, at 1 the rate is constant.",
        (
            "β = n / Σ ln(T / t_i)",
            f"= {record.count} / {record.log_sum:.5g} = {write_plain(growth.beta, 5)}",
            f"limits: χ²({tail:.4g}; {2 * record.free}) and χ²({1 - tail:.4g}; {2 * record.free}), over 2·"
            f"{record.log_sum:.5g} = {write_plain(limits.low, 4)} to {write_plain(limits.high, 4)}",
            f"without bias {write_plain(growth.beta_unbiased, 4)}; against β = 1, two-sided p = "
            f"{write_plain(growth.p_changed, 4)}",
        ),
        _inputs(trends, growth),
        _assume(trends.trend),
        CROW,
    )


@explained("trends", "intensity")
def explain_intensity(trends: Trends, of: str) -> Explained | None:
    """The rate at the end."""
    growth = trends.trend.growth
    if growth is None or of:
        return None
    limits = growth.intensity_limits
    return Explained(
        f"Anomalies per {trends.wanted.unit} at the end",
        f"{write_plain(growth.intensity, 4)} ({write_plain(limits.low)} to {write_plain(limits.high)})",
        "The rate that the fitted model has at the end, after all that has changed on the way; not the average.",
        (
            "ρ = λ·β·T^(β−1) = n·β / T",
            f"= {growth.record.count}·{growth.beta:.5g} / {growth.record.end:.5g} = {write_plain(growth.intensity, 5)}",
            _say_limits(growth, limits.low, limits.high),
        ),
        _inputs(trends, growth),
        _assume(trends.trend),
        CROW,
    )


@explained("trends", "between")
def explain_between(trends: Trends, of: str) -> Explained | None:
    """The exposure between anomalies at the end."""
    growth = trends.trend.growth
    if growth is None or of:
        return None
    limits = growth.mtbf_limits
    return Explained(
        f"{trends.wanted.units.capitalize()} between anomalies at the end",
        f"{write_plain(growth.mtbf, 4)} ({write_plain(limits.low)} to {write_plain(limits.high)})",
        "How much exposure passes between two anomalies on average, if the rate stays as it is at the end.",
        (
            "1 / ρ = T / (n·β)",
            f"= {growth.record.end:.5g} / ({growth.record.count}·{growth.beta:.5g}) = {write_plain(growth.mtbf, 5)}",
            _say_limits(growth, limits.low, limits.high),
        ),
        _inputs(trends, growth),
        _assume(trends.trend),
        CROW,
    )


@explained("trends", "fit")
def explain_fit(trends: Trends, of: str) -> Explained | None:
    """Whether the power law fits."""
    trend = trends.trend
    found, growth = trend.fit, trend.growth
    if found is None or growth is None or of:
        return None
    free = growth.record.free
    return Explained(
        "Fit of the power law",
        f"C² = {write_plain(found.statistic, 4)}",
        say_fit(trend),
        (
            "C² = 1/(12 m) + Σ ((t_i/T)^β̃ − (2i − 1)/(2 m))²,  β̃ without bias",
            f"m = {free}, β̃ = {growth.beta_unbiased:.5g}: {write_plain(found.statistic, 5)}",
            f"chance passes {write_plain(found.critical, 4)} in {found.level:.0%} of records; "
            f"p = {write_plain(found.p, 3)} ± {write_plain(found.standard_error, 2)}",
        ),
        (
            *_inputs(trends, growth),
            Input("simulated records", f"{found.draws:,}", "drawn by the model, same each time"),
        ),
        _assume(trend),
        "Cramér-von Mises statistic, MIL-HDBK-189, appendix C; IEC 61164 (from memory); its distribution is simulated.",
    )


def _end(trends: Trends) -> Input:
    record = trends.trend.record
    assert record is not None
    why = "exposure up to the last anomaly" if trends.trend.is_by_last else "all exposure up to now"
    return Input("end T", f"{record.end:.5g} {trends.wanted.units}", why)


def _inputs(trends: Trends, growth: Growth) -> tuple[Input, ...]:
    url = find_records_url(trends.wanted, "placed")
    return (
        Input("anomalies n", str(growth.record.count), "on the axis of exposure", url),
        Input("Σ ln(T / t_i)", f"{growth.record.log_sum:.5g}", "t_i: exposure passed at each"),
        _end(trends),
        Input("confidence", CONFIDENCES[trends.wanted.confidence], "chosen on the page"),
    )


def _assume(trend: Trend) -> tuple[str, ...]:
    ended = (
        "Watching was stopped by the last anomaly."
        if trend.is_by_last
        else "Watching ended at a moment set beforehand."
    )
    return (POWER, ended, NO_GAPS, ONE_PROCESS, EXPOSED, ALIKE, RECORDED)


def _say_limits(growth: Growth, low: float, high: float) -> str:
    how = "by the law of their product" if growth.record.free < growth.record.count else "given Σ ln(T / t_i)"
    return f"exact {growth.confidence:.0%} limits, {how}: {write_plain(low, 4)} to {write_plain(high, 4)}"
