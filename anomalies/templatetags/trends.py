"""How templates write figures of the trends and lead to what stands behind them."""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from anomalies.reads.trends.addresses import find_explanation_url, find_records_url
from anomalies.reads.trends.filter import TrendFilter
from config.kit.figures import group_digits, write_plain

register = template.Library()


@register.simple_tag
def behind(wanted: TrendFilter, what: str, of: str = "") -> str:
    """Give the address of the records behind a figure."""
    return find_records_url(wanted, what, of)


@register.simple_tag
def explain(wanted: TrendFilter, figure: str, of: str = "") -> str:
    """Give the address of the explanation of a figure."""
    return find_explanation_url(wanted, figure, of)


@register.simple_tag
def number_of(wanted: TrendFilter, count: int, what: str, of: str = "") -> SafeString | str:
    """Write how many records, leading to them; none lead nowhere."""
    if not count:
        return "0"
    return format_html('<a href="{}">{}</a>', find_records_url(wanted, what, of), group_digits(count))


@register.filter
def amount(value: float | None) -> str:
    """Write exposure: whole outings as such, parts and hours to three digits."""
    if value is None:
        return "–"
    return group_digits(round(value)) if abs(value - round(value)) < 1e-6 else write_plain(value, 3)


@register.filter
def days(value: float | None) -> str:
    """Write a number of days: below ten with one decimal."""
    if value is None:
        return "–"
    return f"{value:.1f}" if value < 10.0 else group_digits(round(value))
