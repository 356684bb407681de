"""The life of every kind of record."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.permissions import ROLES
from config.kit.errors import WrongState
from config.kit.permissions import rule_names

ALLOWED = {
    "access_token": (states.TOKEN, states.TokenState, "revoke: usable>revoked"),
    "calendar_key": (states.TOKEN, states.TokenState, "revoke: usable>revoked"),
    "board_meeting": (
        states.BOARD_MEETING,
        states.MeetingState,
        "edit: planned>planned; attend: planned>planned under_way>under_way; open: planned>under_way;"
        "decide: under_way>under_way; end: under_way>held; cancel: planned>cancelled",
    ),
    "meeting_decision": (states.MEETING_DECISION, states.DecisionState, "withdraw: standing>withdrawn"),
    "brief_share": (states.TOKEN, states.TokenState, "revoke: usable>revoked"),
    "activity": (
        states.ACTIVITY,
        states.ActivityState,
        "edit: planned>planned under_way>under_way; start: planned>under_way; scrub: planned>scrubbed;"
        "complete: under_way>completed; end_early: under_way>ended_early",
    ),
    "hardware": (
        states.HARDWARE,
        states.HardwareState,
        "edit: in_service>in_service quarantined>quarantined; install: in_service>in_service;"
        "remove: in_service>in_service quarantined>quarantined; quarantine: in_service>quarantined;"
        "release: quarantined>in_service; retire: in_service>retired quarantined>retired",
    ),
    "anomaly": (
        states.ANOMALY,
        states.AnomalyState,
        "edit: draft>draft reported>reported open>open; submit: draft>reported; discard: draft>discarded;"
        "screen: reported>open; dismiss: reported>dismissed; restore: dismissed>reported; reassess: open>open;"
        "assign: open>open; constrain: reported>reported open>open;"
        "link: reported>reported open>open dismissed>dismissed closed>closed; gather: reported>reported open>open;"
        "seat: open>open; investigate: open>open; accept_unexplained: open>open; retract_acceptance: open>open;"
        "close: open>closed; reopen: closed>open",
    ),
    "constraint": (
        states.CONSTRAINT,
        states.ConstraintState,
        "resolve: in_force>resolved; reinstate: resolved>in_force",
    ),
    "link": (states.LINK, states.LinkState, "withdraw: standing>withdrawn"),
    "evidence": (
        states.EVIDENCE,
        states.EvidenceState,
        "describe: held>held; open: held>held withdrawn>withdrawn; withdraw: held>withdrawn",
    ),
    "timeline_entry": (
        states.TIMELINE_ENTRY,
        states.TimelineState,
        "edit: standing>standing; withdraw: standing>withdrawn",
    ),
    "finding": (
        states.FINDING,
        states.FindingState,
        "edit: proposed>proposed; state_position: proposed>proposed adopted>adopted; adopt: proposed>adopted;"
        "send_back: adopted>proposed; withdraw: proposed>withdrawn adopted>withdrawn",
    ),
    "cause": (
        states.CAUSE,
        states.CauseState,
        "edit: open>open; find_credible: open>credible; rule_out: open>ruled_out credible>ruled_out;"
        "confirm: open>confirmed credible>confirmed; reconsider: credible>open ruled_out>open confirmed>open",
    ),
    "action": (
        states.ACTION,
        states.ActionState,
        "edit: proposed>proposed committed>committed; commit: proposed>committed; recommit: committed>committed;"
        "state_effect: proposed>proposed committed>committed done>done verified>verified;"
        "tie: proposed>proposed committed>committed;"
        "do: committed>done; send_back: done>committed; verify: done>verified; find_effective: verified>effective;"
        "drop: proposed>dropped committed>dropped; reopen: verified>committed effective>committed dropped>proposed",
    ),
    "installation": (states.INSTALLATION, states.InstallationState, "end: installed>removed"),
    "investigation": (
        states.INVESTIGATION,
        states.InvestigationState,
        "judge: under_way>under_way; weigh: under_way>under_way; plan_inspection: under_way>under_way;"
        "set_time: under_way>under_way; take_up: under_way>under_way; conclude: under_way>concluded;"
        "resume: concluded>under_way; take_baseline: under_way>under_way concluded>concluded",
    ),
    "inspection": (
        states.INSPECTION,
        states.InspectionState,
        "edit: possible>possible; carry_out: possible>carried_out; drop: possible>dropped",
    ),
    "bearing": (states.BEARING, states.BearingState, "withdraw: standing>withdrawn"),
    "effect": (states.EFFECT, states.EffectState, "withdraw: standing>withdrawn"),
    "action_tie": (states.ACTION_TIE, states.TieState, "withdraw: standing>withdrawn"),
    "exposure": (states.EXPOSURE, states.ExposureState, "withdraw: standing>withdrawn"),
    "parameter_update": (
        states.PARAMETER_UPDATE,
        states.UpdateState,
        "accept: proposed>accepted; refuse: proposed>refused; withdraw: proposed>withdrawn",
    ),
    "requirement": (
        states.REQUIREMENT,
        states.RequirementState,
        "edit: in_use>in_use; retire: in_use>retired; restore: retired>in_use",
    ),
    "fulfilment": (states.FULFILMENT, states.FulfilmentState, "withdraw: standing>withdrawn"),
    "readiness_review": (
        states.READINESS_REVIEW,
        states.ReviewState,
        "conclude: under_way>signed; resume: signed>under_way",
    ),
    "lesson": (
        states.LESSON,
        states.LessonState,
        "edit: drafted>drafted; place: drafted>drafted issued>issued; issue: drafted>issued; decide: issued>issued;"
        "retire: drafted>retired issued>retired; restore: retired>drafted",
    ),
    "lesson_use": (states.LESSON_USE, states.LessonUseState, "tie: standing>standing; withdraw: standing>withdrawn"),
    "waiver": (states.WAIVER, states.WaiverState, "withdraw: standing>withdrawn"),
}


def read_table(text):
    table = {}
    for part in text.split(";"):
        name, _, steps = part.strip().partition(":")
        table |= {(name, source): target for source, target in (step.split(">") for step in steps.split())}
    return table


PAIRS = [
    (kind, name, state)
    for kind, (_, known, text) in ALLOWED.items()
    for name in sorted({name for name, _ in read_table(text)})
    for state in known.values
]


@pytest.mark.parametrize(("kind", "name", "state"), PAIRS)
def test_every_pair_of_move_and_state(kind, name, state):
    machine, _, text = ALLOWED[kind]
    table = read_table(text)
    if (name, state) in table:
        assert machine.move(name, state).target == table[name, state]
    else:
        with pytest.raises(WrongState):
            machine.move(name, state)


@pytest.mark.parametrize("kind", ALLOWED)
def test_the_table_has_no_other_state_or_move(kind):
    machine, known, text = ALLOWED[kind]
    assert set(machine.states) == set(known.values)
    assert {(move.name, move.source): move.target for move in machine.moves} == read_table(text)


@pytest.mark.parametrize("kind", ALLOWED)
def test_every_move_has_a_rule(kind):
    assert {f"{kind}.{move.name}" for move in ALLOWED[kind][0].moves} <= rule_names()


def test_the_roles_are_those_of_the_job():
    assert set(ROLES) == {
        "recorder",
        "board member",
        "safety engineer",
        "action owner",
        "verifier",
        "activity lead",
        "viewer",
        "administrator",
    }
