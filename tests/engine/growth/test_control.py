"""The control chart and the times with some waiting: properties, and what is refused."""

from __future__ import annotations

import pytest
from scipy import stats

from faulttree.engine.errors import BadModel
from faulttree.engine.growth.control import Signal, make_u_chart
from faulttree.engine.growth.waiting import estimate_waiting


def test_limits_are_passed_as_rarely_as_the_rule_says() -> None:
    chart = make_u_chart([3, 1, 4, 2, 30], [10.0, 4.0, 12.0, 7.0, 11.0])
    for point in chart.points:
        mean = chart.centre * point.exposure
        assert stats.poisson.sf(round(point.high * point.exposure), mean) <= 0.00135
        assert stats.poisson.cdf(round(point.low * point.exposure) - 1, mean) <= 0.00135
    assert [point.signal for point in chart.points] == [None, None, None, None, Signal.ABOVE]


def test_too_few_are_a_signal_where_the_limit_allows_one() -> None:
    chart = make_u_chart([20, 22, 19, 0], [10.0] * 4)
    assert chart.points[-1].signal == Signal.BELOW
    assert chart.signals == (3,)


def test_the_ninth_in_a_row_on_one_side_is_a_signal() -> None:
    counts = [9, 9, 9, 9, *[4] * 9]
    assert make_u_chart(counts, [1.0] * 13).signals == (12,)
    assert make_u_chart(counts[:-1], [1.0] * 12).signals == ()


@pytest.mark.parametrize(
    ("counts", "exposures", "words"),
    [
        ([1, 2, 3], [1.0, 1.0, 1.0], "at least 4"),
        ([1, 2, 3, 4], [1.0, 1.0, 0.0, 1.0], "no exposure"),
        ([1, 2, -3, 4], [1.0, 1.0, 1.0, 1.0], "below 0"),
        ([0, 0, 0, 0], [1.0, 1.0, 1.0, 1.0], "no events"),
        ([1, 2, 3, 4], [1.0, 1.0, 1.0], "differ in number"),
    ],
)
def test_what_cannot_be_charted_is_refused(counts: list[int], exposures: list[float], words: str) -> None:
    with pytest.raises(BadModel, match=words):
        make_u_chart(counts, exposures)


def test_what_waits_lengthens_the_median() -> None:
    found = estimate_waiting([2.0, 4.0, 6.0], [20.0, 30.0])
    assert found is not None
    assert (found.done, found.waiting, found.median, found.median_done) == (3, 2, 6.0, 4.0)
    assert (found.mean_done, found.longest_waiting) == (4.0, 30.0)


def test_nobody_knows_the_median_while_more_than_half_wait() -> None:
    found = estimate_waiting([2.0], [20.0, 30.0])
    assert found is not None
    assert found.median is None
    alone = estimate_waiting([], [3.0])
    assert alone is not None
    assert (alone.median, alone.mean_done) == (None, None)
    assert estimate_waiting([]) is None


def test_a_time_below_0_is_refused() -> None:
    with pytest.raises(BadModel, match="below 0"):
        estimate_waiting([-1.0])
