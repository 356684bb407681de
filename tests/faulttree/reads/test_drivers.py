"""What drives the uncertainty, as the page reads, draws and shows it."""

from __future__ import annotations

import pytest
from lxml import etree

from faulttree.charts.drivers import draw_drivers
from faulttree.reads.drivers import SHOWN, read_drivers


def driver(owner, rho, place=1, interval=True):
    """One driver of an answer."""
    return {
        "owner": owner,
        "place": place,
        "rank_correlation": rho,
        "rank_interval": None if rho is None or not interval else [rho - 0.1, rho + 0.1],
        "variance_share": None if rho is None else rho * rho,
        "variance_share_error": None if rho is None else 0.01,
    }


def spread(*drivers, samples=1_000, used=1_000):
    """The uncertainty of an answer."""
    return {"drivers": list(drivers), "samples": samples, "driver_samples": used}


def test_an_answer_from_before_there_were_drivers_has_none():
    assert read_drivers(None, None) is None
    assert read_drivers({"samples": 10}, None) is None
    assert read_drivers(spread(), None) is None


def test_sources_are_named_and_told_apart():
    found = read_drivers(
        spread(driver("parameter rate", 0.8), driver("basic event A", 0.3, 2), driver("basic event A", 0.2, 1)), None
    )
    assert [(row.kind, row.name, row.detail) for row in found.rows] == [
        ("parameter", "rate", ""),
        ("basic event", "A", "random number 2"),
        ("basic event", "A", "random number 1"),
    ]
    assert not found.is_partial


def test_what_is_not_shown_is_counted():
    found = read_drivers(spread(*(driver(f"parameter p{n}", 0.5) for n in range(40)), used=100), None)
    assert (len(found.rows), found.count, found.samples, found.is_partial) == (SHOWN, 40, 100, True)


def test_bars_are_as_long_as_the_correlation_on_either_side():
    rows = read_drivers(spread(driver("parameter up", 0.8), driver("parameter down", -0.4)), None).rows
    bars = etree.fromstring(draw_drivers(rows)).findall(".//{*}rect")
    widths = [float(bar.get("width")) for bar in bars]
    assert widths[0] == pytest.approx(2.0 * widths[1], rel=1e-3)
    zero = float(bars[0].get("x"))
    assert float(bars[1].get("x")) + widths[1] == pytest.approx(zero, abs=0.02)


def test_sources_that_never_vary_are_not_drawn():
    rows = read_drivers(spread(driver("parameter still", None)), None).rows
    assert draw_drivers(rows) == ""
