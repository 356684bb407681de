"""Common-cause factors from counts."""

from __future__ import annotations

import pytest
from scipy import stats

from faulttree.engine.errors import BadModel
from faulttree.engine.learning.common_cause import estimate_factors


def test_factors_of_a_group_of_three() -> None:
    """Source: NASA/SP-2009-569, Example 7, Table 2, p. 45-46: 20, 5, 1 events, Dirichlet(1, 1, 1)."""
    found = estimate_factors([20, 5, 1])
    table = {each.name: (each.mean, each.p05, each.p95) for each in (*found.alphas, *found.greek)}
    assert table["alpha1"] == pytest.approx((0.724138, 0.58127, 0.84915), abs=6e-6)
    assert table["alpha2"] == pytest.approx((0.206897, 0.09768, 0.33940), abs=6e-6)
    assert table["alpha3"] == pytest.approx((0.068966, 0.01284, 0.15851), abs=6e-6)
    assert table["rho2"] == pytest.approx((0.275862, 0.15085, 0.41873), abs=6e-6)
    assert table["rho3"] == pytest.approx((0.25, 0.05338, 0.52070), abs=6e-6)


def test_without_staggered_testing_by_sampling() -> None:
    """Source: beta = (2 a2 + 3 a3) / (a1 + 2 a2 + 3 a3) over a Dirichlet law, by an independent draw through gammas."""
    found = estimate_factors([20, 5, 1], staggered=False)
    generator = stats.gamma([21.0, 6.0, 2.0]).rvs((400_000, 3), random_state=7)
    weighted = generator * [1, 2, 3]
    beta = weighted[:, 1:].sum(axis=1) / weighted.sum(axis=1)
    rho2 = found.greek[0]
    assert rho2.error is not None
    assert rho2.mean == pytest.approx(beta.mean(), abs=6 * rho2.error)
    assert rho2.p95 == pytest.approx(float(sorted(beta)[380_000]), rel=0.01)


@pytest.mark.parametrize("counts", [[3], [3, -1]])
def test_counts_that_can_not_be(counts: list[float]) -> None:
    with pytest.raises(BadModel, match="0 or more"):
        estimate_factors(counts)
