"""Gathering the problems of an input, and naming what its author may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

from faulttree.engine.errors import BadModel, Problem

MAX_PROBLEMS = 100
LONGEST_MESSAGE = 400
LONGEST_GUESS = 100  # a longer name is not worth guessing
MOST_COMPARED = 2_000


@dataclass
class Problems:
    """Problems of one file, found one after the other; past MAX_PROBLEMS the rest is not looked for."""

    file: str = ""
    found: list[Problem] = field(default_factory=list)

    def add(self, element: str, line: int | None, message: str, mend: str, *, whole: bool = False) -> None:
        """Note a problem; the message becomes one line, of a bearable length unless wanted whole.

        Raises BadModel with all problems so far once there are MAX_PROBLEMS.
        """
        text = " ".join(message.split()) if whole else one_line(message)
        self.found.append(Problem(text, one_line(mend), one_line(element), self.file, line))
        if len(self.found) >= MAX_PROBLEMS:
            text = f"There are at least {MAX_PROBLEMS} problems; only these are listed."
            raise BadModel(*self.found, Problem(text, "Mend them and read the file again.", file=self.file))

    def raise_any(self) -> None:
        """Raise BadModel when there are problems."""
        if self.found:
            raise BadModel(*self.found)


def one_line(text: str, longest: int = LONGEST_MESSAGE) -> str:
    """Return the text without line breaks, its middle left out when it is long."""
    line = " ".join(text.split())
    if len(line) <= longest:
        return line
    half = longest // 2 - 3
    return f"{line[:half]} [...] {line[-half:]}"


def suggest_name(name: str, known: Iterable[str], otherwise: str = "Define it or correct the name.") -> str:
    """Return a sentence with the known names nearest to one that is not known, or `otherwise`.

    Of very many names only those with the same first letter are compared, so that it stays quick.
    """
    if not 0 < len(name) <= LONGEST_GUESS:
        return otherwise
    likely = [other for other in known if abs(len(other) - len(name)) <= len(name)]
    if len(likely) > MOST_COMPARED:
        likely = [other for other in likely if other[0] == name[0]][:MOST_COMPARED]
    near = difflib.get_close_matches(name, likely, 3, 0.7)
    return f"Did you mean {' or '.join(dict.fromkeys(near))}?" if near else otherwise
