"""Uniform numbers for the random deviates of a model: reproducible, in blocks, one stream per deviate."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from math import isqrt

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

METHODS = ("monte-carlo", "latin-hypercube")

_ROUNDS = 7
_SMALL = 4096  # up to here a whole permutation is cheaper than its parts
_WORDS_PER_STEP = 4  # 64-bit numbers that Philox makes of one counter


@dataclass(frozen=True, slots=True)
class Sampling:
    """Which samples are drawn: rows start..stop-1 of `samples`, by a seed; see `draw_uniform`."""

    samples: int
    seed: int
    method: str  # one of METHODS
    start: int
    stop: int


@dataclass(frozen=True, slots=True)
class Source:
    """One random deviate: whose it is, as "parameter X" or "basic event Y", and its place there from 0."""

    owner: str
    position: int


def draw_uniform(sampling: Sampling, owner: str, position: int) -> Values:
    """Uniform numbers of one deviate, float64[stop - start], strictly between 0 and 1.

    They depend on the seed, on whose deviate it is and on its place there, on nothing else: so a
    run can be split into blocks, and two models that share an event share its draws. A Latin
    hypercube puts exactly one number into each of `samples` equal strata of (0, 1). Time and memory
    grow with the block, not with the run.
    """
    digest = hashlib.blake2b(f"{owner}#{position}".encode(), digest_size=8).digest()
    words = [sampling.seed, int.from_bytes(digest[:4], "big"), int.from_bytes(digest[4:], "big")]
    u = _block(words, sampling.start, sampling.stop)
    if sampling.method == "latin-hypercube":
        generator = np.random.Generator(np.random.Philox(np.random.SeedSequence([*words, 1])))
        u = (_permuted(generator, sampling.samples, sampling.start, sampling.stop) + u) / sampling.samples
    return np.clip(u, 1e-300, 1.0 - 2.0**-53)


def _block(words: list[int], start: int, stop: int) -> Values:
    """Numbers start..stop-1 of a stream, without those before."""
    philox = np.random.Philox(np.random.SeedSequence([*words, 0]))
    philox.advance(start // _WORDS_PER_STEP)
    ahead = start % _WORDS_PER_STEP
    return np.random.Generator(philox).random(ahead + stop - start)[ahead:]


def _permuted(generator: np.random.Generator, count: int, start: int, stop: int) -> NDArray[np.int64]:
    """Places start..stop-1 of a random permutation of 0..count-1.

    A large one is not made as a whole: a Feistel network with random tables permutes a square just
    larger than `count`, and what falls outside is permuted again until it falls inside, which keeps
    it a permutation (Black and Rogaway 2002, cycle walking; from memory).
    """
    if count <= _SMALL:
        return generator.permutation(count)[start:stop]
    side = isqrt(count - 1) + 1
    tables = generator.integers(0, side, (_ROUNDS, side))
    places = _shuffle(np.arange(start, stop), tables)
    while np.any(outside := places >= count):
        places[outside] = _shuffle(places[outside], tables)
    return places


def _shuffle(places: NDArray[np.int64], tables: NDArray[np.int64]) -> NDArray[np.int64]:
    side = tables.shape[1]
    left, right = np.divmod(places, side)
    for table in tables:
        left, right = right, (left + table[right]) % side
    return np.asarray(left * side + right, np.int64)
