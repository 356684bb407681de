"""Every figure of the trends explains itself, with the numbers of the page put into its formula."""

from __future__ import annotations

import pytest
from django.http import Http404
from scipy import stats

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.web.explained import FIGURES, find_explained
from config.kit.figures import write_plain
from tests.anomalies.trends import close, confirm, day, hold, read, repeat, report

pytestmark = pytest.mark.django_db
HANDBOOK = (5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0)
SINGLE = ("laplace", "beta", "intensity", "between", "fit", "centre", "returned")


def explain(trends, figure, of=""):
    return find_explained("trends", figure, trends, of)


def words(shown):
    inputs = (f"{each.name} {each.value} {each.where}" for each in shown.inputs)
    return "\n".join((shown.value, *shown.formula, *inputs))


@pytest.fixture
def trends():
    """Ten anomalies of a handbook in 1500 hours, the first closed and back again, the third with a cause."""
    hold(day(0), hours=1500)
    found = [report(day(0, hours), screened=hours < 1000) for hours in HANDBOOK]
    close(found[0], day(1, 5))
    repeat(found[4], found[0], day(20))
    confirm(found[2], day(2, 19))
    return read(measure="hours", confidence="0.8", split="severity")


def test_every_figure_of_the_page_has_its_explanation(trends):
    of = {
        "rate": "2023-Q1",
        "group-rate": "2",
        "limits": "2023-Q1",
        "after": trends.recurrences.repeats[0].again.number,
    }
    of |= {"mean": "screen", "median": "screen", "share": "proximate"}
    for page, figure in FIGURES:
        if page != "trends" or figure in ("limits", "centre"):
            continue
        shown = explain(trends, figure, of.get(figure, ""))
        assert shown.value
        assert shown.assumptions
        assert shown.source
        assert shown.formula


def test_the_handbook_is_in_the_formulas(trends):
    """Source: NIST/SEMATECH e-Handbook, sections 8.2.3.4 and 8.4.5; recomputed digits as in tests/outside."""
    assert "= -1.3269" in words(explain(trends, "laplace")).replace("\u2212", "-")
    beta = words(explain(trends, "beta"))
    assert "10 / 18.614 = 0.53723" in beta
    assert "without bias 0.4835" in beta
    assert "10·0.53723 / 1500 = 3.5815×10⁻³" in words(explain(trends, "intensity"))
    assert "1500 / (10·0.53723) = 279.21" in words(explain(trends, "between"))


def test_limits_of_beta_are_quantiles_of_chi_square(trends):
    """Source: scipy's chi-square law; 2 beta Σ ln / beta-hat ~ chi-square(2 n), Crow 1974."""
    log_sum = trends.trend.record.log_sum
    low, high = (stats.chi2.ppf(share, 20) / (2 * log_sum) for share in (0.1, 0.9))
    assert explain(trends, "beta").value.endswith(f"({write_plain(low)} to {write_plain(high)})")


def test_control_limits_put_in_the_periods_mean():
    for n, count in enumerate((2, 1, 3, 2)):
        activity = hold(day(n * 10), title=f"Sortie {n}")
        for hour in range(count):
            report(day(n * 10, hour), activity_id=activity.pk)
    shown = read(period="activity")
    key = shown.rows[0].key
    mean = 8 / 4
    low, high = (int(stats.poisson.ppf(share, mean)) for share in (0.00135, 0.99865))
    said = words(explain(shown, "limits", key))
    assert "ū · exposure = 2.000 · 1 = 2.000" in said
    assert f"k = {low} and {high}" in said
    assert "= 8 / 4 = 2.0000" in words(explain(shown, "centre"))


def test_recurrences_times_and_shares_say_what_was_divided(trends):
    assert "= 1 / 1" in words(explain(trends, "returned"))
    repeat_ = trends.recurrences.repeats[0]
    assert "closed 2023-01-02 05:00 UTC" in words(explain(trends, "after", repeat_.again.number))
    assert "1 / 1 = 100.0" in words(explain(trends, "share", "proximate"))
    assert "got there 8 see them" in words(explain(trends, "mean", "screen"))
    assert "still wait 2 see them" in words(explain(trends, "mean", "screen"))
    assert "8 / 1500 = 5.3333×10⁻³" in words(explain(trends, "group-rate", "2"))


NONSENSE = [("rate", "1999"), ("group-rate", "9"), ("group-rate", "2|1999"), ("limits", "x"), ("share", "x")]
NONSENSE += [("mean", "x"), ("median", "close-x"), ("after", "A-1"), ("guess", ""), *((name, "x") for name in SINGLE)]


@pytest.mark.parametrize(("figure", "of"), NONSENSE)
def test_what_is_no_figure_is_not_found(trends, figure, of):
    with pytest.raises(Http404):
        explain(trends, figure, of)


@pytest.mark.parametrize("figure", [*SINGLE, "rate"])
def test_without_data_there_is_nothing_to_explain(figure):
    with pytest.raises(Http404):
        explain(read(), figure)
