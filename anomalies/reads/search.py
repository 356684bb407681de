"""What a search found, as it is shown: the place in the text, with the words that were looked for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from anomalies.models import Concurrence, Finding, SearchText
from anomalies.models.search import SearchQuerySet, split_words
from anomalies.reads.findings import read_dissents

AROUND = 90
ENDINGS = re.compile(r"(ing|ed|es|s|e)$")
NAMES = {
    "action": "Corrective actions",
    "activity": "Activities",
    "anomaly": "Anomalies",
    "cause": "Causes",
    "constraint": "Constraints",
    "evidence": "Evidence",
    "finding": "Findings",
    "hardware": "Hardware",
    "hardware_type": "Types of hardware",
    "lesson": "Lessons",
    "procedure": "Procedures",
    "timeline_entry": "Timeline",
}

HEADER = ("kind", "id", "codes", "title", "anomaly")


@dataclass(frozen=True, slots=True)
class Hit:
    """One record that was found."""

    row: SearchText
    kind: str
    title: SafeString
    codes: str
    snippet: SafeString
    dissents: Sequence[Concurrence] = ()


@dataclass(frozen=True, slots=True)
class KindCount:
    """How many of a kind were found."""

    kind: str
    name: str
    count: int


def write_row(row: SearchText) -> list[Any]:
    """Return the cells of HEADER."""
    return [row.kind, row.record_id, row.codes.split("\n")[0], row.title, row.anomaly.number if row.anomaly else ""]


def name_kinds(rows: SearchQuerySet) -> list[KindCount]:
    """Return the kinds among what was found."""
    counts = rows.order_by().values_list("kind").annotate(count=Count("pk"))
    return sorted((KindCount(kind, NAMES[kind], count) for kind, count in counts), key=lambda each: each.name)


def read_hits(rows: Iterable[SearchText], words: str) -> list[Hit]:
    """Return the hits with their words marked."""
    found, pattern = list(rows), _find_pattern(words)
    dissents = read_dissents([row.record_id for row in found if row.kind == Finding.KIND])
    return [
        Hit(
            row,
            NAMES[row.kind],
            mark(row.title, pattern),
            row.codes.split("\n")[0],
            cut(row.body, pattern),
            dissents.get(row.record_id, ()) if row.kind == Finding.KIND else (),
        )
        for row in found
    ]


def _find_pattern(words: str) -> re.Pattern[str]:
    """Return what to mark: words that begin like one that was looked for, without its ending."""
    parts = {part for parts in split_words(words) for part in parts}
    stems = sorted((ENDINGS.sub("", part) if len(part) > 4 else part for part in parts), key=len, reverse=True)
    return re.compile(rf"\b(?:{'|'.join(map(re.escape, stems))})\w*" if stems else r"(?!)", re.IGNORECASE)


def cut(text: str, pattern: re.Pattern[str]) -> SafeString:
    """Return the piece of a text around the first word that was looked for, its words marked."""
    found = pattern.search(text)
    start = max(found.start() - AROUND, 0) if found else 0
    end = start + 2 * AROUND + 40
    if start:
        start = text.find(" ", start, start + 30) + 1 or start
    piece = f"{'…' if start else ''}{text[start:end].strip()}{'…' if end < len(text) else ''}"
    return mark(piece, pattern)


def mark(text: str, pattern: re.Pattern[str]) -> SafeString:
    """Return the text, escaped, with the words marked."""
    pieces, last = [], 0
    for found in pattern.finditer(text):
        pieces += [(text[last : found.start()], found.group())]
        last = found.end()
    return format_html("{}{}", format_html_join("", "{}<mark>{}</mark>", pieces), text[last:])
