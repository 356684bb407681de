"""Every move of exposure and of proposed values: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import exposure, learning
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.learning import make_exposure, make_mode, make_proposal, make_rate
from tests.anomalies.people import activity_lead, make_person, make_stranger, safety_engineer
from tests.anomalies.refusals import refused
from tests.anomalies.services.test_every_investigation_move import everybody_at_once

pytestmark = pytest.mark.django_db


def in_exposure_state(state):
    entry = make_exposure()
    if state == "withdrawn":
        exposure.withdraw_exposure(exposure_id=entry.pk, actor=activity_lead(), reason="Other.")
    return entry.reread()


def in_update_state(state):
    code = f"MODE-{state}"
    make_mode(code, item_id=make_rate(f"rate-{state}").pk)
    row = make_proposal(code)
    end = {"accepted": learning.accept_update, "refused": learning.refuse_update, "withdrawn": learning.withdraw_update}
    if state in end:
        end[state](update_id=row.pk, actor=safety_engineer(), note="So.")
    return row.reread()


def decide(service):
    return lambda row, actor: service(update_id=row.pk, actor=actor, note="So.")


KINDS = {
    "exposure": (states.EXPOSURE, in_exposure_state),
    "parameter_update": (states.PARAMETER_UPDATE, in_update_state),
}
MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("exposure", "withdraw"): (
        lambda row, actor: exposure.withdraw_exposure(exposure_id=row.pk, actor=actor, reason="Other."),
        "safety engineer, activity lead, administrator",
    ),
    ("parameter_update", "accept"): (decide(learning.accept_update), "safety engineer"),
    ("parameter_update", "refuse"): (decide(learning.refuse_update), "safety engineer"),
    ("parameter_update", "withdraw"): (decide(learning.withdraw_update), "safety engineer"),
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
