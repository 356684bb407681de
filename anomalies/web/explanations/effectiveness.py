"""The figures of an action's effectiveness: p-value, ratio of rates, upper limit, exposure still needed."""

from __future__ import annotations

from collections.abc import Sequence

from anomalies.reads.recurrence_rates import ModeRates
from anomalies.web.explained import Explained, Input, explained
from config.kit.figures import write_plain, write_share

POISSON = "Occurrences are independent and their rates constant, before the action was done and since."
ALIKE = "Exposure before and since is of the same kind: the same hardware, used alike."
COUNTED = "Every occurrence was recorded and named; what nobody noticed isn't in the counts."
CHOSEN = (
    "What led to the action counts before it: a rate that was high by chance falls by itself, so the comparison leans "
    "towards an improvement."
)
ASSUMED = (POISSON, ALIKE, COUNTED, CHOSEN)
EXACT = (
    "Przyborowski and Wilenski 1940; Clopper and Pearson 1934 (from memory); checked against the worked example of the "
    "rate-comparison test of the R base distribution."
)


@explained("action", "p-improved")
def explain_p(rates: Sequence[ModeRates], of: str) -> Explained | None:
    """The one-sided p-value."""
    row = _find(rates, of)
    if row is None or row.comparison is None:
        return None
    total = row.before.count + row.since.count
    share = row.since.exposure / (row.before.exposure + row.since.exposure)
    return Explained(
        "One-sided p-value of the improvement",
        write_plain(row.comparison.p_improved, 5),
        "How likely so few occurrences since, or fewer, would be if the rate had not changed.",
        (
            f"Given {total} in all, those since are binomial with n = {total} and the share of exposure since",
            f"share = {row.since.exposure:g} / ({row.before.exposure:g} + {row.since.exposure:g}) = {share:.5g}",
            f"p = P(X ≤ {row.since.count} | n = {total}, {share:.5g}) = {write_plain(row.comparison.p_improved, 5)}",
        ),
        _inputs(row),
        ASSUMED,
        EXACT,
    )


@explained("action", "ratio")
def explain_rate_ratio(rates: Sequence[ModeRates], of: str) -> Explained | None:
    """The ratio of rates with its interval."""
    row = _find(rates, of)
    if row is None or row.comparison is None or row.comparison.ratio is None:
        return None
    found = row.comparison
    return Explained(
        "Rate since over rate before",
        f"{write_plain(found.ratio or 0.0, 4)} ({write_plain(found.low, 3)} to {write_plain(found.high, 3)})",
        f"Below 1 it became rarer. The interval is the {write_share(row.confidence)} one.",
        (
            f"ratio = ({row.since.count} / {row.since.exposure:g}) / ({row.before.count} / {row.before.exposure:g})",
            "limits: Clopper-Pearson limits q of the share of occurrences since, then q/(1 − q) · T before / T since",
        ),
        _inputs(row),
        ASSUMED,
        EXACT,
    )


@explained("action", "upper")
def explain_upper(rates: Sequence[ModeRates], of: str) -> Explained | None:
    """The upper limit of the rate since."""
    row = _find(rates, of)
    if row is None or row.upper is None:
        return None
    k, hours = row.since.count, row.since.exposure
    closed = f" = −ln(1 − {row.confidence:g}) / {hours:g}" if not k else ""
    return Explained(
        "Upper limit of the rate since",
        write_plain(row.upper, 4),
        f"With {write_share(row.confidence)} confidence the rate lies below it, also where nothing recurred.",
        (
            f"chi-square({row.confidence:g}; 2·{k} + 2) / (2·{hours:g}){closed}",
            f"= {write_plain(row.upper, 5)}",
        ),
        _inputs(row),
        (POISSON, COUNTED),
        "Exact Poisson limit through the chi-square law (any handbook of reliability; from memory).",
    )


@explained("action", "needed")
def explain_needed(rates: Sequence[ModeRates], of: str) -> Explained | None:
    """The exposure still needed."""
    row = _find(rates, of)
    if row is None or row.needed is None:
        return None
    closed = (
        f"T since = T before · ((1 − {row.confidence:g})^(−1/{row.before.count}) − 1), less what has passed"
        if not row.since.count
        else "solved numerically for the exposure at which the one-sided p-value is 1 − confidence"
    )
    return Explained(
        "Exposure still needed to show an improvement",
        f"{row.needed:.1f} {row.mode.get_measure_display().lower()}",
        f"Without another recurrence, this much more shows a lower rate with {write_share(row.confidence)} confidence.",
        (closed, f"= {row.needed:.4g}"),
        _inputs(row),
        ASSUMED,
        EXACT,
    )


def _find(rates: Sequence[ModeRates], of: str) -> ModeRates | None:
    return next((row for row in rates if row.mode.code == of), None)


def _inputs(row: ModeRates) -> tuple[Input, ...]:
    unit, url = row.mode.get_measure_display().lower(), row.mode.get_absolute_url()
    return (
        Input("occurrences before", str(row.before.count), "anomalies that name the failure mode", url),
        Input("exposure before", f"{row.before.exposure:g} {unit}", "exposure log and activities", url),
        Input("occurrences since", str(row.since.count), "and recurrences linked to the anomaly", url),
        Input("exposure since", f"{row.since.exposure:g} {unit}", "exposure log and activities", url),
        Input("confidence", write_share(row.confidence), "chosen on the page"),
    )
