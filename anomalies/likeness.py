"""How alike texts are, by the words they share: no database, no state.

Each text is a vector of its words (stems; no words that say nothing), weighed by 1 + ln(count) and by how rare the word
is among the texts it is compared with, ln((1 + N) / (1 + n)) + 1; likeness is the cosine of two vectors, from 0 to 1.
Source: Manning, Raghavan, Schütze, Introduction to Information Retrieval (2008), sections 6.2 to 6.4; the smoothing of
the weight as in common use, no source. It knows words and not what they mean: a synonym is a stranger to it.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

WORD = re.compile(r"[a-z]+(?:-[a-z]+)*\d*|\d+[a-z]+")
ENDINGS = re.compile(r"(ings?|edly|ed|ness|ies|es|s|e|y)$")
SHORTEST = 3
SHOWN = 5
_SMALL_WORDS = """
a about above after again against all also although always am an and another any anybody anyone are around as at
away back be because been before began begin being below between both but by came can cannot come could day days did
do does done down during each either else enough even ever every everybody few first for found from further gave get
give given go goes going gone got had half has have having he her here him his hour hours how however i if in into
is it its itself just kept last later left less let like long made make many may me might minute minutes more most
much must my near never new next no nobody none nor not nothing now of off old on once one only onto or other our
out over own part per put said same saw say second seen set she should show shown since so some somebody something
soon still such take taken than that the their them then there these they thing this those though three through till
time times to together too took twice two under until up upon us use used using very was we well went were what when
where which while who whole whom why will with within without would yet you your
"""
SAY_NOTHING = frozenset(_SMALL_WORDS.split())


@dataclass(frozen=True, slots=True)
class Match:
    """How alike two texts are, from 0 to 1, and the words that make them so, the weightiest first."""

    score: float
    words: tuple[str, ...]


class Likeness:
    """Compares texts with the ones it was given, by their keys."""

    def __init__(self, texts: Mapping[int, str]) -> None:
        counted = {key: Counter(stem for stem, _ in split_text(text)) for key, text in texts.items()}
        held = Counter(stem for counts in counted.values() for stem in counts)
        self._rarity = {stem: math.log((1 + len(texts)) / (1 + count)) + 1 for stem, count in held.items()}
        self._unknown = math.log(1 + len(texts)) + 1
        self._vectors = {key: self._weigh(counts) for key, counts in counted.items()}

    def compare(self, text: str) -> dict[int, Match]:
        """Return the likeness to each of the texts that share a word with this one."""
        found, read_as = Counter[str](), dict[str, str]()
        for stem, word in split_text(text):
            found[stem] += 1
            read_as.setdefault(stem, word)
        asked = self._weigh(found)
        matches = {}
        for key, vector in self._vectors.items():
            shares = {stem: weight * vector[stem] for stem, weight in asked.items() if stem in vector}
            if shares:
                weightiest = sorted(shares, key=lambda stem: (-shares[stem], stem))[:SHOWN]
                matches[key] = Match(sum(shares.values()), tuple(read_as[stem] for stem in weightiest))
        return matches

    def _weigh(self, counts: Counter[str]) -> dict[str, float]:
        """Return the vector, of length 1."""
        raw = {stem: (1 + math.log(count)) * self._rarity.get(stem, self._unknown) for stem, count in counts.items()}
        length = math.sqrt(sum(weight * weight for weight in raw.values()))
        return {stem: weight / length for stem, weight in raw.items()}


def split_text(text: str) -> list[tuple[str, str]]:
    """Return the words that say something, each as its stem and as it's written."""
    words = WORD.findall(text.lower())
    return [(cut_ending(word), word) for word in words if len(word) >= SHORTEST and word not in SAY_NOTHING]


def cut_ending(word: str) -> str:
    """Return the word without its ending, as long as enough is left."""
    shorter = ENDINGS.sub("", word)
    if len(shorter) < SHORTEST:
        return word
    return (
        shorter[:-1]
        if len(shorter) > SHORTEST and shorter[-1] == shorter[-2] and shorter[-1] not in "aeiou"
        else shorter
    )
