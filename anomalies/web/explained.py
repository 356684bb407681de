"""Figures that explain themselves: what each one is, its formula, the numbers that went in, assumptions and source.

    @explained("investigation", "posterior")
    def explain_posterior(view, of):
        return Explained(…)

A page that shows the figure links to its explanation with `of` naming what it is of.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.http import Http404


@dataclass(frozen=True, slots=True)
class Input:
    """A number that went in: its name, its value as text, where it comes from, and the address to look it up."""

    name: str
    value: str
    where: str = ""
    url: str = ""


@dataclass(frozen=True, slots=True)
class Explained:
    """One figure.

    value : the figure as text, all digits that count
    meaning : what it says, in a sentence or two
    formula : lines of plain text, the last one with the numbers put in
    """

    title: str
    value: str
    meaning: str
    formula: tuple[str, ...]
    inputs: tuple[Input, ...]
    assumptions: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Page:
    """A page that isn't a record's, for an explanation to lead back to."""

    name: str
    url: str

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """Return its address."""
        return self.url


Explain: TypeAlias = Callable[[Any, str], Explained | None]
FIGURES: dict[tuple[str, str], Explain] = {}


def explained(page: str, figure: str) -> Callable[[Explain], Explain]:
    """Enter the explanation of a figure of a page."""

    def enter(explain: Explain) -> Explain:
        if (page, figure) in FIGURES:
            raise ValueError(f"{page}.{figure} is explained already")
        FIGURES[page, figure] = explain
        return explain

    return enter


def find_explained(page: str, figure: str, shown: Any, of: str) -> Explained:
    """Return the explanation; answers 404 for a figure that the page doesn't have."""
    explain = FIGURES.get((page, figure))
    found = explain(shown, of) if explain else None
    if found is None:
        raise Http404
    return found
