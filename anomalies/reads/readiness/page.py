"""Readiness of one activity, as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from anomalies.models import (
    Activity,
    Fulfilment,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Waiver,
)
from anomalies.reads.history import Event, read_history
from anomalies.reads.readiness.checklist import Checklist, Shift, compare, is_stale, read_checklist
from anomalies.reads.readiness.scope import PAST
from anomalies.reads.readiness.since import Since, read_since


@dataclass(frozen=True, slots=True)
class PollRow:
    """A position, and what it said last in the round; None if nothing yet."""

    position: PollPosition
    answer: PollAnswer | None


@dataclass(frozen=True, slots=True)
class ReadinessView:
    """Everything on the page. `shifts` is what isn't as the review noted it last."""

    activity: Activity
    review: ReadinessReview | None
    found: Checklist
    shifts: list[Shift]
    poll: list[PollRow]
    waivers: list[Waiver]
    fulfilments: list[Fulfilment]
    snapshots: list[ReadinessSnapshot]
    since: Since | None
    earlier: list[Activity]
    events: list[Event]

    @property
    def is_stale(self) -> bool:
        """A verdict was signed for a list that isn't so any more."""
        return is_stale(self.review, self.found)


def read_readiness(activity: Activity, *, earlier: str = "") -> ReadinessView:
    """Return the page; `earlier` is the key of the activity to compare with, the last of the kind if it's none."""
    review = ReadinessReview.objects.filter(activity=activity).select_related("opened_by").first()
    if review is not None:
        review.activity = activity
    found = read_checklist(activity, review)
    before = Activity.objects.filter(state__in=PAST, planned_start__lt=activity.planned_start)
    others = list(before.order_by("-planned_start")[:30])
    chosen = next((each for each in others if str(each.pk) == earlier), None)
    snapshots = ReadinessSnapshot.objects.filter(review=review).select_related("taken_by").defer("document")
    waivers = Waiver.objects.holding(activity).select_related("granted_by", "anomaly", "activity")
    fulfilments = Fulfilment.objects.standing().filter(activity=activity)
    return ReadinessView(
        activity,
        review,
        found,
        compare(review.noted, found.noted) if review else [],
        _read_poll(review),
        list(waivers.order_by("expires_at", "pk")),
        list(fulfilments.select_related("requirement", "person", "item__type", "recorded_by")),
        list(snapshots) if review else [],
        read_since(activity, chosen),
        others,
        _read_events(review),
    )


def _read_poll(review: ReadinessReview | None) -> list[PollRow]:
    if review is None:
        return []
    said = PollAnswer.objects.said_last_in(review).select_related("answered_by", "settled_by", "position", "review")
    by_position = {row.position_id: row for row in said}
    positions = PollPosition.objects.filter(activity=review.activity_id, active=True).select_related("person")
    return [PollRow(position, by_position.get(position.pk)) for position in positions]


def _read_events(review: ReadinessReview | None) -> list[Event]:
    if review is None:
        return []
    return read_history(review, parts=[review.answers.all(), review.snapshots.all(), review.activity.waivers.all()])


def list_signers(review: ReadinessReview) -> list[int]:
    """Return the keys of everybody who signed in the round that is under way or ended last, and for its waivers."""
    answered = PollAnswer.objects.filter(review=review, round=review.round).values_list("answered_by_id", flat=True)
    ended = ReadinessSnapshot.objects.filter(review=review, round=review.round).values_list("taken_by_id", flat=True)
    accepted = Waiver.objects.holding(review.activity).values_list("granted_by_id", flat=True)
    return sorted({*answered, *ended, *accepted})
