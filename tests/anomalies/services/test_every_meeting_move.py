"""Every move of meetings and their decisions: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import meetings
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.meetings import make_cancelled, make_decision, make_held, make_meeting, make_opened
from tests.anomalies.people import board_member, make_person, make_stranger, recorder, safety_engineer
from tests.anomalies.refusals import refused
from tests.anomalies.services.test_every_investigation_move import everybody_at_once

pytestmark = pytest.mark.django_db

MAKE = {"planned": make_meeting, "under_way": make_opened, "held": make_held, "cancelled": make_cancelled}


def in_meeting_state(state):
    return MAKE[state]().reread()


def in_decision_state(state):
    row = make_decision()
    if state == "withdrawn":
        meetings.withdraw_decision(decision_id=row.pk, actor=safety_engineer(), reason="A slip.")
    return row.reread()


def edit(row, actor):
    meetings.edit_meeting(meeting_id=row.pk, actor=actor, version=row.version, changes={"title": "Board, again"})


def attend(row, actor):
    meetings.expect_people(meeting_id=row.pk, actor=actor, person_ids=[recorder().pk])


KINDS = {
    "board_meeting": (states.BOARD_MEETING, in_meeting_state),
    "meeting_decision": (states.MEETING_DECISION, in_decision_state),
}
MOVES = {  # (kind, move) -> how it's made; the same two roles may make them all
    ("board_meeting", "edit"): edit,
    ("board_meeting", "attend"): attend,
    ("board_meeting", "open"): lambda row, actor: meetings.open_meeting(meeting_id=row.pk, actor=actor),
    ("board_meeting", "decide"): lambda row, actor: meetings.record_decision(
        meeting_id=row.pk, actor=actor, text="Meet again."
    ),
    ("board_meeting", "end"): lambda row, actor: meetings.end_meeting(
        meeting_id=row.pk, actor=actor, person_ids=[board_member().pk]
    ),
    ("board_meeting", "cancel"): lambda row, actor: meetings.cancel_meeting(
        meeting_id=row.pk, actor=actor, reason="So."
    ),
    ("meeting_decision", "withdraw"): lambda row, actor: meetings.withdraw_decision(
        decision_id=row.pk, actor=actor, reason="So."
    ),
}
MAY = ("board member", "safety engineer")
PAIRS = [(kind, name, state) for kind, name in MOVES for state in KINDS[kind][0].states]
FROM = {(kind, name): next(m.source for m in KINDS[kind][0].moves if m.name == name) for kind, name in MOVES}


def test_every_move_of_every_table_is_here():
    assert set(MOVES) == {(kind, move.name) for kind, (machine, _) in KINDS.items() for move in machine.moves}


@pytest.mark.parametrize(("kind", "name", "state"), PAIRS)
def test_a_move_is_made_or_refused_as_the_table_says(kind, name, state):
    actor = everybody_at_once()
    record = KINDS[kind][1](state)
    recorder()
    assert record.state == state
    table = {(move.name, move.source): move.target for move in KINDS[kind][0].moves}
    entries = LedgerEntry.objects.count()
    if (name, state) in table:
        MOVES[kind, name](record, actor)
        assert record.reread().state == table[name, state]
        assert LedgerEntry.objects.count() > entries
    else:
        with refused(WrongState):
            MOVES[kind, name](record, actor)


@pytest.mark.parametrize("role", [*ROLES, ""])
@pytest.mark.parametrize(("kind", "name"), MOVES)
def test_a_move_is_made_only_by_those_who_may(kind, name, role):
    record = KINDS[kind][1](FROM[kind, name])
    actor = make_person(role) if role else make_stranger()
    if role in MAY:
        MOVES[kind, name](record, actor)
    else:
        with refused(NotAllowed):
            MOVES[kind, name](record, actor)
