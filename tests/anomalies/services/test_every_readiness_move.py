"""Every move of reviews, waivers, requirements and what was done of them: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import readiness, requirements, waivers
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.people import activity_lead, make_person, make_stranger, make_type, safety_engineer
from tests.anomalies.readiness import (
    answer,
    conclude,
    make_fulfilment,
    make_requirement,
    make_review,
    make_signed,
    make_transfer,
    make_waiver,
)
from tests.anomalies.refusals import refused
from tests.anomalies.services.test_every_investigation_move import everybody_at_once

pytestmark = pytest.mark.django_db


def in_requirement_state(state):
    row = make_requirement(activity_kind="docking", scope="item", hardware_type_id=make_type().pk)
    if state == "retired":
        requirements.retire_requirement(requirement_id=row.pk, actor=activity_lead(), reason="Not any more.")
    return row.reread()


def in_fulfilment_state(state):
    row = make_fulfilment(make_transfer(kind="test"), make_requirement(activity_kind="test"))
    if state == "withdrawn":
        requirements.withdraw_fulfilment(fulfilment_id=row.pk, actor=activity_lead(), reason="Other.")
    return row.reread()


def in_review_state(state):
    if state == "signed":
        return make_signed()
    review = make_review()
    answer(review)
    return review.reread()


def in_waiver_state(state):
    row = make_waiver(kind="test")
    if state == "withdrawn":
        waivers.withdraw_waiver(waiver_id=row.pk, actor=safety_engineer(), reason="Other.")
    return row.reread()


def reasoned(service, argument):
    return lambda row, actor: service(**{argument: row.pk}, actor=actor, reason="So.")


def edit(row, actor):
    requirements.edit_requirement(
        requirement_id=row.pk, actor=actor, version=row.version, changes={"statement": "Rehearse twice"}
    )


KINDS = {
    "requirement": (states.REQUIREMENT, in_requirement_state),
    "fulfilment": (states.FULFILMENT, in_fulfilment_state),
    "readiness_review": (states.READINESS_REVIEW, in_review_state),
    "waiver": (states.WAIVER, in_waiver_state),
}
LEADS = "activity lead, administrator"
MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("requirement", "edit"): (edit, LEADS),
    ("requirement", "retire"): (reasoned(requirements.retire_requirement, "requirement_id"), LEADS),
    ("requirement", "restore"): (reasoned(requirements.restore_requirement, "requirement_id"), LEADS),
    # the recorder recorded it
    ("fulfilment", "withdraw"): (
        reasoned(requirements.withdraw_fulfilment, "fulfilment_id"),
        f"recorder, {LEADS}",
    ),
    ("readiness_review", "conclude"): (
        lambda row, actor: conclude(row, "no_go", "Wind.", actor),
        "safety engineer, activity lead",
    ),
    ("readiness_review", "resume"): (
        reasoned(readiness.resume_review, "review_id"),
        "safety engineer, activity lead",
    ),
    ("waiver", "withdraw"): (reasoned(waivers.withdraw_waiver, "waiver_id"), "safety engineer"),
}
PAIRS = [(kind, name, state) for kind, name in MOVES for state in KINDS[kind][0].states]
FROM = {(kind, name): next(m.source for m in KINDS[kind][0].moves if m.name == name) for kind, name in MOVES}


def test_every_move_of_every_table_is_here():
    assert set(MOVES) == {(kind, move.name) for kind, (machine, _) in KINDS.items() for move in machine.moves}


@pytest.mark.parametrize(("kind", "name", "state"), PAIRS)
def test_a_move_is_made_or_refused_as_the_table_says(kind, name, state):
    actor = everybody_at_once()
    record = KINDS[kind][1](state)
    assert record.state == state
    make_move, _ = MOVES[kind, name]
    table = {(move.name, move.source): move.target for move in KINDS[kind][0].moves}
    entries = LedgerEntry.objects.count()
    if (name, state) in table:
        make_move(record, actor)
        assert record.reread().state == table[name, state]
        assert LedgerEntry.objects.count() > entries
    else:
        with refused(WrongState):
            make_move(record, actor)


@pytest.mark.parametrize("role", [*ROLES, ""])
@pytest.mark.parametrize(("kind", "name"), MOVES)
def test_a_move_is_made_only_by_those_who_may(kind, name, role):
    record = KINDS[kind][1](FROM[kind, name])
    make_move, allowed = MOVES[kind, name]
    actor = make_person(role) if role else make_stranger()
    if role and role in allowed.split(", "):
        make_move(record, actor)
    else:
        with refused(NotAllowed):
            make_move(record, actor)
