"""How much a run may use, and how it says how far it is."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeAlias

from faulttree.engine.errors import Cancelled, LimitReached

Progress: TypeAlias = Callable[[str, float], None]
"""Called with the step in plain words and the share of it done, within [0, 1]."""


def _silent(step: str, share: float) -> None:
    """Ignore progress."""


def _never() -> bool:
    return False


@dataclass(frozen=True, slots=True)
class Budget:
    """Upper limits of one run; None means no limit of that kind.

    nodes : decision-diagram nodes alive at once
    seconds : wall-clock time
    memory_mib : MiB of tables; the run stops before it asks the system for more
    """

    nodes: int | None = 100_000_000
    seconds: float | None = None
    memory_mib: int | None = 2048


@dataclass
class Watch:
    """A running budget: one per run, handed down to every step.

    `check()` is cheap and is called between kernel slices of a few milliseconds.
    """

    budget: Budget = field(default_factory=Budget)
    progress: Progress = _silent
    cancelled: Callable[[], bool] = _never
    started: float = field(default_factory=time.monotonic)

    def elapsed(self) -> float:
        """Seconds since the run began."""
        return time.monotonic() - self.started

    def check(self) -> None:
        """Raise Cancelled if asked to stop, LimitReached("seconds") past the time limit."""
        if self.cancelled():
            raise Cancelled("The run was cancelled.")
        limit = self.budget.seconds
        if limit is not None and self.elapsed() > limit:
            raise LimitReached("seconds", f"The run used its {limit:g} s.")

    def say(self, step: str, share: float = 0.0) -> None:
        """Report progress, then check the limits."""
        self.progress(step, share)
        self.check()
