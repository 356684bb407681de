"""Colours and fonts of the style sheets for files that leave the service: fixed, those of the light scheme."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

TOKENS = Path(__file__).resolve().parent.parent / "static" / "css" / "tokens.css"
_TOKEN = re.compile(r"--([\w-]+):\s*([^;]+);")
_PAIR = re.compile(r"light-dark\(\s*([^,]+),[^)]+\)")
_USE = re.compile(r"var\(--([\w-]+)\)")


@cache
def read_light_tokens() -> dict[str, str]:
    """Return every token with its value in the light scheme."""
    root, _, _ = TOKENS.read_text(encoding="utf-8").partition(":root[data-theme")
    return {name: _PAIR.sub(r"\1", value).strip() for name, value in _TOKEN.findall(root)}


def fix_colours(style: str) -> str:
    """Return a style sheet with values instead of tokens; raises KeyError for a token that isn't there."""
    return _USE.sub(lambda use: read_light_tokens()[use[1]], style)
