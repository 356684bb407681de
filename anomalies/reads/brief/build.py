"""Puts the brief of an activity together."""

from __future__ import annotations

from collections.abc import Iterator

from anomalies.clock import now
from anomalies.models import Activity, Anomaly, Cause, Finding, PollAnswer, ReadinessReview
from anomalies.people import name_of
from anomalies.reads.brief.anomaly import describe_anomaly
from anomalies.reads.brief.gather import with_story
from anomalies.reads.brief.parts import Brief, Part, Sentence, end_sentence, say, say_item
from anomalies.reads.brief.questions import ask_questions
from anomalies.reads.readiness.checklist import Checklist, is_stale, read_checklist
from anomalies.reads.readiness.since import Since, read_since
from anomalies.states import CauseState, FindingState, ReviewState

LAST = 3
"""How many earlier activities of the kind are told of."""


def read_brief(activity: Activity) -> Brief:
    """Return the brief as the records have it now."""
    review = ReadinessReview.objects.filter(activity=activity).first()
    found = read_checklist(activity, review)
    since = read_since(activity)
    troubles = _find_troubles(activity, found)
    told = tuple(describe_anomaly(each, found) for each in troubles)
    parts = (
        Part("The activity", tuple(_say_activity(activity, found))),
        Part("What ended or troubled the last ones", tuple(_say_last(activity)), told),
        Part("What has changed since last time", (), tuple(_say_since(since))),
        Part("How it stands", tuple(_say_standing(activity, review, found))),
        Part("Open questions", tuple(_say_open(troubles, found))),
    )
    return Brief(
        activity.title,
        activity.pk,
        now(),
        say_verdict(activity, review, found),
        tuple(part for part in parts if not part.is_empty),
        ask_questions(activity, review, found, since, troubles),
    )


def say_verdict(activity: Activity, review: ReadinessReview | None, found: Checklist) -> Sentence:
    """Return what the readiness review says, in a sentence."""
    if review is None:
        return say(f"The readiness of {activity} hasn't been reviewed.", activity)
    if review.state == ReviewState.UNDER_WAY:
        counts = found.counts
        return say(
            f"The readiness review of {activity} is under way, round {review.round}: {counts['open']} items open, "
            f"{counts['accepted']} accepted, {counts['met']} met.",
            review,
        )
    stale = is_stale(review, found)
    words = f"The readiness of {activity} was signed {review.get_verdict_display().lower()} in round {review.round}"
    return say(f"{words}; since then the list has changed, and the verdict is stale." if stale else f"{words}.", review)


def _say_activity(activity: Activity, found: Checklist) -> Iterator[Sentence]:
    start, end = activity.planned_start, activity.planned_end
    yield say(
        f"{activity}, {activity.get_kind_display().lower()}, is planned from {start:%Y-%m-%d %H:%M} to "
        f"{end:%Y-%m-%d %H:%M} UTC. {name_of(activity.lead)} leads it.",
        activity,
    )
    if activity.tasks:
        yield say(f"Tasks: {'; '.join(activity.tasks)}.", activity)
    crew = activity.crew.filter(active=True).select_related("person").order_by("pk")
    if crew:
        yield say(f"Crew: {', '.join(f'{name_of(each.person)} ({each.role})' for each in crew)}.", activity)
    used = [row.item for row in activity.hardware_uses.filter(active=True).select_related("item__type")]
    if used:
        yield say(f"Hardware: {', '.join(f'{item.type.name} {item}' for item in used)}.", *used)
    for item in found.items:
        if item.kind == "procedure":
            yield say(f"{end_sentence(item.title)} {item.because}", item.record, quiet=True)


def _say_last(activity: Activity) -> Iterator[Sentence]:
    earlier = Activity.objects.filter(kind=activity.kind, planned_start__lt=activity.planned_start)
    for each in earlier.filter(state__in=("completed", "ended_early")).order_by("-planned_start")[:LAST]:
        count = each.anomalies.exclude(number=None).count()
        troubles = (
            f"{count} anomal{'y was' if count == 1 else 'ies were'} recorded" if count else "no anomaly was recorded"
        )
        if each.state == "ended_early":
            yield say(f"{each} ended early: {each.state_reason} In it, {troubles}.", each)
        else:
            yield say(f"{each} was completed; {troubles}.", each)


def _find_troubles(activity: Activity, found: Checklist) -> list[Anomaly]:
    keys = [int(item.key.partition("-")[2]) for item in found.items if item.kind == "anomaly"]
    return list(with_story(Anomaly.objects.filter(pk__in=keys)).order_by("-occurred_at"))


def _say_since(since: Since | None) -> Iterator[Part]:
    if since is not None:
        for head, rows in since.groups:
            yield Part(head, tuple(say(row.text, row.record) for row in rows))


def _say_standing(activity: Activity, review: ReadinessReview | None, found: Checklist) -> Iterator[Sentence]:
    yield say_verdict(activity, review, found)
    if review is not None:
        for row in PollAnswer.objects.said_last_in(review).select_related("position", "answered_by").order_by("pk"):
            over = " It has to be answered again." if row.overtaken_at else ""
            why = f": {row.text}" if row.text else "."
            yield say(
                f"{row.position.name} ({name_of(row.answered_by)}) says {row.get_stand_display().lower()}{why}{over}",
                row,
            )
    for item in found.items:
        if item.standing == "accepted" and item.waiver:
            yield say(f"Accepted, risk {item.waiver.risk_code}: {end_sentence(item.title)} {item.because}", item.waiver)


def _say_open(troubles: list[Anomaly], found: Checklist) -> Iterator[Sentence]:
    yield from (say_item(item) for item in found.open)
    for cause in Cause.objects.filter(anomaly__in=troubles, state__in=(CauseState.OPEN, CauseState.CREDIBLE)):
        yield say(f"Not established: {cause.statement}", cause)
    for finding in Finding.objects.filter(anomaly__in=troubles, state=FindingState.PROPOSED).select_related("anomaly"):
        yield say(f"Still before the board: {finding.statement}", finding)
