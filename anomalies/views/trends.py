"""Pages of the trends: the figures, the records behind each, and how each comes about."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_GET

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.charts.trends import draw_charts
from anomalies.reads.trends import filter as asked
from anomalies.reads.trends.addresses import find_page_url
from anomalies.reads.trends.growth import say_fit, say_growth, say_laplace
from anomalies.reads.trends.page import CAUTION, Trends, read_trends
from anomalies.reads.trends.records import fetch_behind, find_behind
from anomalies.web.explained import Page, find_explained
from config.kit.paging import paginate
from config.kit.permissions import require
from config.kit.requests import PersonRequest

CHOICES = {
    "periods": asked.PERIODS.items(),
    "measures": asked.MEASURES.items(),
    "kinds": asked.KINDS.items(),
    "severities": asked.SEVERITIES.items(),
    "splits": asked.SPLITS.items(),
    "ends": asked.ENDS.items(),
    "confidences": asked.CONFIDENCES.items(),
    "causes_by": asked.CAUSES_BY.items(),
}


@require_GET
def show_trends(request: PersonRequest) -> HttpResponse:
    """Show every figure of what the filter leaves."""
    trends = _read(request)
    context = {
        "trends": trends,
        "wanted": trends.wanted,
        "charts": {name: mark_safe(chart) for name, chart in draw_charts(trends).items()},  # noqa: S308  # all escaped
        "said": {
            "laplace": say_laplace(trends.trend),
            "growth": say_growth(trends.trend),
            "fit": say_fit(trends.trend),
        },
        "period": asked.PERIODS[trends.wanted.period],
        "level": asked.CONFIDENCES[trends.wanted.confidence],
        "caution": CAUTION,
        **CHOICES,
    }
    return render(request, "anomalies/trends/page.html", context)


@require_GET
def list_records(request: PersonRequest) -> HttpResponse:
    """Show the records behind a point, bar or row."""
    trends = _read(request)
    what, of = request.GET.get("what", ""), request.GET.get("of", "")
    behind = find_behind(trends, what, of)
    if behind is None:
        raise Http404
    page = paginate(request, behind.keys)
    rows = fetch_behind(request.user, behind, list(page))
    context = {"trends": trends, "wanted": trends.wanted, "behind": behind, "page": page, "rows": rows}
    return render(request, "anomalies/trends/records.html", context | {"what": what, "of": of})


@require_GET
def explain_trend(request: PersonRequest, figure: str) -> HttpResponse:
    """Show the formula, the numbers, the assumptions and the source of a figure."""
    trends = _read(request)
    shown = find_explained("trends", figure, trends, request.GET.get("of", ""))
    return render(
        request, "anomalies/explained.html", {"back": Page("Trends", find_page_url(trends.wanted)), "shown": shown}
    )


def _read(request: PersonRequest) -> Trends:
    require(request.user, "anomaly.view")
    return read_trends(request.user, asked.TrendFilter.read(request.GET.dict()))
