"""How trends are drawn: bars as high as rates, marks that lead to records, limits of each period, safe markup."""

from __future__ import annotations

import pytest
from lxml import etree

from anomalies.charts.trend_causes import draw_causes
from anomalies.charts.trend_control import draw_control
from anomalies.charts.trend_frame import MOST_PERIODS, NARROW, WIDE, draw_both
from anomalies.charts.trend_growth import MOST_POINTS, MOST_STEPS, draw_growth
from anomalies.charts.trend_rates import MOST_GROUPS, describe, draw_groups, draw_rates
from anomalies.reads.trends.causes import CauseRow
from anomalies.reads.trends.control import chart_rows
from anomalies.reads.trends.facts import Case, Facts, Outing
from anomalies.reads.trends.filter import TrendFilter
from anomalies.reads.trends.groups import Group
from anomalies.reads.trends.growth import read_trend
from anomalies.reads.trends.periods import Row
from tests.anomalies.trends import NOW, day

SVG = "{http://www.w3.org/2000/svg}"


def row(label, count, exposure=1.0):
    return Row(label, label, exposure, tuple(range(count)))


def drawn(markup):
    return etree.fromstring(markup)


def find(chart, name, class_):
    return [each for each in chart.iter(f"{SVG}{name}") if each.get("class") == class_]


def links(chart):
    return [each.get("href") for each in chart.iter(f"{SVG}a")]


def url(each):
    return f"/of/{each.key}"


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_bars_are_as_high_as_their_rates_and_lead_to_their_records(size):
    chart = drawn(draw_rates([row("a", 1), row("b", 4), row("c", 4, 2.0)], "outing", "quarter", url, size))
    one, four, two = (float(bar.get("height")) for bar in find(chart, "rect", "trend__bar"))
    assert four == pytest.approx(4 * one, abs=0.05)
    assert two == pytest.approx(2 * one, abs=0.05)
    assert links(chart) == ["/of/a", "/of/b", "/of/c"]
    assert chart.get("role") == "group"


def test_without_exposure_there_is_a_ring_and_no_bar():
    chart = drawn(draw_rates([row("a", 1), row("b", 2, 0.0), row("c", 0)], "hour", "year", url, WIDE))
    assert len(find(chart, "rect", "trend__bar")) == 2
    assert len(find(chart, "circle", "trend__none")) == 1
    assert links(chart) == ["/of/a", "/of/b"]
    assert describe(row("b", 2, 0.0), "hour") == "b: 2 anomalies in 0 hours, so no rate"
    assert describe(row("a", 1), "outing") == "a: 1 anomaly in 1 outing, 1.00 per outing"


def test_of_many_periods_the_latest_are_drawn():
    chart = drawn(draw_rates([row(f"p{n}", 1) for n in range(60)], "outing", "quarter", url, NARROW))
    assert links(chart) == [f"/of/p{n}" for n in range(60 - MOST_PERIODS, 60)]


def test_what_people_wrote_is_escaped():
    nasty = '<script>"&'
    markup = draw_rates([row(nasty, 1)], "outing", "activity", lambda each: f"/?of={each.key}", WIDE)
    assert "<script" not in markup
    assert links(drawn(markup)) == [f"/?of={nasty}"]


def test_all_groups_have_one_scale():
    groups = [Group(f"{n}", f"Group {n}", (row("a", n),), row("all", n)) for n in range(12, 0, -1)]
    chart = drawn(draw_groups(groups, "outing", "quarter", lambda group, each: f"/{group.key}/{each.key}", WIDE))
    heights = [float(bar.get("height")) for bar in find(chart, "rect", "trend__bar")]
    assert len(heights) == MOST_GROUPS
    assert heights[-1] / heights[0] == pytest.approx(5 / 12, abs=0.01)
    assert links(chart)[0] == "/12/a"


def test_a_point_beyond_a_rule_is_ringed_and_bears_its_number():
    control = chart_rows([row("a", 2), row("b", 2), row("c", 30), row("d", 2), row("bare", 1, 0.0)])
    chart = drawn(draw_control(control, "outing", "quarter", url, WIDE))
    assert len(find(chart, "circle", "trend__point")) == 4
    assert [each.text for each in find(chart, "text", "trend__rule")] == ["1"]
    assert "1 point beyond" in chart.get("aria-label")
    centre = float(find(chart, "path", "trend__centre")[0].get("d").split()[1].split("H")[0])
    points = [float(each.get("cy")) for each in find(chart, "circle", "trend__point")]
    assert points[2] < centre < points[0]
    said = [each.text for each in chart.iter(f"{SVG}title")]
    assert "Rule 1, above the upper limit" in said[2]
    assert links(chart) == ["/of/a", "/of/b", "/of/c", "/of/d"]


def growth(count):
    cases = tuple(
        Case(n, f"A-{n}", "Leak", day(n / count), day(n / count), None, None, "reported", 0, None, "", frozenset())
        for n in range(1, count + 1)
    )
    outing = Outing(1, "Long", "test", day(0), day(1), frozenset())
    return read_trend(Facts(NOW, cases, (outing,), (), (), (), {}, {}), TrendFilter(measure="hours"))


def test_the_count_climbs_by_one_at_each_anomaly():
    chart = drawn(draw_growth(growth(4), lambda case: f"/log/{case.number}/", WIDE))
    points = find(chart, "circle", "trend__point")
    xs, ys = ([float(each.get(side)) for each in points] for side in ("cx", "cy"))
    assert xs[1] - xs[0] == pytest.approx(xs[3] - xs[2], abs=0.05)
    assert ys[0] - ys[1] == pytest.approx(ys[2] - ys[3], abs=0.05)
    assert len(find(chart, "path", "trend__fit")) == 1
    assert links(chart) == ["/log/A-1/", "/log/A-2/", "/log/A-3/", "/log/A-4/"]


def test_of_very_many_anomalies_only_the_line_is_drawn():
    chart = drawn(draw_growth(growth(MOST_POINTS + 1), lambda case: "/", NARROW))
    assert not find(chart, "circle", "trend__point")
    assert len(find(chart, "path", "trend__steps")) == 1


def test_the_line_of_very_many_is_thinned_and_still_ends_at_all_of_them():
    chart = drawn(draw_growth(growth(3 * MOST_STEPS), lambda case: "/", WIDE))
    steps = find(chart, "path", "trend__steps")[0].get("d").removeprefix("M").split("L")
    assert len(steps) == 2 * MOST_STEPS + 2
    assert steps[0].split() == ["54.0", f"{WIDE.height - 40:.1f}"]
    few = find(drawn(draw_growth(growth(4), lambda case: "/", WIDE)), "path", "trend__steps")[0].get("d")
    assert steps[-1].split()[1] == few.split("L")[-1].split()[1]


def test_shares_of_causes_and_their_sum_have_one_scale():
    rows = [CauseRow("root", "Root", (1, 2, 3), 0.75, 0.75), CauseRow("near", "Near", (4,), 0.25, 1.0)]
    chart = drawn(draw_causes(rows, url, WIDE))
    wide, small = (float(bar.get("width")) for bar in find(chart, "rect", "trend__bar"))
    assert wide == pytest.approx(3 * small, abs=0.05)
    left = float(find(chart, "rect", "trend__bar")[0].get("x"))
    dots = [float(dot.get("cx")) - left for dot in find(chart, "circle", "trend__cumulative-point")]
    assert dots == [pytest.approx(wide, abs=0.05), pytest.approx(wide + small, abs=0.05)]
    assert links(chart) == ["/of/root", "/of/near"]


def test_each_chart_has_a_picture_for_a_phone():
    assert draw_both(lambda size: size.class_) == WIDE.class_ + NARROW.class_
