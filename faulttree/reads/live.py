"""The figures beside a draft: the whole answer while that is quick, and what is missing where it can't be had."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from faulttree.bridge import BadAssembly, assemble_model
from faulttree.engine.budget import Budget
from faulttree.engine.editing.complete import Lack, find_lacks
from faulttree.engine.errors import BadModel, EngineError
from faulttree.engine.events.parts import is_timed
from faulttree.engine.model import Model
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from faulttree.engine.validate import find_tops
from faulttree.models import DataSet
from faulttree.reads.boxes import Box

SECONDS = 1.5
NODES = 2_000_000
LISTED = 100


@dataclass(frozen=True)
class Live:
    """What the bench shows beside a draft.

    data : the answer as JSON, None where there is none
    lacks : what must be done first
    stopped : why there is no answer although nothing is missing; empty where there is one
    """

    top: str
    tops: tuple[str, ...]
    data: dict[str, Any] | None = None
    lacks: tuple[Lack, ...] = ()
    stopped: str = ""
    uses_mission_time: bool = False

    @property
    def probability(self) -> float | None:
        """Of the top event; None without an exact answer."""
        return self.data.get("probability") if self.data else None

    @property
    def weights(self) -> list[tuple[str, float]]:
        """The ten events with the highest criticality importance."""
        found = [(name, row["criticality"] or 0.0) for name, row in (self.data or {}).get("importance", {}).items()]
        return sorted(found, key=lambda pair: -pair[1])[:10]

    @property
    def listed(self) -> list[dict[str, Any]]:
        """Those listed, likeliest first."""
        found = (self.data or {}).get("cut_sets")
        return list(found["listed"]) if found else []


@lru_cache(maxsize=16)
def _answer(key: tuple[Any, ...], box: Box[Model]) -> Live:
    return _compute(box.value, key[-2], key[-1], repr(key))


def read_live(model: Model, key: tuple[Any, ...], *, top: str, mission_time: float | None) -> Live:
    """Return the figures of a model, computed once for each key, data set, top and mission time (hours).

    Transfers count as what they stand for, shared elements as what the library says now.
    """
    tops = find_tops(model)
    chosen = top if top in model.gates else (tops[0] if tops else "")
    number = DataSet.objects.order_by("-number").values_list("number", flat=True).first()
    return _answer((*key, number, chosen, mission_time), Box(model))


def _compute(model: Model, top: str, mission_time: float | None, key: str) -> Live:
    tops = find_tops(model)
    timed = _uses_mission_time(model)
    lacks = find_lacks(model)
    if not lacks:
        try:
            model = assemble_model(model, key, "this tree", DataSet.objects.newest())
        except BadAssembly as refused:
            lacks = tuple(Lack("", problem.message, problem.mend) for problem in refused.problems)
        timed = timed or _uses_mission_time(model)
    if not lacks and timed and mission_time is None:
        lacks = (Lack("", "Probabilities depend on the mission time.", "Give it in hours."),)
    if lacks:
        return Live(top, tops, None, lacks, uses_mission_time=timed)
    request = Request(top=top, mission_time=mission_time if timed else None, list_count=LISTED, unions=False)
    try:
        data = to_json(quantify(model, request, budget=Budget(nodes=NODES, seconds=SECONDS)))
    except BadModel as refused:
        found = tuple(Lack("", problem.message, problem.mend) for problem in refused.problems)
        return Live(top, tops, None, found, uses_mission_time=timed)
    except (EngineError, MemoryError) as error:
        return Live(top, tops, None, (), f"Too large to follow while you edit: {error}", timed)
    return Live(top, tops, data, (), "", timed)


def _uses_mission_time(model: Model) -> bool:
    try:
        return any(is_timed(model, event.expression) for event in model.basic_events.values()) or any(
            is_timed(model, group.distribution) for group in model.common_cause_groups.values()
        )
    except KeyError:  # a parameter that isn't there; what lacks says so
        return False
