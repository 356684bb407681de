"""Evidence that can't be true: the smallest set of pieces that contradict each other, or the tree."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from faulttree.engine.budget import Watch
from faulttree.engine.diagnosis.conditioned import Conditioned

MOST_TRIALS = 20_000


@dataclass(frozen=True, slots=True)
class Conflict:
    """Pieces that can't be true together with the top event.

    smallest : no smaller set is in conflict; False: the search stopped, but none of these can be left out
    top_alone : the top event can't occur whatever is found; then `keys` is empty
    """

    keys: tuple[str, ...]
    smallest: bool = True
    top_alone: bool = False


def find_conflict(tree: Conditioned, watch: Watch) -> Conflict | None:
    """Return a smallest set of pieces in conflict; None where all can be true.

    Pieces that leave doubt can't be in conflict. First pieces are left out as long as a conflict remains, then all
    smaller sets are tried, fewest first, as far as MOST_TRIALS.
    """
    everything = range(len(tree.pieces))
    if tree.is_possible(everything):
        return None
    if not tree.is_possible(()):
        return Conflict((), top_alone=True)
    hard = [place for place in everything if tree.pieces[place].is_hard]
    kept = list(hard)
    for place in hard:
        watch.check()
        without = [each for each in kept if each != place]
        if not tree.is_possible(without):
            kept = without
    trials = 0
    for size in range(1, len(kept)):
        for places in itertools.combinations(hard, size):
            trials += 1
            if trials > MOST_TRIALS:
                return _describe(tree, kept, smallest=False)
            if trials % 64 == 0:
                watch.check()
            if not tree.is_possible(places):
                return _describe(tree, list(places))
    return _describe(tree, kept)


def _describe(tree: Conditioned, places: list[int], *, smallest: bool = True) -> Conflict:
    return Conflict(tuple(tree.pieces[place].key for place in places), smallest)
