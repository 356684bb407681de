"""How large an input may be before it is refused unread."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadLimits:
    """bytes : size of the file; depth : nesting of elements; elements : their number."""

    bytes: int = 32 * 2**20
    depth: int = 100
    elements: int = 500_000
