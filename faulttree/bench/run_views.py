"""Pages of runs: ask, watch, cancel, read."""

from __future__ import annotations

from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from config.kit.errors import BadInput
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest
from faulttree.bench.forms import RunForm
from faulttree.bench.page import BenchPage
from faulttree.bench.tree_views import find_revision
from faulttree.bridge import read_request
from faulttree.models import Run
from faulttree.services.runs import cancel_run, request_run


@require_POST
def request_one(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Ask for a run and go to it; an equal one that is there already is shown instead."""
    revision = find_revision(request, tree_id, number)
    require(request.user, "run.request", revision)
    form = RunForm(request.POST, revision=revision)
    if form.is_valid():
        data = form.cleaned_data
        try:
            run = request_run(
                revision_id=revision.pk,
                actor=request.user,
                request=form.to_request(),
                nodes=data["nodes"],
                seconds=data["seconds"],
            )
            return redirect(run)
        except BadInput as refused:
            form.add_refusal(refused)
    return BenchPage(request, revision, revision.runs.without_overrides().first(), form).render(status=422)


@require_GET
def show_run(request: PersonRequest, run_id: int) -> HttpResponse:
    """Show the revision with the answer of this run."""
    run = find_run(request, run_id)
    return BenchPage(request, run.revision, run, None).render()


@require_GET
def show_progress(request: PersonRequest, run_id: int) -> HttpResponse:
    """Show how far a run is; one that has ended makes the page show its answer."""
    run = get_object_or_404(Run.objects.visible_to(request.user).without_result(), pk=run_id)
    may_cancel = allows(request.user, "run.cancel", run)
    response = render(request, "faulttree/run/_progress.html", {"run": run, "may_cancel": may_cancel})
    if not run.is_active:
        response.headers["HX-Trigger"] = "run-ended"
    return response


@require_POST
def cancel(request: PersonRequest, run_id: int) -> HttpResponse:
    """Cancel a run."""
    run = get_object_or_404(Run.objects.visible_to(request.user).without_result(), pk=run_id)
    return redirect(cancel_run(run_id=run.pk, actor=request.user))


@require_POST
def repeat(request: PersonRequest, run_id: int) -> HttpResponse:
    """Ask again for a run that failed or was cancelled."""
    run = get_object_or_404(Run.objects.visible_to(request.user).without_result(), pk=run_id)
    asked, budget = read_request(run.request)
    again = request_run(
        revision_id=run.revision_id, actor=request.user, request=asked, nodes=budget.nodes, seconds=budget.seconds
    )
    return redirect(again)


@require_GET
def download_result(request: PersonRequest, run_id: int) -> HttpResponse:
    """Hand out the answer as JSON, as the command gives it."""
    run = find_run(request, run_id)
    if run.result is None:
        raise BadInput("This run has no answer yet.", code="no_answer")
    response = JsonResponse(run.result, json_dumps_params={"indent": 2})
    response.headers["Content-Disposition"] = f'attachment; filename="run-{run.pk}.json"'
    return response


def find_run(request: PersonRequest, run_id: int) -> Run:
    """Return the run if the person may see it, else answer 404."""
    visible = Run.objects.visible_to(request.user).select_related(
        "revision", "revision__tree", "revision__author", "requested_by"
    )
    return get_object_or_404(visible, pk=run_id)
