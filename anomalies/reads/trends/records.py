"""Which records a point, bar or row of the trends stands for.

`what` names the figure and `of` the row: period of 2031-Q1; group of 3 or of 3|2031-Q1; causes of root; screen,
explained or close of done, waiting or ended.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from anomalies.models import Anomaly, Cause
from anomalies.reads.trends.page import Trends
from config.kit.permissions import Actor

WHATS = {
    "all": "All anomalies that count",
    "period": "Those of a period",
    "group": "Those of a system, kind or severity",
    "causes": "Confirmed causes",
    "screen": "From report to screening",
    "explained": "From report to the first confirmed cause",
    "close": "From report to closing",
    "placed": "On the axis of exposure",
    "early": "Before any exposure",
    "unplaced": "In no row of the table",
    "bare": "In periods without exposure",
    "again": "Recurrences after closing",
    "while-open": "Recurrences while still open",
    "closed": "Closed at some time",
    "returned": "Came back after closing",
    "duplicates": "Left out as duplicates",
}
WAITS = {"screen": "screen", "explained": "cause", "close": "close"}
STANDS = {"done": "those that got there", "waiting": "those that still wait", "ended": "those that closed without"}


@dataclass(frozen=True, slots=True)
class Behind:
    """Keys of anomalies, or of causes; `title` says what they are."""

    title: str
    keys: tuple[int, ...]
    is_causes: bool = False


def find_behind(trends: Trends, what: str, of: str) -> Behind | None:
    """Return what stands behind a figure; None where the page has no such figure."""
    if what == "period":
        return next((Behind(f"Anomalies, {row.label}", row.cases) for row in trends.rows if row.key == of), None)
    if what == "group":
        return _find_group(trends, *of.partition("|")[::2])
    if what == "causes":
        rows = (Behind(f"Confirmed causes: {row.label}", row.causes, True) for row in trends.causes if row.key == of)
        return next(rows, None)
    if what in WAITS:
        return _find_wait(trends, WAITS[what], of)
    recurrences, trend = trends.recurrences, trends.trend
    simple = {
        "all": trends.whole.cases,
        "duplicates": tuple(case.pk for case in trends.facts.duplicates),
        "unplaced": tuple(case.pk for case in trends.unplaced),
        "placed": tuple(each.case.pk for each in trend.placed),
        "early": tuple(case.pk for case in trend.early),
        "bare": tuple(pk for row in trends.control.bare for pk in row.cases),
        "again": tuple(each.again.pk for each in recurrences.repeats),
        "while-open": tuple(case.pk for case in recurrences.while_open),
        "closed": recurrences.closed,
        "returned": recurrences.returned,
    }
    return Behind(WHATS[what], simple[what]) if what in simple else None


def fetch_behind(actor: Actor, behind: Behind, keys: Sequence[int]) -> list[Anomaly | Cause]:
    """Return the records of one page, in the order of their keys."""
    rows: QuerySet[Anomaly] | QuerySet[Cause] = (
        Cause.objects.visible_to(actor).select_related("anomaly")
        if behind.is_causes
        else Anomaly.objects.visible_to(actor).select_related("activity", "lead")
    )
    by_key: dict[int, Anomaly | Cause] = {row.pk: row for row in rows.filter(pk__in=keys)}
    return [by_key[key] for key in keys if key in by_key]


def _find_group(trends: Trends, key: str, period: str) -> Behind | None:
    for group in trends.groups:
        if group.key != key:
            continue
        if not period:
            return Behind(f"Anomalies, {group.label}", group.whole.cases)
        return next(
            (Behind(f"Anomalies, {group.label}, {r.label}", r.cases) for r in group.rows if r.key == period), None
        )
    return None


def _find_wait(trends: Trends, key: str, of: str) -> Behind | None:
    wait = next(each for each in trends.waits if each.key == key)
    return Behind(f"{wait.label}: {STANDS[of]}", getattr(wait, of)) if of in STANDS else None
