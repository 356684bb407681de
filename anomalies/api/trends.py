"""The trends in the JSON API: every figure as rows, and the records behind each."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api import trends_shapes as shapes
from anomalies.api.doors import person_of
from anomalies.reads.trends.filter import NAMES, TrendFilter
from anomalies.reads.trends.growth import say_fit, say_growth, say_laplace
from anomalies.reads.trends.page import CAUTION, Trends, read_trends
from anomalies.reads.trends.records import find_behind
from anomalies.reads.trends.waiting import Wait
from config.kit.errors import BadInput
from config.kit.permissions import require

NO_ROW = "The figure has no such row: take a key that the trends show, with the same filter."


class TrendsView(APIView):
    """Whether anomalies come rarer, how long they wait, and what causes them."""

    @extend_schema(tags=["trends"], parameters=[shapes.TrendsIn], responses=shapes.TrendsOut)
    def get(self, request: Request) -> Response:
        """Show every figure."""
        trends, _ = _read(request, shapes.TrendsIn)
        return Response(shapes.TrendsOut(_show(trends)).data)


class TrendRecordsView(APIView):
    """What a figure of the trends counts."""

    @extend_schema(tags=["trends"], parameters=[shapes.BehindIn], responses=shapes.BehindOut)
    def get(self, request: Request) -> Response:
        """List the records behind a figure, or behind a row of it."""
        trends, given = _read(request, shapes.BehindIn)
        behind = find_behind(trends, given["what"], given["of"])
        if behind is None:
            raise BadInput(NO_ROW, code="no_row", fields={"of": [NO_ROW]})
        numbers = {case.pk: case.number for case in (*trends.facts.cases, *trends.facts.duplicates)}
        shown = {
            "title": behind.title,
            "anomalies": [] if behind.is_causes else [numbers[key] for key in behind.keys],
            "causes": behind.keys if behind.is_causes else (),
        }
        return Response(shapes.BehindOut(shown).data)


def _read(request: Request, shape: type[shapes.TrendsIn]) -> tuple[Trends, dict[str, Any]]:
    require(request.user, "anomaly.view")
    asked = shape(data=request.query_params)
    asked.is_valid(raise_exception=True)
    given = dict(asked.validated_data)
    wanted = TrendFilter.read({name: str(given[name]) for name in NAMES if name in given})
    return read_trends(person_of(request), wanted), given


def _show(trends: Trends) -> dict[str, Any]:
    trend, control, found = trends.trend, trends.control, trends.recurrences
    return {
        "measure": trends.wanted.measure,
        "whole": trends.whole,
        "duplicates": len(trends.facts.duplicates),
        "rows": trends.rows,
        "in_no_row": len(trends.unplaced),
        "groups": trends.groups,
        "trend": {
            "placed": trend.placed,
            "early": len(trend.early),
            "laplace": trend.laplace,
            "laplace_says": say_laplace(trend),
            "growth": trend.growth,
            "growth_says": say_growth(trend),
            "fit": trend.fit,
            "fit_says": say_fit(trend),
        },
        "control": {
            "centre": control.chart and control.chart.centre,
            "why_not": control.why_not,
            "points": control.points,
            "left_out": len(control.bare),
        },
        "recurrences": {
            "closed": len(found.closed),
            "returned": len(found.returned),
            "while_open": len(found.while_open),
            "repeats": found.repeats,
        },
        "waits": [_show_wait(wait) for wait in trends.waits],
        "overdue": trends.overdue,
        "causes": trends.causes,
        "caution": CAUTION,
    }


def _show_wait(wait: Wait) -> dict[str, Any]:
    figures = wait.figures
    return {
        "key": wait.key,
        "label": wait.label,
        "mean": figures and figures.mean_done,
        "median": figures and figures.median_done,
        "median_with_waiting": figures and figures.median,
        "done": len(wait.done),
        "waiting": len(wait.waiting),
        "ended": len(wait.ended),
        "longest_waiting": wait.longest,
    }
