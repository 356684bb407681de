"""What the engine raises; every message names what is wrong and how to mend it."""

from __future__ import annotations

from dataclasses import dataclass


class EngineError(Exception):
    """Base class; `code` is stable and machine readable."""

    code = "engine_error"


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of an input: where it is, what it is, how to mend it."""

    message: str
    mend: str
    element: str = ""
    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        place = self.file
        if self.line is not None:
            place = f"{place}, line {self.line}" if place else f"line {self.line}"
        where = ": ".join(part for part in (place, self.element) if part)
        text = f"{where}: {self.message}" if where else self.message
        return f"{text} {self.mend}" if self.mend else text


class BadModel(EngineError):
    """The model or the request can't be used; carries every problem that was found."""

    code = "bad_model"

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))


class LimitReached(EngineError):
    """The budget of nodes, seconds or bytes is used up."""

    code = "limit_reached"

    def __init__(self, limit: str, message: str) -> None:
        self.limit = limit  # "nodes", "seconds" or "memory"
        super().__init__(message)


class Cancelled(EngineError):
    """The caller asked to stop."""

    code = "cancelled"
