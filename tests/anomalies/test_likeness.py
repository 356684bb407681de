"""Likeness of words: its formula against a library, and what it finds and misses in our labelled set."""

from __future__ import annotations

import math

import numpy as np
import pytest

from anomalies.likeness import Likeness, cut_ending, split_text
from anomalies.reads.lessons.offers import ALIKE
from tests.anomalies.likeness_set import LESSONS, TARGETS

CHOSEN_ON, TESTED_ON = TARGETS[::2], TARGETS[1::2]


def count_hits(targets, least):
    """Return what was found rightly, in vain, and what was missed."""
    right = vain = missed = 0
    likeness = Likeness(LESSONS)
    for text, wanted in targets:
        found = {key for key, match in likeness.compare(text).items() if match.score >= least}
        right, vain, missed = right + len(found & wanted), vain + len(found - wanted), missed + len(wanted - found)
    return right, vain, missed


def rate(targets, least):
    """Return precision and recall."""
    right, vain, missed = count_hits(targets, least)
    return right / (right + vain), right / (right + missed)


def test_the_threshold_is_the_largest_that_misses_nothing_in_the_half_it_was_chosen_on():
    steps = [step / 100 for step in range(1, 60)]
    assert max(step for step in steps if rate(CHOSEN_ON, step)[1] == 1) == ALIKE


def test_precision_and_recall_in_the_other_half(record_property):
    """A floor, not a boast: the set is our own, small, and written by people who knew what it was for."""
    precision, recall = rate(TESTED_ON, ALIKE)
    right, vain, missed = count_hits(TESTED_ON, ALIKE)
    told = f"{right} offered rightly, {vain} in vain, {missed} missed at {len(TESTED_ON)} places"
    rates = f"precision {precision:.2f}, recall {recall:.2f}"
    record_property("measured", f"likeness of lessons, threshold {ALIKE}: {rates} ({told})")
    assert precision >= 0.7
    assert recall >= 0.85


def test_it_beats_chance_by_far():
    """Offering everything everywhere finds all and is nearly always in vain."""
    everything = sum(len(wanted) for _, wanted in TESTED_ON) / (len(TESTED_ON) * len(LESSONS))
    assert rate(TESTED_ON, ALIKE)[0] > 5 * everything


def test_the_cosine_is_that_of_numpy():
    """Source: Manning, Raghavan, Schütze, Introduction to Information Retrieval (2008), 6.2 to 6.4 (from memory)."""
    texts = {1: "coolant coolant valve", 2: "valve pump", 3: "pump pump pump tether"}
    asked = "coolant pump pump"
    stems = sorted({stem for text in texts.values() for stem, _ in split_text(text)})
    held = {stem: sum(stem in text for text in texts.values()) for stem in stems}

    def vector(text):
        counts = [[stem for stem, _ in split_text(text)].count(stem) for stem in stems]
        rarity = [math.log(4 / (1 + held[stem])) + 1 for stem in stems]
        return np.array([(1 + math.log(n)) * r if n else 0.0 for n, r in zip(counts, rarity, strict=True)])

    found = Likeness(texts).compare(asked)
    for key, text in texts.items():
        one, other = vector(text), vector(asked)
        expected = float(one @ other / (np.linalg.norm(one) * np.linalg.norm(other)))
        assert found[key].score == pytest.approx(expected, rel=1e-12) if expected else key not in found


def test_a_text_is_most_like_itself():
    likeness = Likeness(LESSONS)
    for key, text in LESSONS.items():
        matches = likeness.compare(text)
        assert matches[key].score == pytest.approx(1)
        assert max(matches, key=lambda each: matches[each].score) == key


def test_nothing_is_like_nothing():
    assert Likeness({}).compare("coolant") == {}
    assert Likeness(LESSONS).compare("") == {}
    assert Likeness({1: "and the of"}).compare("and the of") == {}


@pytest.mark.parametrize(
    ("word", "stem"),
    [
        ("leaks", "leak"),
        ("leaking", "leak"),
        ("stopped", "stop"),
        ("batteries", "batter"),
        ("battery", "batter"),
        ("gas", "gas"),
        ("visor", "visor"),
    ],
)
def test_endings_are_cut(word, stem):
    assert cut_ending(word) == stem
