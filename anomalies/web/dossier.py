"""The sections of a dossier: each has its own template and gathers what it shows.

    @section("evidence", "Evidence", template="anomalies/evidence/_section.html")
    def gather(anomaly, person):
        return {"rows": …}

The page shows them in the order of ORDER. In its template a section finds `anomaly`, `section`, and in `here` what it
gathered. Moves that were entered with `section="evidence"` are offered at its head. Modules of `web/sections/` are
imported in its `__init__.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeAlias

from django.contrib.auth.models import User
from django.db.models import QuerySet

from anomalies.models import Anomaly

ORDER = (
    "story",
    "risk",
    "constraints",
    "hardware",
    "lessons",
    "timeline",
    "evidence",
    "findings",
    "causes",
    "investigation",
    "actions",
    "closure",
    "links",
    "history",
)

Gather: TypeAlias = Callable[[Anomaly, User], Mapping[str, Any]]
Parts: TypeAlias = Callable[[Anomaly], Iterable[QuerySet[Any]]]


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the page. `parts` are the records that belong to it: their entries are in the dossier's history."""

    name: str
    title: str
    template: str
    gather: Gather
    parts: Parts | None = None


SECTIONS: dict[str, Section] = {}


def section(name: str, title: str, *, template: str, parts: Parts | None = None) -> Callable[[Gather], Gather]:
    """Enter a section with the function that gathers what it shows. A `count` in that is shown in the contents."""

    def enter(gather: Gather) -> Gather:
        if name not in ORDER or name in SECTIONS:
            raise ValueError(f"{name!r} isn't in the order of sections, or there already")
        SECTIONS[name] = Section(name, title, template, gather, parts)
        return gather

    return enter


class SectionView:
    """One section of one dossier; gathers when a template first asks."""

    def __init__(self, section: Section, anomaly: Anomaly, person: User) -> None:
        self._section, self._anomaly, self._person = section, anomaly, person
        self.name, self.title, self.template = section.name, section.title, section.template

    @cached_property
    def here(self) -> Mapping[str, Any]:
        """What the section shows."""
        return self._section.gather(self._anomaly, self._person)


def read_sections(anomaly: Anomaly, person: User) -> list[SectionView]:
    """Return the sections in their order."""
    return [SectionView(SECTIONS[name], anomaly, person) for name in ORDER if name in SECTIONS]


def find_parts(anomaly: Anomaly) -> list[QuerySet[Any]]:
    """Return all records that belong to the anomaly, kind by kind."""
    return [rows for each in SECTIONS.values() if each.parts for rows in each.parts(anomaly)]
