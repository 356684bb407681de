"""The import of past anomalies: a dry run first, then all or nothing."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from anomalies.forms.past_anomalies import PastTableForm
from anomalies.past_table import COLUMNS, EXAMPLE, MOST_ROWS, NEEDED
from anomalies.views.moves import finish
from config.kit.csv import write_csv
from config.kit.permissions import require
from config.kit.requests import PersonRequest


@require_http_methods(["GET", "POST"])
def import_past(request: PersonRequest) -> HttpResponse:
    """Show what a table would do, line by line; import it once that was seen."""
    require(request.user, "anomaly.report")
    form = PastTableForm(request.POST, request.FILES) if request.method == "POST" else PastTableForm()
    plan = None
    if form.is_bound and form.is_valid():
        done = form.confirm(request.user) if "import" in request.POST else None
        if done:
            left = f" {done.skipped:,} of the table were there already." if done.skipped else ""
            return finish(request, f"{len(done.made):,} anomalies are in the log.{left}", reverse("anomalies:log"))
        plan = form.plan(request.user)
    return _show(request, form, plan)


@require_GET
def hand_out_example(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out a table with all columns and one line."""
    require(request.user, "anomaly.report")
    return write_csv("past-anomalies-example", EXAMPLE[0], EXAMPLE[1:])


def _show(request: PersonRequest, form: PastTableForm, plan: object) -> HttpResponse:
    context = {
        "form": form,
        "plan": plan,
        "text": form.text,
        "columns": [(name, says, name in NEEDED) for name, says in COLUMNS.items()],
        "most_rows": MOST_ROWS,
    }
    return render(request, "anomalies/log/import.html", context, status=422 if form.errors else 200)
