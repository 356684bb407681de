"""What a worker does with a run: claim it, compute outside any transaction, store the answer.

Claim, heartbeat and storing are guarded updates ("still mine?"), so a run that was given to another
worker is never written by the first one.
"""

from __future__ import annotations

import time
from typing import Any

import structlog
from celery.exceptions import SoftTimeLimitExceeded
from django.conf import settings
from django.db import connection
from django.db.models import F
from django.utils import timezone

from faulttree.bridge import BadAssembly, read_model, read_request, write_headline
from faulttree.engine.budget import Budget, Progress
from faulttree.engine.errors import Cancelled
from faulttree.engine.model import Model
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from faulttree.models import Run
from faulttree.services.computing import TIME_LIMIT, Stopped, compute_apart
from faulttree.services.parts import compute_in_parts, wants_parts
from faulttree.services.pulse import AWAY, Pulse
from faulttree.services.workers import name_worker
from faulttree.states import RUN, RunState

STORE_PATIENCE = (0.0, 1.0, 3.0, 8.0, 20.0, 40.0)
"""Seconds before each try to store an answer: a database that is away for a minute loses nothing."""

GRACE_SECONDS = 60.0
"""What a run may take beyond its budget of seconds, to say so by itself, before its process is killed."""

INTERNAL = "An error of the service itself stopped the run; it is in the log."

log = structlog.get_logger(__name__)


def execute_run(*, run_id: int) -> bool:
    """Compute a run that waits and store its answer; False if it was not there to be had."""
    attempt = claim_run(run_id=run_id)
    if attempt is None:
        return False
    run = Run.objects.select_related("revision__tree", "data_set").get(pk=run_id)
    pulse = Pulse(run_id, attempt)
    try:
        request, budget = read_request(run.request)
        model = read_model(run.revision, run.data_set)

        compute = compute_in_parts if wants_parts(request) else _compute_whole
        result = compute(run, model, request, budget, pulse)
    except Cancelled:
        _store(pulse, "cancel", cancel_requested=True)
    except BadAssembly as refused:
        _store(pulse, "fail", error=_describe(Stopped(refused.code, refused.message)))
    except Stopped as stopped:
        _store(pulse, "fail", error=_describe(stopped))
        if stopped.code == "internal":
            log.error("run_crashed", run=run_id, error=stopped.message)
    except SoftTimeLimitExceeded:
        _store(pulse, "fail", error=_describe(Stopped("time_limit", TIME_LIMIT)))
    except Exception:
        _store(pulse, "fail", error=_describe(Stopped("internal", INTERNAL)))
        raise
    else:
        _store(pulse, "finish", result=result, headline=write_headline(result), step="", share=1.0)
    return True


def _compute_whole(run: Run, model: Model, request: Request, budget: Budget, pulse: Pulse) -> dict[str, Any]:
    def work(progress: Progress) -> dict[str, Any]:
        return to_json(quantify(model, request, budget=budget, progress=progress))

    answer: dict[str, Any] = compute_apart(
        work,
        seconds=(budget.seconds or settings.RUN_SECONDS) + GRACE_SECONDS,
        memory_mib=settings.RUN_PROCESS_MIB,
        progress=pulse.progress,
        must_stop=pulse.is_cancelled,
    )
    return answer


def claim_run(*, run_id: int) -> int | None:
    """Take a run that waits; the number of the attempt, None if another was first or it was cancelled."""
    now = timezone.now()
    move = RUN.move("claim", RunState.QUEUED)
    claimed = Run.objects.filter(pk=run_id, state=move.source).update(
        state=move.target,
        attempt=F("attempt") + 1,
        worker=name_worker(),
        started_at=now,
        heartbeat_at=now,
        step="Starting",
        share=0.0,
    )
    if not claimed:
        return None
    return Run.objects.values_list("attempt", flat=True).get(pk=run_id)


def _store(pulse: Pulse, move_name: str, **values: Any) -> None:
    move = RUN.move(move_name, RunState.RUNNING)
    for wait in STORE_PATIENCE:
        time.sleep(wait)
        try:
            stored = Run.objects.filter(pk=pulse.run_id, attempt=pulse.attempt, state=move.source).update(
                state=move.target, finished_at=timezone.now(), **values
            )
        except AWAY as error:
            log.warning("answer_not_stored_yet", run=pulse.run_id, error=str(error))
            connection.close_if_unusable_or_obsolete()
        else:
            log.info("run_" + move.target, run=pulse.run_id, attempt=pulse.attempt, stored=bool(stored))
            return
    log.error("answer_lost", run=pulse.run_id)  # the sweeper gives the run to the next worker


def _describe(stopped: Stopped) -> dict[str, Any]:
    problems = [{"element": p.element, "line": p.line, "message": p.message, "mend": p.mend} for p in stopped.problems]
    message = INTERNAL if stopped.code == "internal" else stopped.message
    return {"code": stopped.code, "message": message, "problems": problems}
