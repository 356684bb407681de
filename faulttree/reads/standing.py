"""How a draft stands against the revision it began with: marks, differences in words, the top event before and now."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

from faulttree.documents import open_model
from faulttree.engine.editing.differences import find_differences
from faulttree.engine.model import Model
from faulttree.models import TreeDraft, TreeRevision
from faulttree.reads.boxes import Box
from faulttree.reads.live import Live, read_live

WORDS = {"added": "new", "renamed": "renamed"}


@dataclass(frozen=True)
class Standing:
    """What is different, and what that does.

    marks : element -> “new”, “renamed” or “changed”
    words : what is different, in sentences
    before, ratio : probability of the same top event in the revision, if known, and now over before
    """

    marks: dict[str, str] = field(default_factory=dict)
    words: tuple[str, ...] = ()
    before: float | None = None
    ratio: float | None = None


def read_standing(draft: TreeDraft, model: Model, live: Live) -> Standing:
    """Return how the model differs from the draft's base; nothing for a tree that was never saved."""
    if draft.base is None:
        return Standing()
    base = _read_base(draft.base.sha256, Box(draft.base))
    differences = find_differences(base, model)
    marks = {each.name: WORDS.get(each.what, "changed") for each in differences if each.what != "removed"}
    before = None
    if live.top in base.gates:
        was = read_live(base, ("base", draft.base.sha256), top=live.top, mission_time=draft.mission_time)
        before = was.probability
    now = live.probability
    return Standing(
        marks, tuple(each.words for each in differences), before, now / before if before and now is not None else None
    )


@lru_cache(maxsize=16)
def _read_base(key: str, box: Box[TreeRevision]) -> Model:
    return open_model(box.value)
