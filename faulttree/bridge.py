"""The only translator between rows and the engine: sources to models, requests both ways, answers to JSON."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.conf import settings

from config.kit.errors import BadInput
from faulttree.engine.budget import Budget
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.events.parts import is_random, is_timed
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.model import Model
from faulttree.engine.request import Request, TimeGrid
from faulttree.engine.validate import find_tops


@dataclass(frozen=True, slots=True)
class ModelFacts:
    """What a revision row says about its model."""

    name: str
    label: str
    gates: int
    events: int
    tops: tuple[str, ...]
    uses_mission_time: bool
    is_uncertain: bool


class UnreadableModel(BadInput):
    """A model that was refused; `problems` says where, what and how to mend it."""

    default_code = "bad_model"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        count = len(problems)
        what = "a problem" if count == 1 else f"{count} problems"
        super().__init__(f"The file was refused: {what} must be mended first. Nothing was changed.")


def read_source(source: bytes, *, file: str = "") -> Model:
    """Return the model in exchange XML; raises UnreadableModel."""
    limits = ReadLimits(settings.MODEL_MAX_BYTES, settings.MODEL_MAX_DEPTH, settings.MODEL_MAX_ELEMENTS)
    try:
        return read_open_psa(source, file=file, limits=limits)
    except BadModel as refused:
        raise UnreadableModel(refused.problems) from None


def read_model(revision: Any) -> Model:
    """Return the model of a revision, read once per process while it is in use."""
    return _read_frozen(revision.sha256, bytes(revision.source), revision.file_name)


@lru_cache(maxsize=8)
def _read_frozen(sha256: str, source: bytes, file: str) -> Model:
    return read_source(source, file=file)


def describe_model(model: Model) -> ModelFacts:
    """Return what lists and pages say about a model."""
    first = model.containers[0] if model.containers else None
    expressions = [event.expression for event in model.basic_events.values()]
    expressions += [group.distribution for group in model.common_cause_groups.values()]
    return ModelFacts(
        name=first.path[0] if first else model.name,
        label=(first.label if first else "") or model.label,
        gates=len(model.gates),
        events=len(model.basic_events),
        tops=find_tops(model),
        uses_mission_time=any(is_timed(model, expression) for expression in expressions),
        is_uncertain=any(is_random(model, expression) for expression in expressions),
    )


def hash_bytes(data: bytes) -> str:
    """Return the SHA-256 of some bytes, in hex."""
    return hashlib.sha256(data).hexdigest()


def write_request(request: Request, *, nodes: int, seconds: float) -> dict[str, Any]:
    """Return a request and its budget as the JSON that a run row keeps; every field is there."""
    grid = request.time_grid
    return {
        "top": request.top,
        "mission_time": request.mission_time,
        "list_count": request.list_count,
        "max_order": request.max_order,
        "min_probability": request.min_probability,
        "time_grid": {"start": grid.start, "stop": grid.stop, "step": grid.step} if grid else None,
        "samples": request.samples,
        "seed": request.seed,
        "sampling": request.sampling,
        "evidence": dict(request.evidence),
        "prime_implicants": request.prime_implicants,
        "budget": {"nodes": nodes, "seconds": seconds},
    }


def read_request(data: Mapping[str, Any]) -> tuple[Request, Budget]:
    """Return the request and the budget that a run row keeps."""
    plain = {name: value for name, value in data.items() if name not in ("budget", "time_grid")}
    grid = data.get("time_grid")
    budget = data["budget"]
    request = Request(**plain, time_grid=TimeGrid(**grid) if grid else None)
    return request, Budget(nodes=budget["nodes"], seconds=budget["seconds"], memory_mib=settings.RUN_MEMORY_MIB)


def hash_request(revision_sha256: str, revision_id: int, data: Mapping[str, Any]) -> str:
    """Return what equal requests of one revision have in common."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"))
    return hash_bytes(f"{revision_id}\n{revision_sha256}\n{text}".encode())
