"""Pieces of evidence as likelihood ratios, and what one does to a probability."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from faulttree.engine.errors import BadModel, Problem


@dataclass(frozen=True, slots=True)
class Piece:
    """What one piece of evidence says of a basic event or gate.

    key : the caller's own name for it
    ratio : P(evidence | target occurred) / P(evidence | it did not); infinite: it occurred, 0: it did not
    """

    key: str
    target: str
    ratio: float

    @property
    def is_hard(self) -> bool:
        """It leaves no doubt."""
        return self.ratio == 0.0 or math.isinf(self.ratio)


def find_test_ratio(sensitivity: float, false_alarm: float, *, found: bool) -> float:
    """Return the likelihood ratio of a test's result.

    s/f where the test found the event, (1 - s)/(1 - f) where it did not; s = P(found | occurred), f = P(found | did
    not occur). Source: Bayes' theorem in odds form (any textbook of diagnostic testing; from memory). Raises BadModel
    for numbers outside [0, 1], and for a result that neither state can give.
    """
    for name, value in (("sensitivity", sensitivity), ("false-alarm rate", false_alarm)):
        if not 0.0 <= value <= 1.0:
            raise BadModel(Problem(f"The {name} is {value:g}.", "Give a probability, 0 to 1.", "test"))
    above, below = (sensitivity, false_alarm) if found else (1.0 - sensitivity, 1.0 - false_alarm)
    if above == below == 0.0:
        message = "A test of these rates can't end so, whether the event occurred or not."
        raise BadModel(Problem(message, "Correct sensitivity, false-alarm rate or result.", "test"))
    return math.inf if below == 0.0 else above / below


def weigh(probability: float, ratios: Iterable[float]) -> float | None:
    """Return the probability after independent pieces of evidence on it; None where they can't all be true.

    Odds are multiplied by each ratio (Bayes' theorem); exact in the limits 0 and infinity.
    """
    finite, occurred, absent = 1.0, False, False
    for ratio in ratios:
        occurred, absent = occurred or math.isinf(ratio), absent or ratio == 0.0
        if ratio and not math.isinf(ratio):
            finite *= ratio
    if (occurred and (absent or probability == 0.0)) or (absent and probability == 1.0):
        return None
    if occurred:
        return 1.0
    if absent:
        return 0.0
    weighted = finite * probability
    return weighted / (weighted + (1.0 - probability)) if weighted else 0.0
