"""The agenda, made from what is open: nobody enters it, and nobody can leave something out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from django.contrib.auth.models import User
from django.db.models import Q

from anomalies.clock import now
from anomalies.models import (
    Anomaly,
    Cause,
    CorrectiveAction,
    Finding,
    ReadinessReview,
    Waiver,
)
from anomalies.people import find_people_who_may, name_of
from anomalies.reads.meetings.item import Agenda, Item, list_names, make_item
from anomalies.reads.readiness.checklist import is_stale, read_checklist
from anomalies.services.closing import find_closing_gaps
from anomalies.states import ActivityState, AnomalyState, ReviewState, WaiverState

SOON = timedelta(days=14)
"""A waiver that expires within this time is on the agenda."""
TO_COME = (ActivityState.PLANNED, ActivityState.UNDER_WAY)


def read_agenda() -> Agenda:
    """Return what is before the board now."""
    at = now()
    parts = (
        _find_reports(),
        _find_unexplained(),
        _find_findings(),
        _find_causes(),
        _find_actions(),
        _find_closures(),
        _find_waivers(),
        _find_reviews(),
    )
    return Agenda(at, tuple(item for part in parts for item in part))


def _find_reports() -> Iterator[Item]:
    screeners = list_names(_find_people("screen_anomaly"), nobody="nobody holds the role that screens")
    for row in Anomaly.objects.awaiting_screening():
        yield make_item("screening", row, "Screen it, or dismiss it.", screeners)


def _find_unexplained() -> Iterator[Item]:
    for row in _open_ones():
        if not row.unexplained_at and not row.causes.explaining().exists():
            asked = "Confirm a root or proximate cause, or accept the risk of its staying unexplained."
            yield make_item("unexplained", row, asked, _name_lead(row))


def _find_findings() -> Iterator[Item]:
    rows = Finding.objects.before_the_board().select_related("anomaly__lead").prefetch_related("concurrences")
    for row in rows.order_by("proposed_at", "pk"):
        seats = row.anomaly.board.filter(active=True).select_related("person").order_by("pk")
        spoken = {each.member_id: each.stand for each in row.concurrences.all() if each.wording == row.wording}
        silent = [seat.person for seat in seats if seat.person_id not in spoken]
        dissents = sum(stand == "dissents" for stand in spoken.values())
        said = f" {dissents} dissent{'s' if dissents > 1 else ''} on record." if dissents else ""
        about = f"{row.anomaly.number} {row.label} · {row.statement}"
        if silent:
            yield make_item("finding", row, f"State a position on it.{said}", list_names(silent), about=about)
        else:
            asked = f"Everybody on its board has spoken: adopt it, or withdraw it.{said}"
            yield make_item("finding", row, asked, _name_lead(row.anomaly), about=about)


def _find_causes() -> Iterator[Item]:
    rows = Cause.objects.undecided().filter(anomaly__state=AnomalyState.OPEN).select_related("anomaly__lead")
    for row in rows.order_by("anomaly__number", "position"):
        about = f"{row.anomaly.number} {row.label} · {row.statement}"
        asked = "Find it credible, rule it out, or confirm it."
        yield make_item("cause", row, asked, _name_lead(row.anomaly), about=about)


def _find_actions() -> Iterator[Item]:
    verifiers = list(_find_people("verify_correctiveaction"))
    overdue = CorrectiveAction.objects.overdue(now().date()).select_related("owner")
    for row in overdue.order_by("due_on", "pk"):
        asked = f"It was due on {row.due_on:%Y-%m-%d}: have it done, or agree another date."
        yield make_item("action", row, asked, name_of(row.owner) if row.owner else "nobody owns it")
    for row in CorrectiveAction.objects.awaiting_verification().order_by("done_at", "pk"):
        may = [each for each in verifiers if each.pk not in (row.owner_id, row.doer_id)]
        asked = "It is done: have it verified by somebody else."
        yield make_item("action", row, asked, list_names(may, nobody="nobody who may verify it"))


def _find_closures() -> Iterator[Item]:
    closers = list_names(_find_people("close_anomaly"), nobody="nobody holds the role that closes")
    for row in _open_ones():
        if not row.unexplained_at and not row.causes.explaining().exists():
            continue
        gaps = find_closing_gaps(row)
        if gaps:
            asked = f"Before it can be closed: {' '.join(gap.text for gap in gaps)}"
            yield make_item("closure", row, asked, _name_lead(row))
        else:
            yield make_item("closure", row, "Nothing keeps it open: it can be closed.", closers)


def _find_waivers() -> Iterator[Item]:
    held = Q(activity__state__in=TO_COME) | Q(carries=True, expires_at__gt=now())
    rows = Waiver.objects.filter(held, state=WaiverState.STANDING, expires_at__lte=now() + SOON)
    for row in rows.select_related("activity", "granted_by").order_by("expires_at", "pk"):
        word = "expired" if row.expires_at <= now() else "expires"
        asked = f"It {word} on {row.expires_at:%Y-%m-%d %H:%M} UTC: mend the item, or decide on another waiver."
        yield make_item("waiver", row, asked, name_of(row.granted_by), about=f"{row.activity}: {row.title}")


def _find_reviews() -> Iterator[Item]:
    rows = ReadinessReview.objects.filter(activity__state=ActivityState.PLANNED).select_related("activity__lead")
    for row in rows.order_by("activity__planned_start", "pk"):
        lead = name_of(row.activity.lead)
        found = read_checklist(row.activity, row)
        when = f"{row.activity.planned_start:%Y-%m-%d %H:%M} UTC"
        if row.state == ReviewState.UNDER_WAY:
            count = len(found.open)
            asked = f"Round {row.round} is under way, {count} item{'s' if count != 1 else ''} open. Planned for {when}."
            yield make_item("review", row, asked, lead)
        elif is_stale(row, found):
            asked = f"What was signed doesn't hold any more: begin another round. Planned for {when}."
            yield make_item("review", row, asked, lead)


def _open_ones() -> list[Anomaly]:
    return list(Anomaly.objects.open().select_related("lead").order_by("occurred_at", "pk"))


def _find_people(code: str) -> list[User]:
    return list(find_people_who_may(code).order_by("last_name", "first_name", "username"))


def _name_lead(anomaly: Anomaly) -> str:
    return name_of(anomaly.lead) if anomaly.lead else "nobody leads it"
