"""Filters that write numbers on pages."""

from __future__ import annotations

import math

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from config.kit.figures import THIN, group_digits, split_power, write_plain, write_seconds, write_share

register = template.Library()

NOTHING = "–"


@register.filter
def figure(value: float | None, digits: int = 5) -> str | SafeString:
    """A number with its power of ten set as a superscript; a dash for none."""
    if value is None:
        return NOTHING
    if not math.isfinite(value):
        return "∞"
    mantissa, power = split_power(value, digits)
    if power is None:
        return mantissa
    sign = "−" if power < 0 else ""
    return format_html('<span class="nowrap">{}{}×{}10<sup>{}{}</sup></span>', mantissa, THIN, THIN, sign, abs(power))


@register.filter
def plain_figure(value: float | None, digits: int = 5) -> str:
    """A number for a place that takes no markup, with a superscript power; a dash for none."""
    return NOTHING if value is None else write_plain(value, digits)


@register.filter
def digits_in_full(value: float) -> str:
    """Every digit that a double holds for certain."""
    return f"{value:.15g}"


@register.filter
def grouped(count: int | None) -> str:
    """A whole number in full, in groups of three digits."""
    return NOTHING if count is None else group_digits(count)


@register.filter
def share(value: float | None) -> str:
    """A share of one, in percent."""
    return NOTHING if value is None else write_share(value)


@register.filter
def duration(seconds: float | None) -> str:
    """A length of time."""
    return NOTHING if seconds is None else write_seconds(seconds)


@register.filter
def interval(ends: tuple[float, float] | None, digits: int = 3) -> str | SafeString:
    """A figure that is known exactly, or the two it lies between; a dash for none."""
    if ends is None:
        return NOTHING
    if ends[0] == ends[1]:
        return figure(ends[0], digits)
    return format_html("{} to {}", figure(ends[0], digits), figure(ends[1], digits))


@register.filter
def share_interval(ends: tuple[float, float]) -> str:
    """A share that is known exactly, or the two it lies between."""
    return write_share(ends[0]) if ends[0] == ends[1] else f"{write_share(ends[0])} to {write_share(ends[1])}"
