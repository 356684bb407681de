"""Every move of an investigation, its inspections and what bears on its events: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import baselines, bearings, dispositions, effects, inspections, investigations
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.actions import make_verified
from tests.anomalies.effects import make_effect, make_tie
from tests.anomalies.fault_trees import enter, held, judge_all, make_investigation, plan, revise
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_confirmed
from tests.anomalies.people import board_member, make_person, make_stranger
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused
from tests.anomalies.services.test_every_investigation_move import BOARD, everybody_at_once

pytestmark = pytest.mark.django_db


def in_investigation_state(state):
    investigation = make_investigation()
    judge_all(investigation)
    revise(investigation)
    make_effect(make_verified(make_confirmed(investigation.anomaly)))
    if state == "concluded":
        conclude(investigation.reread(), board_member())
    return investigation.reread()


def conclude(investigation, actor):
    return investigations.conclude_investigation(
        investigation_id=investigation.pk, actor=actor, version=investigation.version, conclusion="A stuck valve."
    )


def in_inspection_state(state):
    inspection = plan(make_investigation())
    make_evidence(inspection.anomaly)
    if state == "carried_out":
        carry_out(inspection, board_member())
    if state == "dropped":
        inspections.drop_inspection(inspection_id=inspection.pk, actor=board_member(), reason="Other.")
    return inspection.reread()


def carry_out(inspection, actor):
    (key,) = held(inspection.investigation)
    return inspections.carry_out_inspection(
        inspection_id=inspection.pk,
        actor=actor,
        version=inspection.version,
        found=True,
        note="It stuck.",
        evidence_id=key,
    )


def in_bearing_state(state):
    bearing = enter(make_investigation(), "valve")
    if state == "withdrawn":
        bearings.withdraw_bearing(bearing_id=bearing.pk, actor=board_member(), reason="Other.")
    return bearing.reread()


def in_effect_state(state):
    effect = make_effect()
    if state == "withdrawn":
        effects.withdraw_effect(effect_id=effect.pk, actor=board_member(), reason="Other.")
    return effect.reread()


def in_tie_state(state):
    tie = make_tie()
    if state == "withdrawn":
        effects.untie_actions(tie_id=tie.pk, actor=board_member(), reason="Other.")
    return tie.reread()


def take_baseline(investigation, actor):
    keys = [action.pk for action in baselines.list_ready(investigation)]
    return baselines.take_as_baseline(
        investigation_id=investigation.pk,
        actor=actor,
        version=investigation.version,
        action_ids=keys,
        target="copy",
        proof=prove(actor),
    )


KINDS = {
    "investigation": (states.INVESTIGATION, in_investigation_state),
    "inspection": (states.INSPECTION, in_inspection_state),
    "bearing": (states.BEARING, in_bearing_state),
    "effect": (states.EFFECT, in_effect_state),
    "action_tie": (states.ACTION_TIE, in_tie_state),
}
MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("investigation", "judge"): (
        lambda i, actor: dispositions.judge_events(
            investigation_id=i.pk,
            actor=actor,
            version=i.version,
            events=["valve"],
            disposition="credible",
            rationale="So.",
        ),
        BOARD,
    ),
    ("investigation", "weigh"): (
        lambda i, actor: bearings.weigh_evidence(
            investigation_id=i.pk,
            actor=actor,
            event="valve",
            says="occurred",
            justification="Seen.",
            evidence_id=held(i)[0],
        ),
        BOARD,
    ),
    ("investigation", "plan_inspection"): (
        lambda i, actor: inspections.plan_inspection(
            investigation_id=i.pk, actor=actor, event="valve", title="Look", sensitivity=0.9, false_alarm=0.1
        ),
        BOARD,
    ),
    ("investigation", "set_time"): (
        lambda i, actor: investigations.set_mission_time(
            investigation_id=i.pk, actor=actor, version=i.version, mission_time=8.0
        ),
        BOARD,
    ),
    ("investigation", "take_up"): (
        lambda i, actor: investigations.take_up_revision(investigation_id=i.pk, actor=actor, version=i.version),
        BOARD,
    ),
    ("investigation", "conclude"): (conclude, BOARD),
    ("investigation", "resume"): (
        lambda i, actor: investigations.resume_investigation(investigation_id=i.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("inspection", "edit"): (
        lambda i, actor: inspections.edit_inspection(
            inspection_id=i.pk, actor=actor, version=i.version, changes={"title": "Other"}
        ),
        BOARD,
    ),
    ("inspection", "carry_out"): (carry_out, BOARD),
    ("inspection", "drop"): (
        lambda i, actor: inspections.drop_inspection(inspection_id=i.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("investigation", "take_baseline"): (take_baseline, "safety engineer"),
    ("effect", "withdraw"): (
        lambda e, actor: effects.withdraw_effect(effect_id=e.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("action_tie", "withdraw"): (
        lambda t, actor: effects.untie_actions(tie_id=t.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("bearing", "withdraw"): (
        lambda b, actor: bearings.withdraw_bearing(bearing_id=b.pk, actor=actor, reason="Other."),
        BOARD,
    ),
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
