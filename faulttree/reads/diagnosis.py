"""What follows from evidence on a tree, with the library's values of today, kept while it is asked for again."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from config.kit.errors import BadInput
from faulttree.assembly import hash_current, read_current
from faulttree.engine.budget import Budget
from faulttree.engine.diagnosis.diagnose import Posterior, diagnose
from faulttree.engine.diagnosis.inspections import Inspection, Worth, weigh_inspections
from faulttree.engine.diagnosis.pieces import Piece
from faulttree.engine.errors import BadModel, LimitReached
from faulttree.models import TreeRevision
from faulttree.reads.boxes import Box

SECONDS, NODES, MEMORY_MIB = 5.0, 4_000_000, 1024
"""The budget of one answer: a person waits for it."""


class NoPosterior(BadInput):
    """What follows from the evidence can't be had; the message says why, and the mend."""

    default_code = "no_posterior"


def read_posterior(revision: TreeRevision, top: str, mission_time: float | None, pieces: Sequence[Piece]) -> Posterior:
    """Return the posterior of events, gates and cut sets; mission_time in hours. Raises NoPosterior, BadAssembly."""
    return _diagnose(_key(revision), top, mission_time, tuple(pieces), Box(revision))


def read_worth(
    revision: TreeRevision,
    top: str,
    mission_time: float | None,
    pieces: Sequence[Piece],
    inspections: Sequence[Inspection],
) -> tuple[Worth, ...]:
    """Return what each inspection would tell; raises NoPosterior, BadAssembly."""
    return _weigh(_key(revision), top, mission_time, tuple(pieces), tuple(inspections), Box(revision))


def _key(revision: TreeRevision) -> tuple[Any, ...]:
    return revision.pk, revision.sha256, hash_current(revision)


@lru_cache(maxsize=64)
def _diagnose(
    key: tuple[Any, ...], top: str, hours: float | None, pieces: tuple[Piece, ...], box: Box[TreeRevision]
) -> Posterior:
    try:
        return diagnose(read_current(box.value), top, pieces, mission_time=hours, budget=_budget())
    except (BadModel, LimitReached) as error:
        raise _refuse(error) from None


@lru_cache(maxsize=64)
def _weigh(
    key: tuple[Any, ...],
    top: str,
    hours: float | None,
    pieces: tuple[Piece, ...],
    inspections: tuple[Inspection, ...],
    box: Box[TreeRevision],
) -> tuple[Worth, ...]:
    model = read_current(box.value)
    try:
        return weigh_inspections(model, top, pieces, inspections, mission_time=hours, budget=_budget())
    except (BadModel, LimitReached) as error:
        raise _refuse(error) from None


def _budget() -> Budget:
    return Budget(nodes=NODES, seconds=SECONDS, memory_mib=MEMORY_MIB)


def _refuse(error: BadModel | LimitReached) -> NoPosterior:
    if isinstance(error, LimitReached):
        return NoPosterior(f"The exact posterior takes longer than this page waits for. {error} Split the tree.")
    return NoPosterior(str(error))
