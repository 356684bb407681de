"""Which characters a text may hold, so that every format of a model can hold it."""

from __future__ import annotations

import re

_NOT_XML = re.compile(r"[^\t\n\r\x20-\uD7FF\uE000-\uFFFD\U00010000-\U0010FFFF]")


def find_bad_character(text: str) -> str | None:
    """Return the first character that XML 1.0 can't hold, or None."""
    found = _NOT_XML.search(text)
    return found.group() if found else None
