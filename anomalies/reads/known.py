"""What is known of the events of an investigation's tree, as the engine takes it, and what follows from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from anomalies.models import Bearing, Disposition, Investigation
from anomalies.states import CauseState
from faulttree.facade import Parts, Piece, Posterior, find_test_ratio, read_parts, read_posterior

FIRM = {CauseState.RULED_OUT: 0.0, CauseState.CONFIRMED: math.inf}
"""Dispositions that enter the tree as facts, as likelihood ratios."""


@dataclass(frozen=True, slots=True)
class Known:
    """One thing that counts for or against an event.

    key     what the engine calls it: "B2" of a bearing, the event of a disposition after "= "
    ratio   likelihood ratio; inf: the event occurred, 0: it did not
    """

    key: str
    event: str
    ratio: float
    at: datetime
    record: Bearing | Disposition

    @property
    def label(self) -> str:
        """What pages call it."""
        if isinstance(self.record, Bearing):
            return f"{self.record.label} on {self.event}"
        return f"{self.event} {self.record.get_state_display().lower()}"

    @property
    def piece(self) -> Piece:
        """As the engine takes it."""
        return Piece(self.key, self.event, self.ratio)


def find_ratio(bearing: Bearing) -> float:
    """Return the likelihood ratio of a bearing; inf for a fact that the event occurred, 0 that it did not."""
    if bearing.says == Bearing.Says.OCCURRED:
        return math.inf
    if bearing.says == Bearing.Says.ABSENT:
        return 0.0
    if bearing.says == Bearing.Says.RATIO:
        assert bearing.ratio is not None
        return bearing.ratio
    assert bearing.sensitivity is not None
    assert bearing.false_alarm is not None
    return find_test_ratio(bearing.sensitivity, bearing.false_alarm, found=bool(bearing.found))


def list_known(investigation: Investigation) -> list[Known]:
    """Return the standing bearings and the firm dispositions, in the order in which they were entered."""
    bearings = [
        Known(row.label, row.event, find_ratio(row), row.entered_at, row)
        for row in investigation.bearings.standing().select_related("evidence", "finding", "author")
    ]
    firm = investigation.dispositions.filter(state__in=FIRM).select_related("judged_by")
    facts = [
        Known(f"= {row.event}", row.event, FIRM[CauseState(row.state)], row.judged_at, row)
        for row in firm
        if row.judged_at is not None
    ]
    return sorted([*bearings, *facts], key=lambda known: (known.at, known.key))


def list_decided(investigation: Investigation, parts: Parts) -> set[str]:
    """Return the events and gates whose disposition decides all below them."""
    return {row.event for row in investigation.dispositions.decided() if decides(row, parts)}


def decides(disposition: Disposition, parts: Parts) -> bool:
    """Tell whether a disposition decides all below: of an event, or of a gate that is ruled out or credible.

    A gate that is confirmed leaves open which of its inputs it was; a member of a common-cause group is an event.
    """
    if disposition.state == CauseState.OPEN:
        return False
    part = parts.by_name.get(disposition.event)
    is_gate = part is not None and part.is_gate and not part.is_member
    return not is_gate or disposition.state != CauseState.CONFIRMED


def split_known(known: list[Known], parts: Parts) -> tuple[list[Known], list[Known]]:
    """Return what counts, and what speaks of events that the tree in use doesn't have any more."""
    here = [each for each in known if each.event in parts.by_name]
    return here, [each for each in known if each.event not in parts.by_name]


def find_posterior(investigation: Investigation, known: list[Known]) -> Posterior:
    """Return what follows from what is known, in this order; raises a refusal with a sentence where it can't be had."""
    pieces = tuple(each.piece for each in known)
    return read_posterior(investigation.revision, investigation.top, investigation.mission_time, pieces)


def is_possible(investigation: Investigation) -> bool:
    """Tell whether all that is known can be true together with what happened."""
    parts = read_parts(investigation.revision, investigation.top)
    known, _ = split_known(list_known(investigation), parts)
    return find_posterior(investigation, known).conflict is None
