"""A way past a cache: what is computed with, where the key beside it says all that counts."""

from __future__ import annotations

from typing import Generic, TypeVar

T = TypeVar("T")


class Box(Generic[T]):
    """Holds a value that `lru_cache` doesn't look at: all boxes are equal to it."""

    def __init__(self, value: T) -> None:
        self.value = value

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Box)

    def __hash__(self) -> int:
        return 0
