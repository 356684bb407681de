"""Charts: right places, safe markup, nothing drawn where there is nothing to say."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from config.kit.plots import Scale, linear_ticks, log_ticks
from faulttree.charts.bars import draw_importance
from faulttree.charts.curves import draw_curve
from faulttree.charts.ruler import draw_ruler
from faulttree.charts.spread import draw_histogram
from faulttree.reads.tables import MEASURES, EventName, EventRow

SVG = {"s": "http://www.w3.org/2000/svg"}


def spread(edges, counts):
    """An uncertainty result."""
    return {
        "histogram": {"edges": edges, "counts": counts},
        "samples": sum(counts),
        "p05": edges[0],
        "p50": edges[len(edges) // 2],
        "mean": edges[len(edges) // 2],
        "p95": edges[-1],
    }


@given(st.floats(1e-12, 1e6), st.floats(1.01, 1e6))
def test_ticks_lie_within_the_scale(low, factor):
    high = low * factor
    for ticks in (linear_ticks(low, high, 5), log_ticks(low, high, 5)):
        assert all(low * 0.999 <= tick <= high * 1.001 for tick in ticks)
        assert ticks == sorted(set(ticks))
    assert len(linear_ticks(0.0, high, 5)) in range(2, 8)


def test_scales_are_even_or_by_powers_of_ten():
    assert Scale(0.0, 10.0, 100.0, 200.0)(2.5) == 125.0
    assert Scale(1e-4, 1.0, 0.0, 400.0, is_log=True)(1e-3) == pytest.approx(100.0)


def test_bars_of_a_histogram_are_as_high_as_their_counts():
    drawn = etree.fromstring(draw_histogram(spread([1e-4, 2e-4, 3e-4, 4e-4], [10, 40, 20])))
    heights = [float(bar.get("height")) for bar in drawn.findall(".//s:rect", SVG)]
    assert heights[1] / heights[0] == pytest.approx(4.0, rel=0.01)
    assert heights[2] / heights[0] == pytest.approx(2.0, rel=0.01)


def test_geometric_bins_are_equally_wide_on_a_scale_of_powers():
    edges = [1e-6 * 10 ** (i / 10) for i in range(31)]
    drawn = etree.fromstring(draw_histogram(spread(edges, [1] * 30)))
    widths = {round(float(bar.get("width")), 1) for bar in drawn.findall(".//s:rect", SVG)}
    assert max(widths) - min(widths) < 0.2


def test_samples_that_are_all_the_same_give_no_histogram():
    assert draw_histogram(spread([1e-4, 1e-4 + 1e-13], [5])) == ""


def test_a_curve_goes_through_its_points():
    drawn = etree.fromstring(draw_curve([0.0, 1.0, 2.0], [0.0, 0.5, 1.0], "Q", 1))
    points = [(float(c.get("cx")), float(c.get("cy"))) for c in drawn.findall(".//s:circle", SVG)]
    (x0, y0), (x1, y1), (x2, y2) = points
    assert x1 - x0 == pytest.approx(x2 - x1, abs=0.1)
    assert y0 - y1 == pytest.approx(y1 - y2, abs=0.1)
    assert draw_curve([1.0], [0.5], "Q", 1) == ""


@pytest.mark.parametrize("values", [[0.0, 0.0], [1e-5, 1e-5], [1.0, 0.999999]])
def test_flat_curves_are_drawn(values):
    assert etree.fromstring(draw_curve([0.0, 1.0], values, "Q", 1)) is not None


def test_the_ruler_marks_every_figure_and_the_bracket():
    exact = draw_ruler({"method": "exact", "probability": 1e-4, "rare_event": 1.2, "min_cut_upper_bound": 0.5})
    assert exact.count("<title>") == 3
    bracket = draw_ruler({"method": "bracket", "lower": 1e-6, "upper": 2e-6, "rare_event": None})
    assert "ruler-bracket" in bracket
    assert "lower end" in bracket
    assert draw_ruler({"method": "exact", "probability": 0.0}) == ""


def rows(*values):
    """Importance rows with one value for every measure."""
    return [EventRow(EventName(f"<e{i}>", ""), (value,) * len(MEASURES)) for i, value in enumerate(values)]


def test_importance_bars_are_proportional_and_escaped():
    drawn = etree.fromstring(draw_importance(rows(0.5, 0.25, math.inf, None), MEASURES[0], 0))
    widths = [float(bar.get("width")) for bar in drawn.findall(".//s:rect", SVG)]
    assert widths[0] / widths[1] == pytest.approx(2.0, rel=0.01)
    assert len(widths) == 2


def test_importance_over_many_decades_has_dots_not_bars():
    drawn = etree.fromstring(draw_importance(rows(1.0, 1e-6), MEASURES[0], 0))
    assert drawn.findall(".//s:rect", SVG) == []
    assert len(drawn.findall(".//s:circle", SVG)) == 2


def test_negative_importance_is_drawn_to_the_other_side():
    drawn = etree.fromstring(draw_importance(rows(0.5, -0.25), MEASURES[0], 0))
    one, two = drawn.findall(".//s:rect", SVG)
    assert float(two.get("x")) < float(one.get("x"))


def test_nothing_is_drawn_of_nothing():
    assert draw_importance(rows(None, math.inf), MEASURES[0], 0) == ""
