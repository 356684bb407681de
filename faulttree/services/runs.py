"""What people do to runs: ask for one, ask for the default one, cancel one."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import TypedDict

from django.conf import settings
from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from config.kit.errors import BadInput
from config.kit.permissions import require
from faulttree.bridge import check_overrides, find_unknown, hash_request, hash_used, read_model, write_request
from faulttree.engine.request import Request
from faulttree.models import DataSet, Run, TreeRevision
from faulttree.queue import enqueue_run
from faulttree.states import RUN, RunState

DEFAULT_LIST_COUNT = 500
DEFAULT_SECONDS = 120.0


class Budgeted(TypedDict):
    """Nodes and seconds of a run."""

    nodes: int
    seconds: float


def request_run(
    *, revision_id: int, actor: User, request: Request, nodes: int | None = None, seconds: float | None = None
) -> Run:
    """Return the run that answers the request; it is queued if there is none, or if that one failed.

    Equal requests of one revision share a run, whoever asks, as long as the values of the library that the tree uses
    are the same. Raises BadInput when the top event is not clear,
    a needed mission time is missing, or evidence or overrides name what isn't in the tree.
    """
    with transaction.atomic():
        revision = TreeRevision.objects.without_source().get(pk=revision_id)
        require(actor, "run.request", revision)
        request = replace(request, top=_choose_top(revision, request.top))
        data_set = DataSet.objects.newest()
        used = hash_used(revision, data_set) if data_set else ""
        data_set = data_set if used else None
        uses_mission_time = revision.uses_mission_time
        if request.overrides or used:
            model = read_model(revision, data_set)
            uses_mission_time = check_overrides(model, request.overrides).uses_mission_time
        if uses_mission_time and request.mission_time is None and request.overrides.mission_time is None:
            message = "Probabilities of this tree depend on the mission time: give it in hours."
            raise BadInput(message, code="mission_time_needed", fields={"mission_time": [message]})
        unknown = find_unknown(read_model(revision, data_set), request.evidence) if request.evidence else []
        if unknown:
            raise BadInput(" ".join(unknown), code="unknown_evidence", fields={"evidence": unknown})
        data = write_request(request, **budget_of(nodes, seconds))
        now = timezone.now()
        run, is_new = Run.objects.select_for_update().get_or_create(
            request_hash=hash_request(revision.sha256, revision.pk, data, used),
            defaults={
                "revision": revision,
                "data_set": data_set,
                "request": data,
                "requested_by": actor,
                "queued_at": now,
                "sent_at": now,
            },
        )
        if not is_new and run.state in (RunState.FAILED, RunState.CANCELLED):
            _queue_again(run, now)
        if run.state == RunState.QUEUED:
            enqueue_run(run.pk)
    return run


def request_default_run(*, revision_id: int, actor: User) -> Run | None:
    """Return the run a fresh revision is shown with; None where a person must choose something first."""
    revision = TreeRevision.objects.without_source().get(pk=revision_id)
    if len(revision.tops) != 1 or revision.uses_mission_time:
        return None
    return request_run(revision_id=revision_id, actor=actor, request=Request(list_count=DEFAULT_LIST_COUNT))


def budget_of(nodes: int | None = None, seconds: float | None = None) -> Budgeted:
    """Return the budget of a run that is asked for with so much, or without a word about it."""
    return {
        "nodes": min(nodes or settings.RUN_NODE_BUDGET, settings.RUN_NODE_BUDGET),
        "seconds": min(seconds or DEFAULT_SECONDS, settings.RUN_SECONDS),
    }


def cancel_run(*, run_id: int, actor: User) -> Run:
    """Cancel a run that waits at once; ask a worker that computes one to stop, which it does within a second."""
    with transaction.atomic():
        run = Run.objects.select_for_update().get(pk=run_id)
        require(actor, "run.cancel", run)
        move = RUN.move("cancel", run.state)
        run.cancel_requested = True
        if run.state == RunState.QUEUED:
            run.state, run.finished_at = move.target, timezone.now()
        run.save(update_fields=["cancel_requested", "state", "finished_at"])
    return run


def _choose_top(revision: TreeRevision, top: str | None) -> str | None:
    if top is None and len(revision.tops) > 1:
        message = f"This tree has {len(revision.tops)} top events: choose one."
        raise BadInput(message, code="top_needed", fields={"top": [message]})
    return top or (revision.tops[0] if revision.tops else None)


def _queue_again(run: Run, now: datetime) -> None:
    run.state = RUN.move("repeat", run.state).target
    run.cancel_requested, run.attempt, run.queued_at, run.sent_at = False, 0, now, now
    run.step, run.share, run.worker, run.error = "", 0.0, "", None
    run.started_at = run.finished_at = run.heartbeat_at = None
    run.save()
