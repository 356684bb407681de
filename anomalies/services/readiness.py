"""Writes of readiness reviews: the poll of the positions, the signed verdict, the next round."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.errors import Gap, Missing
from anomalies.models import (
    Activity,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    StandardPosition,
    Verdict,
)
from anomalies.reads.readiness.checklist import Checklist, read_checklist
from anomalies.reads.readiness.document import write_document
from anomalies.services.checks import ask_first, begin_move, clean_values, lock_named, need_text
from anomalies.services.editing import attach, detach
from anomalies.services.ledger import change_record, create_record
from anomalies.services.readiness_notes import lock_review, note_list
from anomalies.services.sign_off import PasswordProof, sign
from anomalies.states import READINESS_REVIEW, ActivityState, ReviewState
from config.kit.errors import BadInput, Refused, WrongState
from config.kit.permissions import require

NOT_PLANNED = "Only an activity that is still planned has its readiness reviewed."
THERE = "Its review is open already."
MOVED_ON = "The list changed since you read it: look at what is open now, then sign."
ENDED = "This round has ended: resume the review to ask the positions again."
WHY = "Say why."
WHAT = "Say what the condition is."
NO_CONDITION = "There is no condition in this answer that awaits being met."


@transaction.atomic
def open_review(*, activity_id: int, actor: User) -> ReadinessReview:
    """The review is open, and the standard positions of the kind are asked."""
    require(actor, "readiness_review.open")
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)
    if activity.state != ActivityState.PLANNED:
        raise Refused(NOT_PLANNED, code="not_planned")
    if ReadinessReview.objects.filter(activity=activity).exists():
        raise Refused(THERE, code="open_already")
    for row in StandardPosition.objects.filter(activity_kind=activity.kind, active=True):
        attach(PollPosition, actor=actor, action="poll_position.ask", activity_id=activity.pk, name=row.name)
    review = ReadinessReview(activity=activity, noted=read_checklist(activity).noted, opened_by=actor, opened_at=now())
    create_record(review, actor=actor, action="readiness_review.open")
    return review


@transaction.atomic
def set_position(*, activity_id: int, actor: User, name: str, person_id: int | None) -> PollPosition:
    """The poll of the activity asks this position; the person speaks for it."""
    require(actor, "poll_position.set")
    activity = _lock_planned(activity_id)
    given = clean_values(PollPosition(), {"name": name, "person_id": person_id}, ("name", "person_id"))
    keys = {"activity_id": activity.pk, "name": given["name"]}
    position = attach(PollPosition, actor=actor, action="poll_position.ask", **keys)
    if position.person_id != given["person_id"]:
        change_record(position, {"person_id": given["person_id"]}, actor=actor, action="poll_position.name")
    return position


@transaction.atomic
def drop_from_poll(*, activity_id: int, actor: User, name: str) -> None:
    """The poll doesn't ask this position."""
    require(actor, "poll_position.set")
    activity = _lock_planned(activity_id)
    detach(PollPosition, actor=actor, action="poll_position.drop", activity_id=activity.pk, name=name)


@transaction.atomic
def answer_poll(
    *, position_id: int, actor: User, stand: str, text: str, list_hash: str, proof: PasswordProof
) -> PollAnswer:
    """The position has said go, go with condition or no-go, signed; what it said before in the round is replaced."""
    ask_first(actor, "poll_position.answer", PollPosition.objects.all(), position_id)
    review = lock_review(PollPosition.objects.get(pk=position_id).activity_id)
    position = PollPosition.objects.lock(position_id)
    require(actor, "poll_position.answer", position)
    _need_under_way(review)
    found = _read_same_list(review, list_hash, actor)
    values = clean_values(PollAnswer(), {"stand": stand, "text": text}, ("stand", "text"))
    if values["stand"] != PollAnswer.Stand.GO:
        need_text("text", text, WHAT if values["stand"] == PollAnswer.Stand.CONDITION else WHY)
    label = PollAnswer.Stand(values["stand"]).label
    meaning = f"{position.name}, round {review.round}: {label}" + (f" ({values['text']})" if values["text"] else "")
    sign(review, actor=actor, proof=proof, seen=review.version, meaning=meaning, permission="view_activity")
    answer = PollAnswer(
        review=review,
        position=position,
        round=review.round,
        noted=found.noted,
        answered_by=actor,
        answered_at=now(),
        **values,
    )
    create_record(answer, actor=actor, action="poll_answer.give")
    note_list(review, actor=actor)  # its condition is an item of the list
    return answer


@transaction.atomic
def settle_condition(*, answer_id: int, actor: User, note: str) -> PollAnswer:
    """The condition of an answer is met; the note says what shows it."""
    ask_first(actor, "poll_answer.settle", PollAnswer.objects.all(), answer_id)
    review = lock_review(PollAnswer.objects.get(pk=answer_id).review.activity_id)
    _need_under_way(review)
    answer = PollAnswer.objects.lock(answer_id)
    if answer.stand != PollAnswer.Stand.CONDITION or answer.settled_at or answer.overtaken_at:
        raise WrongState(NO_CONDITION)
    note = need_text("note", note, "Say what shows that it is met.")
    changes = {"settled_at": now(), "settled_by": actor, "settled_note": note}
    change_record(answer, changes, actor=actor, action="poll_answer.settle")
    note_list(review, actor=actor)
    return answer


@transaction.atomic
def conclude_review(
    *, review_id: int, actor: User, verdict: str, reason: str, list_hash: str, proof: PasswordProof
) -> ReadinessSnapshot:
    """The round has ended with a signed verdict, and a snapshot of list and poll is kept.

    Go needs a list without an open item, and a go from every position that nothing has overtaken; else Missing says
    what isn't so. No-go needs a reason.
    """
    ask_first(actor, "readiness_review.conclude", ReadinessReview.objects.all(), review_id)
    review = lock_review(ReadinessReview.objects.get(pk=review_id).activity_id)
    move = begin_move(review, READINESS_REVIEW, "conclude", actor)
    _need_planned(review)
    if verdict not in Verdict.values:
        raise BadInput("Choose go or no-go.", fields={"verdict": ["Choose go or no-go."]})
    found = _read_same_list(review, list_hash, actor)
    if verdict == Verdict.NO_GO:
        reason = need_text("reason", reason, WHY)
    else:
        gaps = find_gaps(review, found)
        if gaps:
            raise Missing("The verdict can't be go yet.", gaps, code="not_ready")
    label = Verdict(verdict).label
    meaning = f"Readiness of {review.activity}, round {review.round}: {label}" + (f" ({reason})" if reason else "")
    permission = "sign_readinessreview"
    signed = sign(review, actor=actor, proof=proof, seen=review.version, meaning=meaning, permission=permission)
    snapshot = ReadinessSnapshot(
        review=review,
        round=review.round,
        verdict=verdict,
        reason=reason,
        document=write_document(review, found, verdict, reason, signed),
        taken_by=actor,
        taken_at=now(),
    )
    create_record(snapshot, actor=actor, action="readiness_snapshot.take")
    changes = {"state": move.target, "verdict": verdict, "state_reason": reason}
    change_record(review, changes, actor=actor, action="readiness_review.conclude", reason=reason)
    return snapshot


@transaction.atomic
def resume_review(*, review_id: int, actor: User, reason: str) -> ReadinessReview:
    """A new round is under way: every position is asked again. The snapshot of the last one stays."""
    ask_first(actor, "readiness_review.resume", ReadinessReview.objects.all(), review_id)
    review = lock_review(ReadinessReview.objects.get(pk=review_id).activity_id)
    move = begin_move(review, READINESS_REVIEW, "resume", actor)
    _need_planned(review)
    reason = need_text("reason", reason, WHY)
    changes: dict[str, Any] = {
        "state": move.target,
        "round": review.round + 1,
        "verdict": "",
        "stale_since": None,
        "stale_because": "",
        "state_reason": "",
    }
    change_record(review, changes, actor=actor, action="readiness_review.resume", reason=reason)
    note_list(review, actor=actor)
    return review


def find_gaps(review: ReadinessReview, found: Checklist) -> list[Gap]:
    """Return what keeps the verdict from being go."""
    gaps = [Gap(f"Open: {item.title}. {item.because}", item.record.KIND, item.record.pk) for item in found.open]
    said = {row.position_id: row for row in PollAnswer.objects.said_last_in(review)}
    positions = list(PollPosition.objects.filter(activity=review.activity_id, active=True))
    if not positions:
        gaps.append(Gap("No position is asked: name those who speak in the poll.", review.KIND, review.pk))
    for position in positions:
        answer = said.get(position.pk)
        if answer is None:
            gaps.append(Gap(f"{position.name} hasn't answered in this round.", review.KIND, review.pk))
        elif answer.overtaken_at:
            text = f"{position.name} has to answer again: {answer.overtaken_because.splitlines()[0]}"
            gaps.append(Gap(text, review.KIND, review.pk))
        elif answer.stand == PollAnswer.Stand.NO_GO:
            gaps.append(Gap(f"{position.name} says no-go: {answer.text}", review.KIND, review.pk))
    return gaps


def _lock_planned(activity_id: int) -> Activity:
    activity = lock_named("activity_id", Activity.objects.all(), activity_id)
    if activity.state != ActivityState.PLANNED:
        raise Refused(NOT_PLANNED, code="not_planned")
    review = ReadinessReview.objects.filter(activity=activity).first()
    if review is not None and review.state != ReviewState.UNDER_WAY:
        raise Refused(ENDED, code="round_ended")
    return activity


def _need_under_way(review: ReadinessReview) -> None:
    if review.state != ReviewState.UNDER_WAY:
        raise WrongState(ENDED)
    _need_planned(review)


def _need_planned(review: ReadinessReview) -> None:
    if review.activity.state != ActivityState.PLANNED:
        raise Refused(NOT_PLANNED, code="not_planned")


def _read_same_list(review: ReadinessReview, list_hash: str, actor: User) -> Checklist:
    """Return the list, noted, if it's the one that was read."""
    found = note_list(review, actor=actor)
    if found.hash != list_hash:
        raise Refused(MOVED_ON, code="list_changed")
    return found
