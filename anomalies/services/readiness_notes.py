"""What a review keeps of its list: noted whenever somebody signs, and by a sweep, so that no change goes unseen."""

from __future__ import annotations

from django.db import transaction

from anomalies.clock import now
from anomalies.models import Activity, PollAnswer, ReadinessReview
from anomalies.reads.readiness.checklist import Checklist, Shift, compare, find_overtaking, read_checklist
from anomalies.services.ledger import Doer, change_record
from anomalies.states import ActivityState, ReviewState
from config.kit.permissions import SYSTEM

MOST_NAMED = 10


def lock_review(activity_id: int) -> ReadinessReview:
    """Return the review, locked after its activity; raises DoesNotExist."""
    activity = Activity.objects.lock(activity_id)
    review = ReadinessReview.objects.lock(ReadinessReview.objects.get(activity=activity).pk)
    review.activity = activity
    return review


def note_list(review: ReadinessReview, *, actor: Doer) -> Checklist:
    """The locked review has noted the list as it is now; returns the list.

    Answers that rest on what isn't so any more are overtaken; a signed verdict goes stale.
    """
    found = read_checklist(review.activity, review)
    shifts = compare(review.noted, found.noted)
    if not shifts:
        return found
    slipped = [shift for shift in shifts if shift.worse]
    if review.state == ReviewState.SIGNED:
        _go_stale(review, found, shifts, actor)
    else:
        _overtake(review, found, actor)
        action = "readiness_review.slip" if slipped else "readiness_review.note"
        reason = _say(slipped) if slipped else ""
        change_record(review, {"noted": found.noted}, actor=actor, action=action, reason=reason)
    return found


def watch_reviews() -> int:
    """Every review of an activity that hasn't begun has noted its list; returns how many had to."""
    keys = ReadinessReview.objects.filter(activity__state=ActivityState.PLANNED).values_list("activity_id", flat=True)
    return sum(_watch(key) for key in keys.order_by("activity_id"))


@transaction.atomic
def _watch(activity_id: int) -> bool:
    before = ReadinessReview.objects.select_related("activity__lead").get(activity=activity_id)
    if not compare(before.noted, read_checklist(before.activity, before).noted):
        return False
    review = lock_review(activity_id)
    version = review.version
    note_list(review, actor=SYSTEM)
    return review.version != version


def _go_stale(review: ReadinessReview, found: Checklist, shifts: list[Shift], actor: Doer) -> None:
    text = _say(shifts)
    changes = {
        "noted": found.noted,
        "stale_since": review.stale_since or now(),
        "stale_because": f"{review.stale_because}\n{text}".strip(),
    }
    change_record(review, changes, actor=actor, action="readiness_review.go_stale", reason=text)


def _overtake(review: ReadinessReview, found: Checklist, actor: Doer) -> None:
    rows = PollAnswer.objects.said_last_in(review).filter(overtaken_at=None)
    for row in rows.exclude(stand=PollAnswer.Stand.NO_GO).select_for_update(of=("self",)).order_by("pk"):
        reasons = find_overtaking(row.noted, found.noted)
        if reasons:
            changes = {"overtaken_at": now(), "overtaken_because": _cut(reasons)}
            change_record(row, changes, actor=actor, action="poll_answer.overtake", reason=_cut(reasons))


def _say(shifts: list[Shift]) -> str:
    return _cut([shift.text for shift in shifts])


def _cut(lines: list[str]) -> str:
    more = len(lines) - MOST_NAMED
    return "\n".join([*lines[:MOST_NAMED], *([f"And {more} more, which the list shows."] if more > 0 else [])])
