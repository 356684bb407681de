"""How belief is drawn: bars as long as probabilities, lines through the posteriors, safe markup."""

from __future__ import annotations

import pytest
from lxml import etree

from anomalies.charts.beliefs import BAR_WIDTH, MOST_EVENTS, MOST_LABELS, ROW, draw_belief, draw_way
from faulttree.engine.diagnosis.diagnose import Step
from faulttree.facade import Posterior


def posterior(*steps):
    """A posterior of which only the steps matter."""
    return Posterior(0.1, (), steps=tuple(Step(key, values) for key, values in steps))


def drawn(markup):
    return etree.fromstring(markup)


def rects(chart):
    return {rect.get("class"): rect for rect in chart.iter("{http://www.w3.org/2000/svg}rect")}


def circles(chart):
    return [float(dot.get("cy")) for dot in chart.iter("{http://www.w3.org/2000/svg}circle")]


@pytest.mark.parametrize(("given_top", "now"), [(0.25, 0.75), (1.0, 0.5), (0.0, 0.1)])
def test_the_bar_ends_at_the_posterior_and_marks_where_it_was(given_top, now):
    found = rects(drawn(draw_belief(given_top, now)))
    assert float(found["belief__now"].get("width")) == pytest.approx(now * BAR_WIDTH, abs=0.01)
    assert float(found["belief__was"].get("x")) == pytest.approx(min(given_top * BAR_WIDTH, BAR_WIDTH - 2), abs=0.01)


def test_without_a_posterior_the_bar_is_that_of_the_top_event():
    chart = drawn(draw_belief(0.5, None))
    assert float(rects(chart)["belief__now"].get("width")) == BAR_WIDTH / 2
    assert chart.get("aria-label").startswith("50.0")


def test_the_way_leads_through_every_step_on_a_scale_from_0_to_1():
    way = draw_way(posterior(("", {"a": 0.0}), ("B1", {"a": 1.0}), ("= a", {"a": 0.25})), ["a"], {"a": "The seal"})
    heights = circles(drawn(way))
    assert heights[0] - heights[1] == pytest.approx(ROW, abs=0.02)
    assert heights[0] - heights[2] == pytest.approx(ROW / 4, abs=0.02)
    assert "The seal from 0\u202f% to 25.0\u202f%" in drawn(way).get("aria-label")


def test_each_step_says_what_came_in():
    way = draw_way(posterior(("", {"a": 0.1}), ("B1", {"a": 0.2}), ("= a", {"a": 1.0})), ["a"], {})
    said = [each.text for each in drawn(way).iter("{http://www.w3.org/2000/svg}title")]
    assert [words.partition(":")[0] for words in said] == ["the top event alone", "B1", "a"]


def test_nothing_is_drawn_before_the_first_piece_of_evidence():
    assert draw_way(posterior(("", {"a": 0.1})), ["a"], {}) == ""
    assert draw_way(posterior(("", {}), ("B1", {})), [], {}) == ""


def test_names_are_escaped():
    name = "<script>alert(1)</script>"
    way = draw_way(posterior(("", {name: 0.1}), (f"= {name}", {name: 0.2})), [name], {name: name})
    assert "<script" not in way
    assert drawn(way) is not None


def test_many_events_and_many_pieces_still_fit():
    values = {f"e{n}": 0.1 for n in range(MOST_EVENTS + 3)}
    way = drawn(draw_way(posterior(*((f"B{n}" if n else "", values) for n in range(41))), list(values), {}))
    assert len(circles(way)) == 41 * MOST_EVENTS
    ticks = [each for each in way.iter("{http://www.w3.org/2000/svg}text") if each.get("class") == "chart-tick"]
    assert len(ticks) <= MOST_LABELS
