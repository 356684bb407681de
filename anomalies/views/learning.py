"""Pages of learning: failure modes with what was counted, proposed values, factors from counts, gates."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.models import FailureMode, ParameterUpdate
from anomalies.reads.exposure import EXPOSURE_HEADER, read_exposure, write_row
from anomalies.reads.history import read_history
from anomalies.reads.learning import list_entries, read_mode
from anomalies.web.explained import find_explained
from anomalies.web.learning_forms import CountsForm, GateForm
from config.kit.csv import write_csv
from config.kit.permissions import require
from config.kit.requests import PersonRequest
from faulttree.facade import draw_learnt, find_moved, read_shared, read_update, say_expression


@require_GET
def show_learning(request: PersonRequest) -> HttpResponse:
    """Show every failure mode with what was counted of it, and the values that wait for a decision."""
    require(request.user, "anomaly.view")
    modes = FailureMode.objects.visible_to(request.user).select_related("hardware_type", "item")
    updates = ParameterUpdate.objects.visible_to(request.user).select_related("item", "failure_mode", "proposed_by")
    context = {
        "views": [read_mode(mode) for mode in modes],
        "waiting": list(updates.waiting()),
        "decided": list(updates.exclude(state="proposed")[:20]),
    }
    return render(request, "anomalies/learning/list.html", context)


@require_GET
def show_mode(request: PersonRequest, mode_id: int) -> HttpResponse:
    """Show a failure mode: occurrences, exposure, and what they would make of the value it informs."""
    modes = FailureMode.objects.visible_to(request.user).select_related("hardware_type", "item")
    view = read_mode(get_object_or_404(modes, pk=mode_id))
    chart = ""
    if view.suggestion and view.shared:
        chart = mark_safe(draw_learnt(view.suggestion, view.shared.name))  # noqa: S308  # numbers and a checked name
    context = {
        "mode": view.mode,
        "view": view,
        "chart": chart,
        "gone": list_entries(view.mode),
        "events": read_history(view.mode, parts=[view.mode.updates.all(), view.mode.occurrences.all()]),
    }
    return render(request, "anomalies/learning/mode.html", context)


@require_GET
def export_exposure(request: PersonRequest, mode_id: int) -> StreamingHttpResponse:
    """Hand out every row of exposure that counts for a failure mode."""
    modes = FailureMode.objects.visible_to(request.user).select_related("hardware_type")
    mode = get_object_or_404(modes, pk=mode_id)
    rows = read_exposure(mode.hardware_type, mode.measure).rows
    return write_csv(f"exposure-{mode.code}", EXPOSURE_HEADER, (write_row(mode, row) for row in rows))


@require_GET
def show_update(request: PersonRequest, update_id: int) -> HttpResponse:
    """Show a proposed value: prior, data and posterior, and every tree that it moves."""
    rows = ParameterUpdate.objects.visible_to(request.user).select_related(
        "item", "failure_mode", "proposed_by", "decided_by", "data_set"
    )
    row = get_object_or_404(rows, pk=update_id)
    updated = read_update(row.prior, row.data)
    shared = read_shared(row.item_id)
    context = {
        "update": row,
        "updated": updated,
        "shared": shared,
        "value": say_expression(row.expression),
        "chart": mark_safe(draw_learnt(updated, shared.name)),  # noqa: S308  # numbers and a checked name
        "moved": find_moved(row.item_id, row.expression) if row.state == "proposed" else [],
        "is_stale": row.state == "proposed" and shared.seen != row.seen,
        "events": read_history(row),
    }
    return render(request, "anomalies/learning/update.html", context)


@require_GET
def show_counts(request: PersonRequest) -> HttpResponse:
    """Show the common-cause factors that counts of joint failures give."""
    require(request.user, "anomaly.view")
    form = CountsForm(request.GET or None)
    found = form.estimate() if form.is_bound and form.is_valid() else None
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "anomalies/learning/counts.html", {"form": form, "found": found}, status=status)


@require_GET
def show_gate(request: PersonRequest) -> HttpResponse:
    """Show what occurrences of a gate say of the parameters below it."""
    require(request.user, "tree.view")
    form = GateForm(request.GET or None)
    found = form.infer() if form.is_bound and form.is_valid() else None
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "anomalies/learning/gate.html", {"form": form, "found": found}, status=status)


@require_GET
def explain_mode(request: PersonRequest, mode_id: int, figure: str) -> HttpResponse:
    """Show the formula, the numbers, the assumptions and the source of a figure of a failure mode."""
    modes = FailureMode.objects.visible_to(request.user).select_related("hardware_type", "item")
    mode = get_object_or_404(modes, pk=mode_id)
    shown = find_explained("failure_mode", figure, read_mode(mode), "")
    return render(request, "anomalies/explained.html", {"back": mode, "shown": shown})
