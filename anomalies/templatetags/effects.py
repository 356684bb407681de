"""How what actions take is written on pages."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def amount(value: float | None) -> str:
    """Write what an action takes, without idle zeros; a dash where nobody has estimated it."""
    return "–" if value is None else f"{value:.6g}"
