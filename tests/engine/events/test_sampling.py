"""Uniform numbers: blocks, strata, streams."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from faulttree.engine.events.sampling import METHODS, Sampling, draw_uniform


def draw(
    samples: int,
    method: str = "latin-hypercube",
    owner: str = "a",
    position: int = 0,
    seed: int = 1,
    start: int = 0,
    stop: int | None = None,
) -> np.ndarray:
    """Numbers of one deviate."""
    return draw_uniform(Sampling(samples, seed, method, start, samples if stop is None else stop), owner, position)


@pytest.mark.parametrize("method", METHODS)
@given(samples=st.sampled_from([2, 3, 100, 4096, 4097, 10_000]), data=st.data())
def test_any_split_into_blocks_gives_the_same_numbers(method: str, samples: int, data: st.DataObject) -> None:
    whole = draw(samples, method)
    start = data.draw(st.integers(0, samples))
    stop = data.draw(st.integers(start, samples))
    assert np.array_equal(draw(samples, method, start=start, stop=stop), whole[start:stop])


@pytest.mark.parametrize("samples", [2, 7, 1000, 4096, 4097, 5000, 65_537])
def test_a_latin_hypercube_has_one_number_in_each_stratum(samples: int) -> None:
    strata = np.floor(draw(samples) * samples).astype(int)
    assert np.array_equal(np.sort(strata), np.arange(samples))


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("samples", [3000, 30_000])
def test_streams_of_different_owners_places_and_seeds_do_not_correlate(method: str, samples: int) -> None:
    base = draw(samples, method)
    others = [
        draw(samples, method, owner="b"),
        draw(samples, method, position=1),
        draw(samples, method, seed=2),
        np.roll(base, 1),
    ]
    for other in others:
        assert abs(np.corrcoef(base, other)[0, 1]) < 5.0 / samples**0.5


@pytest.mark.parametrize("samples", [3000, 30_000])
def test_strata_come_in_no_order(samples: int) -> None:
    base = draw(samples)
    assert abs(np.corrcoef(base, np.arange(samples))[0, 1]) < 5.0 / samples**0.5
    part = base[: samples // 3]
    assert part.mean() == pytest.approx(0.5, abs=5.0 * (1.0 / 12.0 / len(part)) ** 0.5)


def test_plain_monte_carlo_is_uniform() -> None:
    u = np.sort(draw(20_000, "monte-carlo"))
    assert np.max(np.abs(u - (np.arange(20_000) + 0.5) / 20_000)) < 1.95 / 20_000**0.5  # Kolmogorov, 0.1 %


def test_numbers_are_strictly_between_zero_and_one() -> None:
    u = draw(100_000)
    assert u.min() > 0.0
    assert u.max() < 1.0
