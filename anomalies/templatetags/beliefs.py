"""How templates draw what is believed of an event."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString, mark_safe

from anomalies.charts.beliefs import draw_belief
from anomalies.models import Bearing
from anomalies.reads.investigations import EventRow, describe_bearing

register = template.Library()


@register.filter
def belief(row: EventRow) -> SafeString | str:
    """Draw the posterior as a bar, with a mark at the probability given the top event alone."""
    if row.moved is None:
        return "–"
    return mark_safe(draw_belief(row.moved.given_top, row.moved.posterior))  # noqa: S308  # numbers alone


@register.filter
def says(bearing: Bearing) -> str:
    """Say what a bearing says."""
    return describe_bearing(bearing)


@register.filter
def joined(events: tuple[str, ...]) -> str:
    """The name of a cut set in an address."""
    return "+".join(events)
