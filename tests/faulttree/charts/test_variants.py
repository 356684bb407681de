"""The chart that compares variants."""

from __future__ import annotations

import pytest
from lxml import etree

from faulttree.charts.variants import LOG_FROM, draw_variants
from faulttree.models import Variant
from faulttree.reads.comparison import Row


def row(name, low, high=None, state="exact"):
    """A variant, or the tree as it stands for no name."""
    return Row(Variant(name=name) if name else None, (), state, low=low, high=low if high is None else high)


def drawn(*rows):
    """The chart, parsed."""
    return etree.fromstring(draw_variants(rows))


def places(chart):
    """The x of every dot."""
    return [float(dot.get("cx")) for dot in chart.xpath('//*[contains(@class, "compared-dot")]')]


def test_powers_of_ten_from_a_decade_on():
    near, far = (
        places(drawn(row("", 1e-3), row("a", 2e-3))),
        places(drawn(row("", 1e-6), row("a", 1e-4), row("b", 1e-2))),
    )
    assert near[1] - 10.0 == pytest.approx(2 * (near[0] - 10.0), abs=0.2)  # from zero, evenly
    assert far[2] - far[1] == pytest.approx(far[1] - far[0], abs=0.2)
    assert LOG_FROM == 10.0


def test_a_bracket_is_a_bar_and_says_so():
    chart = drawn(row("", 1e-3), row("a", 1e-3, 2e-3, "bracket"))
    assert len(chart.xpath('//*[contains(@class, "compared-bracket")]')) == 1
    assert "a between 1.000×10⁻³ and 2.000×10⁻³, a bracket" in chart.get("aria-label")


def test_nothing_stands_at_the_start_of_powers_of_ten():
    chart = drawn(row("", 1e-2), row("a", 1e-5), row("b", 0.0))
    assert min(places(chart)) == 10.0
    assert "b 0" in chart.get("aria-label")


def test_names_are_escaped():
    assert "<script>" not in draw_variants([row("", 0.1), row("<script>alert(1)</script>", 0.2)])


@pytest.mark.parametrize("rows", [[], [row("", 0.1)], [row("", 0.0), row("a", 0.0)]])
def test_too_little_to_compare_draws_nothing(rows):
    assert draw_variants(rows) == ""


def test_what_is_not_known_is_left_to_the_table():
    unknown = Row(Variant(name="c"), (), "unknown")
    assert len(places(drawn(row("", 0.1), row("a", 0.2), unknown))) == 2
