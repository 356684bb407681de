"""An uncertainty run over several workers: its samples are divided into parts, which whoever is free computes.

The worker that has the run divides it, tells the others, takes parts like them, and puts all together. A part whose
worker died is given back by it; if it dies itself the sweeper gives the run to another, which finds the finished parts.
"""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import timedelta
from typing import Any

import structlog
from django.conf import settings
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from faulttree.bridge import read_model, read_request
from faulttree.engine.budget import Budget, Progress
from faulttree.engine.errors import Cancelled
from faulttree.engine.model import Model
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification
from faulttree.engine.sampling_parts import divide_samples, put_together, read_block, sample_part, write_block
from faulttree.models import Run, RunPart
from faulttree.queue import enqueue_parts
from faulttree.services.computing import Stopped, compute_apart
from faulttree.services.pulse import Pulse
from faulttree.services.workers import is_known_dead, name_worker
from faulttree.states import RunState

SPLIT_FROM = 20_000
"""Samples below which dividing the work costs more than it saves."""

SILENT_AFTER = timedelta(seconds=60)
MOST_ATTEMPTS = 3
LOOK_SECONDS = 0.1
GRACE_SECONDS = 60.0

log = structlog.get_logger(__name__)


def wants_parts(request: Request) -> bool:
    """Tell whether a run is to be divided among workers."""
    return request.samples >= SPLIT_FROM and settings.RUN_PARTS > 1


def compute_in_parts(run: Run, model: Model, request: Request, budget: Budget, pulse: Pulse) -> dict[str, Any]:
    """Return the answer of a run, its samples drawn by whichever workers take part; raises as `compute_apart` does."""
    plan_parts(run.pk, divide_samples(request.samples, settings.RUN_PARTS))
    enqueue_parts(run.pk, settings.RUN_PARTS - 1)

    def work(progress: Progress) -> Quantification:
        return quantify(model, replace(request, samples=0), budget=budget, progress=progress)

    answer: Quantification = _apart(work, budget, pulse)
    if answer.method != "exact":
        note = "Uncertainty needs the exact solution and is left out."
        return to_json(replace(answer, notes=(*answer.notes, note)))
    _take_part(run, model, request, budget, pulse)
    blocks = [read_block(bytes(part.values or b"")) for part in run.parts.all()]
    found: dict[str, Any] = _apart(
        lambda progress: to_json(put_together(model, request, answer, blocks)), budget, pulse
    )
    run.parts.all().delete()
    return found


def help_run(*, run_id: int) -> int:
    """Compute parts of a run that another worker has, until none is left; returns how many."""
    run = Run.objects.select_related("revision__tree", "data_set").filter(pk=run_id, state=RunState.RUNNING).first()
    if run is None or not run.parts.exists():
        return 0
    request, budget = read_request(run.request)
    model, done = read_model(run.revision, run.data_set), 0
    while part := claim_part(run_id):
        helper = _Helper(run_id, part)
        try:
            _compute_part(part, model, request, budget, helper)
        except Cancelled:
            return done
        done += 1
    return done


def plan_parts(run_id: int, bounds: list[tuple[int, int]]) -> None:
    """The parts are there, those of an earlier attempt that are done stay so; the others wait."""
    now = timezone.now()
    with transaction.atomic():
        parts = RunPart.objects.filter(run_id=run_id)
        if [(part.start, part.stop) for part in parts] != bounds:
            parts.delete()
            RunPart.objects.bulk_create(
                RunPart(run_id=run_id, number=number, start=start, stop=stop, sent_at=now)
                for number, (start, stop) in enumerate(bounds, 1)
            )
        parts.exclude(state=RunState.DONE).update(state=RunState.QUEUED, worker="", attempt=0)


def claim_part(run_id: int) -> RunPart | None:
    """Take a part that waits; None where there is none, or the run isn't computed any more."""
    while True:
        waiting = RunPart.objects.filter(run_id=run_id, state=RunState.QUEUED, run__state=RunState.RUNNING)
        part = waiting.order_by("number").first()
        if part is None:
            return None
        mine = {"state": RunState.RUNNING, "worker": name_worker(), "heartbeat_at": timezone.now()}
        if RunPart.objects.filter(pk=part.pk, state=RunState.QUEUED).update(**mine, attempt=F("attempt") + 1):
            part.attempt += 1
            return part


class _Helper:
    """The life sign of one part, and whether to stop: the run was cancelled, ended, or the part given to another."""

    def __init__(self, run_id: int, part: RunPart) -> None:
        self._run = Run.objects.filter(pk=run_id, state=RunState.RUNNING, cancel_requested=False)
        self._mine = RunPart.objects.filter(pk=part.pk, attempt=part.attempt, state=RunState.RUNNING)
        self._last = 0.0

    def progress(self, step: str, share: float) -> None:
        """Take no note: the worker that has the run says how many parts are done."""

    def is_cancelled(self) -> bool:
        """Write the life sign from time to time."""
        now = time.monotonic()
        if now - self._last < 0.5:
            return False
        self._last = now
        return not (self._mine.update(heartbeat_at=timezone.now()) and self._run.exists())


def _take_part(run: Run, model: Model, request: Request, budget: Budget, pulse: Pulse) -> None:
    total = run.parts.count()
    while left := run.parts.exclude(state=RunState.DONE).count():
        pulse.progress(f"Sampling parameters: {total - left} of {total} parts are done", (total - left) / total)
        if pulse.is_cancelled():
            raise Cancelled("The run was cancelled.")
        failed = run.parts.filter(state=RunState.FAILED).first()
        if failed:
            raise Stopped("part_failed", bytes(failed.values or b"").decode())
        part = claim_part(run.pk)
        if part:
            _compute_part(part, model, request, budget, pulse)
        else:
            _give_back_lost(run)
            time.sleep(LOOK_SECONDS)


def _compute_part(part: RunPart, model: Model, request: Request, budget: Budget, pulse: Pulse | _Helper) -> None:
    def work(progress: Progress) -> bytes:
        return write_block(sample_part(model, request, part.start, part.stop, budget=budget, progress=progress))

    mine = RunPart.objects.filter(pk=part.pk, attempt=part.attempt, state=RunState.RUNNING)
    try:
        values = _apart(work, budget, pulse)
    except Stopped as stopped:
        mine.update(state=RunState.FAILED, values=stopped.message.encode())
        return
    mine.update(state=RunState.DONE, values=values)


def _give_back_lost(run: Run) -> None:
    """Let parts wait again whose worker died; one that was lost three times is failed."""
    silent = timezone.now() - SILENT_AFTER
    for part in run.parts.filter(state=RunState.RUNNING):
        if not is_known_dead(part.worker) and part.heartbeat_at and part.heartbeat_at > silent:
            continue
        log.warning("part_taken_back", run=run.pk, part=part.number, worker=part.worker)
        lost = RunPart.objects.filter(Q(pk=part.pk) & Q(attempt=part.attempt, state=RunState.RUNNING))
        if part.attempt >= MOST_ATTEMPTS:
            words = f"Workers ended {part.attempt} times while sampling. Lower the budget of nodes."
            lost.update(state=RunState.FAILED, values=words.encode())
        else:
            lost.update(state=RunState.QUEUED)
            enqueue_parts(run.pk, 1)


def _apart(work: Any, budget: Budget, pulse: Pulse | _Helper) -> Any:
    return compute_apart(
        work,
        seconds=(budget.seconds or settings.RUN_SECONDS) + GRACE_SECONDS,
        memory_mib=settings.RUN_PROCESS_MIB,
        progress=pulse.progress,
        must_stop=pulse.is_cancelled,
    )
