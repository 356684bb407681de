"""Every move of evidence, the timeline, findings, causes and actions: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import CorrectiveAction, Evidence, LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import action_work, actions, causes, effects, evidence, findings, timeline, verification
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.actions import make_committed, make_done, make_proposed, make_verified, next_week, owner
from tests.anomalies.effects import make_beside
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.files import make_evidence, make_photograph
from tests.anomalies.investigation import make_adopted, make_cause, make_finding, seat
from tests.anomalies.people import SEEN_AT, board_member, make_open, make_person, make_stranger, recorder
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


def everybody_at_once():
    """Somebody with every role, who has done none of it."""
    for role in ROLES:
        person = make_person(role, "everybody")
    return person


def in_evidence_state(state):
    row = make_photograph()
    if state == "withdrawn":
        evidence.withdraw_evidence(evidence_id=row.pk, actor=recorder(), reason="Other.")
    return row.reread()


def in_timeline_state(state):
    entry = timeline.add_timeline_entry(anomaly_id=make_open().pk, actor=recorder(), at=SEEN_AT, text="It wept.")
    if state == "withdrawn":
        timeline.withdraw_timeline_entry(entry_id=entry.pk, actor=recorder(), reason="Other.")
    return entry.reread()


def in_finding_state(state):
    if state == "adopted":
        return make_adopted().reread()
    finding = make_finding()
    seat(finding.anomaly)
    findings.state_position(finding_id=finding.pk, actor=board_member(), stand="concurs", wording=1)
    if state == "withdrawn":
        findings.withdraw_finding(finding_id=finding.pk, actor=board_member(), reason="Other.")
    return finding.reread()


JUDGE = {
    "credible": causes.find_cause_credible,
    "ruled_out": causes.rule_out_cause,
    "confirmed": causes.confirm_cause,
}


def in_cause_state(state):
    cause = make_cause()
    make_evidence(cause.anomaly)
    if state in JUDGE:
        judge(cause, board_member(), JUDGE[state])
    return cause.reread()


def judge(cause, actor, service):
    keys = list(Evidence.objects.filter(anomaly=cause.anomaly_id).values_list("pk", flat=True))
    return service(cause_id=cause.pk, actor=actor, version=cause.version, rationale="By test.", evidence_ids=keys)


def in_action_state(state):
    make = {"committed": make_committed, "done": make_done, "verified": make_verified, "effective": make_verified}
    action = make.get(state, make_proposed)().reread()
    make_investigation(action.anomaly)
    make_beside(action)
    if state == "dropped":
        return actions.drop_action(action_id=action.pk, actor=board_member(), reason="Other.")
    if state == "effective":
        return verification.find_action_effective(action_id=action.pk, actor=board_member(), note="So.")
    return action


def verify(action, actor):
    keys = list(Evidence.objects.filter(anomaly=action.anomaly_id).values_list("pk", flat=True))
    return verification.verify_action(
        action_id=action.pk, actor=actor, version=action.version, note="So.", evidence_ids=keys, proof=prove(actor)
    )


def beside(action):
    return CorrectiveAction.objects.exclude(pk=action.pk).filter(anomaly=action.anomaly_id).values_list("pk").first()[0]


def state_effect_of(action, actor):
    return effects.state_effect(action_id=action.pk, actor=actor, kind="ruled_out", event="valve", reason="Gone.")


def promise(service, **more):
    return lambda a, actor: service(
        action_id=a.pk, actor=actor, version=a.version, owner_id=owner().pk, due_on=next_week(), **more
    )


KINDS = {
    "evidence": (states.EVIDENCE, in_evidence_state),
    "timeline_entry": (states.TIMELINE_ENTRY, in_timeline_state),
    "finding": (states.FINDING, in_finding_state),
    "cause": (states.CAUSE, in_cause_state),
    "action": (states.ACTION, in_action_state),
}
BOARD = "board member, safety engineer"
MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("evidence", "describe"): (
        lambda e, actor: evidence.describe_evidence(
            evidence_id=e.pk, actor=actor, version=e.version, changes={"title": "Other"}
        ),
        BOARD,
    ),
    ("evidence", "open"): (
        lambda e, actor: evidence.open_evidence(evidence_id=e.pk, actor=actor)[1].close(),
        ", ".join(ROLES),
    ),
    ("evidence", "withdraw"): (
        lambda e, actor: evidence.withdraw_evidence(evidence_id=e.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("timeline_entry", "edit"): (
        lambda t, actor: timeline.edit_timeline_entry(
            entry_id=t.pk, actor=actor, version=t.version, changes={"text": "Other."}
        ),
        BOARD,
    ),
    ("timeline_entry", "withdraw"): (
        lambda t, actor: timeline.withdraw_timeline_entry(entry_id=t.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("finding", "edit"): (
        lambda f, actor: findings.edit_finding(
            finding_id=f.pk, actor=actor, version=f.version, changes={"statement": "Other."}
        ),
        "board member",  # its author, and the lead of the anomaly
    ),
    ("finding", "state_position"): (
        lambda f, actor: findings.state_position(finding_id=f.pk, actor=actor, stand="concurs", wording=f.wording),
        "board member",  # who sits on the board
    ),
    ("finding", "adopt"): (
        lambda f, actor: findings.adopt_finding(finding_id=f.pk, actor=actor, version=f.version, proof=prove(actor)),
        BOARD,
    ),
    ("finding", "send_back"): (
        lambda f, actor: findings.send_back_finding(finding_id=f.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("finding", "withdraw"): (
        lambda f, actor: findings.withdraw_finding(finding_id=f.pk, actor=actor, reason="Other."),
        "board member",
    ),
    ("cause", "edit"): (
        lambda c, actor: causes.edit_cause(
            cause_id=c.pk, actor=actor, version=c.version, changes={"statement": "Other."}
        ),
        BOARD,
    ),
    ("cause", "find_credible"): (lambda c, actor: judge(c, actor, causes.find_cause_credible), BOARD),
    ("cause", "rule_out"): (lambda c, actor: judge(c, actor, causes.rule_out_cause), BOARD),
    ("cause", "confirm"): (lambda c, actor: judge(c, actor, causes.confirm_cause), BOARD),
    ("cause", "reconsider"): (
        lambda c, actor: causes.reconsider_cause(cause_id=c.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("action", "edit"): (
        lambda a, actor: actions.edit_action(
            action_id=a.pk, actor=actor, version=a.version, changes={"title": "Other"}
        ),
        BOARD,
    ),
    ("action", "commit"): (promise(actions.commit_action), BOARD),
    ("action", "recommit"): (
        promise(actions.recommit_action, reason="Other.", acceptance_criteria="Other."),
        BOARD,
    ),
    ("action", "do"): (
        lambda a, actor: action_work.do_action(action_id=a.pk, actor=actor, version=a.version, note="Done."),
        "action owner, activity lead",
    ),
    ("action", "send_back"): (
        lambda a, actor: verification.send_back_action(action_id=a.pk, actor=actor, reason="Other."),
        f"{BOARD}, verifier",
    ),
    ("action", "verify"): (verify, "verifier"),
    ("action", "find_effective"): (
        lambda a, actor: verification.find_action_effective(action_id=a.pk, actor=actor, note="So."),
        BOARD,
    ),
    ("action", "state_effect"): (state_effect_of, BOARD),
    ("action", "tie"): (
        lambda a, actor: effects.tie_actions(action_id=a.pk, other_id=beside(a), kind="needs", actor=actor),
        BOARD,
    ),
    ("action", "drop"): (
        lambda a, actor: actions.drop_action(action_id=a.pk, actor=actor, reason="Other."),
        BOARD,
    ),
    ("action", "reopen"): (
        lambda a, actor: actions.reopen_action(action_id=a.pk, actor=actor, reason="Other."),
        BOARD,
    ),
}
OWN = {("finding", "edit"), ("finding", "withdraw"), ("finding", "state_position")}
"""Moves that hang on who somebody is: the everybody of these tests isn't the one."""
PAIRS = [(kind, name, state) for kind, name in MOVES for state in KINDS[kind][0].states]
FROM = {(kind, name): next(m.source for m in KINDS[kind][0].moves if m.name == name) for kind, name in MOVES}


def test_every_move_of_every_table_is_here():
    assert set(MOVES) == {(kind, move.name) for kind, (machine, _) in KINDS.items() for move in machine.moves}


@pytest.mark.parametrize(("kind", "name", "state"), PAIRS)
def test_a_move_is_made_or_refused_as_the_table_says(kind, name, state):
    actor = board_member() if (kind, name) in OWN else everybody_at_once()
    owner()
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
    owner()
    make_move, allowed = MOVES[kind, name]
    if role == "action owner" and kind == "action":
        actor = make_person(role, "another-owner")
    else:
        actor = make_person(role, "recorder-no-more" if role == "recorder" else "") if role else make_stranger()
    if role and role in allowed.split(", "):
        make_move(record, actor)
    else:
        with refused(NotAllowed):
            make_move(record, actor)
