"""All charts of the trends page; what can't be drawn is left out, and the page says why."""

from __future__ import annotations

from functools import partial

from django.urls import reverse

from anomalies.charts.trend_causes import draw_causes
from anomalies.charts.trend_control import draw_control
from anomalies.charts.trend_frame import draw_both
from anomalies.charts.trend_growth import draw_growth
from anomalies.charts.trend_rates import draw_groups, draw_rates
from anomalies.reads.trends.addresses import find_records_url
from anomalies.reads.trends.facts import Case
from anomalies.reads.trends.filter import PERIODS
from anomalies.reads.trends.page import Trends


def draw_charts(trends: Trends) -> dict[str, str]:
    """Return the charts by name, each in both sizes."""
    wanted, unit = trends.wanted, trends.wanted.unit
    period = PERIODS[wanted.period].lower()
    url = partial(find_records_url, wanted)
    charts = {}
    if any(row.rate is not None for row in trends.rows):
        charts["rates"] = draw_both(
            lambda size: draw_rates(trends.rows, unit, period, lambda row: url("period", row.key), size)
        )
    if trends.groups:
        charts["groups"] = draw_both(
            lambda size: draw_groups(
                trends.groups, unit, period, lambda group, row: url("group", f"{group.key}|{row.key}"), size
            )
        )
    if trends.trend.laplace is not None or trends.trend.growth is not None:
        charts["growth"] = draw_both(lambda size: draw_growth(trends.trend, _find_dossier, size))
    if trends.control.chart is not None:
        charts["control"] = draw_both(
            lambda size: draw_control(trends.control, unit, period, lambda row: url("period", row.key), size)
        )
    if trends.causes:
        charts["causes"] = draw_both(lambda size: draw_causes(trends.causes, lambda row: url("causes", row.key), size))
    return charts


def _find_dossier(case: Case) -> str:
    return reverse("anomalies:dossier", args=(case.number,))
