"""What every document on paper shares: the sizes of paper, and its style with fixed colours."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString, mark_safe

from config.kit.colours import fix_colours

SIZES = {"a4": "A4", "letter": "Letter"}
"""What a request calls the paper -> what its style calls it."""
STATIC = Path(__file__).parents[1] / "static" / "anomalies"


@cache
def read_style(*names: str) -> SafeString:
    """Return style sheets of ours, one after the other, with values instead of tokens."""
    sheets = "\n".join((STATIC / name).read_text(encoding="utf-8") for name in names)
    return mark_safe(fix_colours(sheets))  # noqa: S308  # files of ours
