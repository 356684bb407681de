"""Filters of the pages that compare revisions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

from faulttree.reads.changes import find_ratio

register = template.Library()


@register.filter
def ratio(top: Mapping[str, Any]) -> str | None:
    """How many times as likely a top event has become, to three digits, more where it is nearly the same."""
    times = find_ratio(top)
    if times is None:
        return None
    if times == 1.0 or abs(times - 1.0) >= 0.005:
        return f"{times:.3g}"
    return f"{times:.9g}"
