"""The dates of a person's calendar: what is planned, what is owed by when, what expires."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db.models import OuterRef, Q, Subquery

from anomalies.clock import now
from anomalies.models import Activity, BoardMeeting, CalendarKey, CorrectiveAction, LedgerEntry, ReadinessReview, Waiver
from anomalies.models.base import Record
from anomalies.people import name_of
from anomalies.reads.readiness.scope import read_scope
from anomalies.reads.readiness.work import find_retests
from anomalies.states import ActivityState, MeetingState, ReviewState, WaiverState
from config.kit.permissions import allows

TO_COME = (ActivityState.PLANNED, ActivityState.UNDER_WAY)
KEPT_AFTER = timedelta(days=30)
"""A waiver that has expired stays in the calendar for so long."""


@dataclass(frozen=True, slots=True)
class Entry:
    """Something with a date. `key` stays the same for as long as the record does; `sequence` never goes down.

    start, end      a day, or moments; without an end it's a point in time
    changed_at      when the ledger last recorded a change of what it says
    """

    key: str
    title: str
    text: str
    start: date | datetime
    end: datetime | None
    sequence: int
    changed_at: datetime
    record: Record


def read_dates(person: User, reach: str) -> list[Entry]:
    """Return what the person may see now: all of it, or what they lead, own, verify, speak for, take part in."""
    mine = reach == CalendarKey.Reach.MINE
    found = [
        *_find_activities(person, mine),
        *_find_actions(person, mine),
        *_find_verifications(person, mine),
        *_find_waivers(person, mine),
        *_find_meetings(person, mine),
    ]
    if allows(person, "readiness_review.view"):
        found += [*_find_reviews(person, mine), *_find_retests(person, mine)]
    return sorted(found, key=lambda each: each.key)


def _with_change(rows: Any) -> Any:
    """Give each row `changed_at`: when the ledger last recorded a change of it."""
    entries = LedgerEntry.objects.filter(kind=rows.model.KIND, record_id=OuterRef("pk")).order_by("-sequence")
    return rows.annotate(changed_at=Subquery(entries.values("at")[:1]))


def _list_activities(person: User, parts: Q | None) -> Any:
    rows = Activity.objects.visible_to(person).filter(state__in=TO_COME)
    rows = rows if parts is None else rows.filter(pk__in=Activity.objects.filter(parts).values("pk"))
    return _with_change(rows.select_related("lead").order_by("pk"))


def _leads(person: User) -> Q:
    return Q(lead=person)


def _speaks(person: User) -> Q:
    return Q(positions__person=person, positions__active=True)


def _goes(person: User) -> Q:
    return Q(crew__person=person, crew__active=True)


def _find_activities(person: User, mine: bool) -> Iterator[Entry]:
    for row in _list_activities(person, _leads(person) | _goes(person) | _speaks(person) if mine else None):
        start = row.actual_start or row.planned_start
        end = row.planned_end if row.planned_end > start else None
        text = f"{row.get_kind_display()}, {row.get_state_display().lower()}. {name_of(row.lead)} leads it."
        tasks = "".join(f"\n- {task}" for task in row.tasks)
        yield Entry(f"activity-{row.pk}", row.title, text + tasks, start, end, row.version, row.changed_at, row)


def _find_actions(person: User, mine: bool) -> Iterator[Entry]:
    rows = CorrectiveAction.objects.visible_to(person).owed().exclude(due_on=None)
    rows = rows.filter(owner=person) if mine else rows
    for row in _with_change(rows.select_related("owner", "needed_before").order_by("pk")):
        before = f" It is needed before {row.needed_before}." if row.needed_before else ""
        owner = f"Owned by {name_of(row.owner)}." if row.owner else "Nobody owns it yet."
        text = f"{row.get_state_display()}. {owner}{before}"
        yield Entry(f"action-{row.pk}-due", f"Due: {row}", text, row.due_on, None, row.version, row.changed_at, row)


def _find_verifications(person: User, mine: bool) -> Iterator[Entry]:
    """What is done, and not verified yet, on the day the action was due."""
    if mine and not person.has_perm("anomalies.verify_correctiveaction"):
        return
    rows = CorrectiveAction.objects.visible_to(person).awaiting_verification().exclude(due_on=None)
    rows = rows.exclude(Q(owner=person) | Q(doer=person)) if mine else rows
    for row in _with_change(rows.select_related("doer").order_by("pk")):
        text = f"Done by {name_of(row.doer)} on {row.done_at:%Y-%m-%d}; the day is that on which the action is due."
        yield Entry(
            f"action-{row.pk}-verify", f"Verify: {row}", text, row.due_on, None, row.version, row.changed_at, row
        )


def _find_waivers(person: User, mine: bool) -> Iterator[Entry]:
    """Waivers that still carry something, on the moment they expire."""
    rows = Waiver.objects.visible_to(person).filter(state=WaiverState.STANDING, expires_at__gte=now() - KEPT_AFTER)
    rows = rows.filter(Q(carries=True) | Q(activity__state__in=TO_COME))
    rows = rows.filter(Q(granted_by=person) | Q(activity__lead=person)) if mine else rows
    for row in _with_change(rows.select_related("activity", "granted_by").order_by("pk")):
        later = ", and for later activities" if row.carries else ""
        text = f"Granted for {row.activity}{later} by {name_of(row.granted_by)}, risk {row.risk_code}: {row.reason}"
        title = f"Waiver expires: {row.title}"
        yield Entry(f"waiver-{row.pk}", title, text, row.expires_at, None, row.version, row.changed_at, row)


def _find_meetings(person: User, mine: bool) -> Iterator[Entry]:
    """Meetings of the board that are to come or under way; how long they'll take nobody says."""
    rows = BoardMeeting.objects.visible_to(person).filter(state__in=(MeetingState.PLANNED, MeetingState.UNDER_WAY))
    rows = rows.filter(attendances__person=person, attendances__active=True) if mine else rows
    for row in _with_change(rows.select_related("chair").order_by("pk")):
        text = f"{row.get_state_display()}. {name_of(row.chair)} chairs it. Its page has the agenda as it is."
        start = row.opened_at or row.planned_for
        yield Entry(f"meeting-{row.pk}", f"Meeting: {row}", text, start, None, row.version, row.changed_at, row)


def _find_reviews(person: User, mine: bool) -> Iterator[Entry]:
    """Activities whose readiness isn't signed, or whose verdict is stale, on the moment they begin."""
    rows = _list_activities(person, _leads(person) | _speaks(person) if mine else None)
    reviews = {each.activity_id: each for each in _with_change(ReadinessReview.objects.visible_to(person))}
    for row in rows.filter(state=ActivityState.PLANNED):
        review = reviews.get(row.pk)
        if review is None:
            what, sequence, changed_at = "No readiness review is open.", row.version, row.changed_at
        elif review.state == ReviewState.UNDER_WAY or review.stale_since:
            what = _say_review(review)
            sequence, changed_at = row.version + review.version, max(row.changed_at, review.changed_at)
        else:
            continue
        text = f"{what} The activity is planned to begin then."
        title = f"Readiness to be signed: {row}"
        record = review or row
        yield Entry(f"readiness-{row.pk}", title, text, row.planned_start, None, sequence, changed_at, record)


def _say_review(review: ReadinessReview) -> str:
    if review.stale_since:
        return f"What was signed in round {review.round} is stale: {review.stale_because}"
    return f"Round {review.round} of the review is under way."


def _find_retests(person: User, mine: bool) -> Iterator[Entry]:
    """What was put in since the last activity of the kind and wasn't tested since, on the moment the next begins."""
    rows: Iterable[Any] = _list_activities(person, _leads(person) if mine else None)
    for row in rows:
        for item in find_retests(read_scope(row)):
            if item.is_open:
                title = f"Retest owed before {row}: {item.title}"
                sequence = row.version + item.record.version
                yield Entry(
                    f"{item.key}-before-{row.pk}",
                    title,
                    f"{item.because} Owed by {item.owed_by}.",
                    row.planned_start,
                    None,
                    sequence,
                    row.changed_at,
                    item.record,
                )
