"""Previews beside an edited event: right figures, jumps in sight, and a sentence where something is missing."""

from __future__ import annotations

import itertools
import re
from math import exp, log
from xml.etree import ElementTree

import pytest
from scipy.stats import gamma, norm

from faulttree.engine.model import BasicEvent, Expression, Model, Number
from faulttree.reads.previews import preview_event, preview_expression
from tests.engine.events.builders import TIME, call, make_events, make_group


def label_of(svg: str) -> str:
    """The name of a picture; the picture is well-formed, small and without script or style."""
    root = ElementTree.fromstring(svg)
    assert root.get("role") == "img"
    assert root.get("viewBox") == "0 0 260 90"
    assert not re.search(r"style=|<script|#[0-9a-f]{3}", svg)
    for x in re.findall(r' x="([-\d.]+)"', svg):
        assert 0.0 <= float(x) <= 260.0
    return root.get("aria-label") or ""


def test_an_event_over_the_mission() -> None:
    """Source: 1 - exp(-rate t), by hand."""
    found = preview_event(make_events({"A": call("exponential", 1e-3, TIME)}), "A", 100.0)
    assert found.value == pytest.approx(1.0 - exp(-0.1), rel=1e-12)
    assert found.p05 is None
    assert label_of(found.svg) == "Probability of A: 0 at 0 h, 0.0952 at 100 h, at most 0.0952."


def test_the_jumps_of_a_periodic_test_are_in_sight() -> None:
    """Source: the unavailability falls to 0 at each test, here at 20, 50 and 80 h; before it, 1 - exp(-rate 30)."""
    found = preview_event(make_events({"A": call("periodic-test", 1e-2, 30.0, 20.0, TIME)}), "A", 90.0)
    line = re.search(r'd="(M[^"]+)" class="curve curve--1"', found.svg)
    assert line is not None
    points = [tuple(map(float, point.split())) for point in line[1].removeprefix("M").split("L")]
    drops = [y - before for (x0, before), (x, y) in itertools.pairwise(points) if x - x0 < 0.2]
    assert sum(drop > 20.0 for drop in drops) == 3
    assert f"at most {1.0 - exp(-0.3):.3f}" in label_of(found.svg)


def test_an_uncertain_event_over_time_shows_its_spread_at_the_end() -> None:
    """Source: Q rises with the rate, so its percentiles are those of the rate put through 1 - exp(-rate t)."""
    deviate = call("lognormal-deviate", log(1e-4), log(3.0) / norm.ppf(0.95))
    found = preview_event(make_events({"A": call("exponential", "rate", TIME)}, {"rate": deviate}), "A", 1000.0)
    for value, rate in ((found.p05, 1e-4 / 3.0), (found.p50, 1e-4), (found.p95, 3e-4)):
        assert value == pytest.approx(1.0 - exp(-rate * 1000.0), rel=0.01)
    assert "chart-mark" in found.svg
    assert "uncertain at the end: mean" in label_of(found.svg)
    assert any("4,000 draws and so approximate" in note for note in found.notes)


def test_a_distribution_of_one_deviate_is_exact() -> None:
    """Source: scipy.stats.gamma; the mean is shape times scale."""
    found = preview_expression(Model(), call("gamma-deviate", 2.0, 1e-3), None)
    assert found.mean == found.value == pytest.approx(2e-3)
    expected = [gamma.ppf(q, 2.0, scale=1e-3) for q in (0.05, 0.5, 0.95)]
    assert [found.p05, found.p50, found.p95] == pytest.approx(expected, rel=1e-12)
    assert found.notes == ()
    assert label_of(found.svg).startswith("Distribution of the expression, by powers of ten: mean 2.00×10⁻³, 5th")


def test_a_distribution_of_several_deviates_is_drawn() -> None:
    """Source: the product of independent lognormals is lognormal; median 1e-5 times 1e-1."""
    factor = call("lognormal-deviate", log(1e-1), 0.5)
    found = preview_expression(Model(), call("mul", call("lognormal-deviate", log(1e-5), 1.2), factor), None)
    sigma = (1.2**2 + 0.5**2) ** 0.5
    assert found.p50 == pytest.approx(1e-6, rel=0.08)
    assert found.p95 == pytest.approx(1e-6 * exp(sigma * norm.ppf(0.95)), rel=0.1)
    assert any("approximate" in note for note in found.notes)


def test_percentiles_of_a_histogram_go_by_its_values() -> None:
    """Source: by hand; of the range 0.28 has the value 0.5, 0.39 has 0.7, 0.11 has 1.0, 0.17 has 1.1, 0.06 has 1.3."""
    bins = (100.0, 170.0, 0.7e-4, 200.0, 1.1e-4, 210.0, 1.3e-4, 230.0, 1.0e-4, 280.0, 0.5e-4)
    found = preview_expression(Model(), call("histogram", *bins), None)
    assert [found.p05, found.p50, found.p95] == pytest.approx([0.5e-4, 0.7e-4, 1.3e-4])


def test_draws_above_one_are_cut_and_counted() -> None:
    found = preview_event(make_events({"A": call("uniform-deviate", 0.5, 1.25)}), "A", None)
    assert found.p95 == 1.0
    assert any("1,333 of 4,000 draws lay outside" in note or "1,334 of 4,000" in note for note in found.notes)


def test_a_member_of_a_common_cause_group_shows_the_whole_of_the_group() -> None:
    group = make_group("beta-factor", "AB", 1e-3, 0.1)
    model = Model(basic_events={"A": BasicEvent("A"), "B": BasicEvent("B")}, common_cause_groups={"group": group})
    found = preview_event(model, "A", None)
    assert found.value == 1e-3
    assert "common-cause group group" in found.notes[0]


@pytest.mark.parametrize(
    ("expression", "mission_time", "sentence"),
    [
        (None, 1.0, "A has no probability yet."),
        (call("exponential", "rate", TIME), 1.0, "There is no parameter rate yet."),
        (call("exponential", 1e-3, TIME), None, "Give a mission time in hours"),
        (call("exponential", 1e-3, TIME), -1.0, "The mission time must be 0 or more."),
        (call("exponential", -1e-3, TIME), 1.0, "failure rate of exponential is -0.001"),
        (call("exponential", 1e-3), 1.0, "exponential with 1 arguments is no function known here."),
        (call("div", 1.0, 0.0), 1.0, "no finite number"),
        (call("lognormal-deviate", -1.0, 3.0, 0.95), None, "The mean must be above 0"),
        (Number(1.5), None, "outside [0, 1]"),
        (Number(0.5), None, "nothing in it is uncertain"),
    ],
)
def test_what_is_half_finished_gets_a_sentence(
    expression: Expression | None, mission_time: float | None, sentence: str
) -> None:
    found = preview_event(Model(basic_events={"A": BasicEvent("A", expression)}), "A", mission_time)
    assert found.svg == ""
    assert any(sentence in note for note in found.notes), found.notes


def test_a_parameter_that_depends_on_itself_is_named() -> None:
    model = make_events({"A": "a"}, {"a": "b", "b": call("mul", "a", 2.0)})
    assert preview_event(model, "A", None).notes == ("The parameter a depends on itself. Break the circle.",)
    assert preview_event(model, "Z", None).notes == ("There is no basic event Z.",)
