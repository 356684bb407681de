"""A progress line for people who watch; nothing where nobody does."""

from __future__ import annotations

import time
from typing import TextIO

WIDTH = 24
QUIET_SECONDS = 0.5  # work shorter than this shows nothing
PERIOD_SECONDS = 0.1


class ProgressLine:
    """Redraws one line on a terminal; call it with the step and its share done, `clear()` it at the end."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._is_watched = stream.isatty()
        self._next = time.monotonic() + QUIET_SECONDS
        self._drawn = 0

    def __call__(self, step: str, share: float) -> None:
        """Draw, but not more often than people can read."""
        now = time.monotonic()
        if not self._is_watched or now < self._next:
            return
        self._next = now + PERIOD_SECONDS
        done = round(WIDTH * min(max(share, 0.0), 1.0))
        line = f"{'━' * done}{'─' * (WIDTH - done)} {step}"
        self._stream.write("\r" + line.ljust(self._drawn))
        self._stream.flush()
        self._drawn = len(line)

    def clear(self) -> None:
        """Wipe the line."""
        if self._drawn:
            self._stream.write("\r" + " " * self._drawn + "\r")
            self._stream.flush()
            self._drawn = 0
