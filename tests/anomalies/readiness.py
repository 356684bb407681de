"""Readiness reviews for tests, made with the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from anomalies.clock import now
from anomalies.models import (
    Activity,
    BriefShare,
    Fulfilment,
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Requirement,
    Waiver,
)
from anomalies.reads.readiness.checklist import Checklist, read_checklist
from anomalies.services.brief_shares import share_brief
from anomalies.services.readiness import answer_poll, conclude_review, open_review, set_position
from anomalies.services.requirements import add_requirement, record_fulfilment
from anomalies.services.waivers import grant_waiver
from tests.anomalies.people import SEEN_AT, activity_lead, make_activity, recorder, safety_engineer
from tests.anomalies.procedures import prove


def look(activity: Activity) -> Checklist:
    """The list as it is now."""
    return read_checklist(activity.reread(), ReadinessReview.objects.filter(activity=activity).first())


def standings(activity: Activity) -> dict[str, str]:
    """Key of item -> how it stands."""
    return {item.key: item.standing for item in look(activity).items}


def make_requirement(**changes: Any) -> Requirement:
    """Something that every transfer needs once."""
    given = {"activity_kind": "transfer", "sort": "rehearsal", "statement": "Rehearse the chill-down", "scope": "once"}
    return add_requirement(actor=activity_lead(), **given | changes)


def make_transfer(**changes: Any) -> Activity:
    """A transfer that is planned: of a kind of its own, so that others' requirements don't reach it."""
    return make_activity(**{"kind": "transfer", "title": "Transfer 9", "tasks": ["Chill down"]} | changes)


def make_fulfilment(activity: Activity | None = None, requirement: Requirement | None = None) -> Fulfilment:
    """The requirement is met for the transfer."""
    return record_fulfilment(
        actor=recorder(),
        activity_id=(activity or make_transfer()).pk,
        requirement_id=(requirement or make_requirement()).pk,
        done_at=SEEN_AT,
        note="Twice, sheet 12.",
    )


def make_review(activity: Activity | None = None, *names: str) -> ReadinessReview:
    """A review whose positions the recorder speaks for: coupling, unless others are named."""
    activity = activity or make_transfer()
    review = open_review(activity_id=activity.pk, actor=activity_lead())
    for name in names or ("Coupling",):
        set_position(activity_id=activity.pk, actor=activity_lead(), name=name, person_id=recorder().pk)
    return review.reread()


def answer(review: ReadinessReview, stand: str = "go", text: str = "", name: str = "Coupling") -> PollAnswer:
    """The recorder speaks for the position."""
    speaker = recorder()
    return answer_poll(
        position_id=PollPosition.objects.get(activity=review.activity_id, name=name).pk,
        actor=speaker,
        stand=stand,
        text=text,
        list_hash=look(review.activity).hash,
        proof=prove(speaker),
    )


def conclude(review: ReadinessReview, verdict: str = "go", reason: str = "", actor: Any = None) -> ReadinessSnapshot:
    """The activity lead signs the verdict."""
    actor = actor or activity_lead()
    return conclude_review(
        review_id=review.pk,
        actor=actor,
        verdict=verdict,
        reason=reason,
        list_hash=look(review.activity).hash,
        proof=prove(actor),
    )


def make_signed(activity: Activity | None = None) -> ReadinessReview:
    """A review that ended with go."""
    review = make_review(activity)
    answer(review)
    conclude(review)
    return review.reread()


def waive(activity: Activity, item: str, **changes: Any) -> Waiver:
    """The safety engineer accepts an open item."""
    engineer = safety_engineer()
    given = {
        "reason": "It was rehearsed for transfer 8.",
        "severity": 4,
        "probability": "D",
        "expires_at": now() + timedelta(days=30),
        "carries": False,
    }
    return grant_waiver(activity_id=activity.pk, actor=engineer, item=item, proof=prove(engineer), **given | changes)


def make_waiver(kind: str = "transfer", **changes: Any) -> Waiver:
    """A rehearsal is waived."""
    activity, requirement = make_transfer(kind=kind), make_requirement(activity_kind=kind)
    return waive(activity, f"requirement-{requirement.pk}", **changes)


def make_share(activity: Activity | None = None, **changes: Any) -> tuple[BriefShare, str]:
    """The activity lead shares the brief; returns the copy and the secret of its address."""
    lead = activity_lead()
    given = {"audience": "partners' safety panel", "days": 14, "proof": prove(lead)} | changes
    return share_brief(activity_id=(activity or make_transfer()).pk, actor=lead, **given)
