"""Every move of every kind: in every state, and by every role."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User

from anomalies import states
from anomalies.models import Anomaly, HardwareItem, LedgerEntry
from anomalies.permissions import ROLES
from anomalies.services import (
    activities,
    anomalies,
    board,
    causes,
    closing,
    hardware,
    screening,
    ties,
    timeline,
    unexplained,
)
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.people import (
    SEEN_AT,
    board_member,
    make_activity,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    make_type,
    recorder,
    safety_engineer,
)
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def everybody_at_once() -> User:
    """The recorder of the tests, with every role besides."""
    for role in ROLES:
        person = make_person(role, "recorder")
    return person


def make_started():
    activity = make_activity()
    return activities.start_activity(activity_id=activity.pk, actor=everybody_at_once(), at=SEEN_AT)


def in_activity_state(state):
    everybody = everybody_at_once()
    if state == "planned":
        return make_activity()
    if state == "scrubbed":
        return activities.scrub_activity(activity_id=make_activity().pk, actor=everybody, reason="Weather.")
    started = make_started()
    if state == "completed":
        return activities.complete_activity(activity_id=started.pk, actor=everybody)
    if state == "ended_early":
        return activities.end_activity_early(activity_id=started.pk, actor=everybody, reason="Leak.")
    return started


def in_hardware_state(state, *, installed=False):
    everybody = everybody_at_once()
    item = make_item("B")
    if installed:
        suit = make_item("S1", "SUIT-1")
        hardware.install_hardware(item_id=item.pk, parent_id=suit.pk, actor=everybody)
    if state == "quarantined":
        return hardware.quarantine_hardware(item_id=item.pk, actor=everybody, reason="Leak.")
    if state == "retired":
        return hardware.retire_hardware(item_id=item.pk, actor=everybody, reason="Worn out.")
    return item.reread()


def in_anomaly_state(state):
    everybody = everybody_at_once()
    if state == "draft":
        return make_draft()
    if state == "discarded":
        return anomalies.discard_anomaly(anomaly_id=make_draft().pk, actor=everybody)
    if state == "open":
        return make_open()
    if state == "closed":
        return make_closed()
    reported = make_reported()
    if state == "dismissed":
        return screening.dismiss_anomaly(anomaly_id=reported.pk, actor=everybody, reason="No anomaly.")
    return reported


def in_constraint_state(state):
    constraint = make_constraint()
    if state == "resolved":
        ties.resolve_constraint(constraint_id=constraint.pk, actor=everybody_at_once(), resolution="Replaced.")
    return constraint.reread()


def in_link_state(state):
    everybody = everybody_at_once()
    link = ties.link_anomalies(
        source_id=make_reported().pk, target_id=make_reported().pk, kind="related", actor=everybody
    )
    if state == "withdrawn":
        return ties.withdraw_link(link_id=link.pk, actor=everybody, reason="Not so.")
    return link


def another_suit():
    return HardwareItem.objects.get(serial_number="S2")


def another_anomaly():
    return Anomaly.objects.get(title="Another")


def accept(anomaly, actor):
    return unexplained.accept_unexplained(
        anomaly_id=anomaly.pk, actor=actor, version=anomaly.version, rationale="All tried.", proof=prove(actor)
    )


def close(anomaly, actor):
    return closing.close_anomaly(
        anomaly_id=anomaly.pk, actor=actor, version=anomaly.version, statement="A worn seal.", proof=prove(actor)
    )


def make_closed():
    """Closed, unexplained."""
    return close(accept(make_open(), safety_engineer()), safety_engineer())


KINDS = {
    "activity": (states.ACTIVITY, in_activity_state),
    "hardware": (states.HARDWARE, in_hardware_state),
    "anomaly": (states.ANOMALY, in_anomaly_state),
    "constraint": (states.CONSTRAINT, in_constraint_state),
    "link": (states.LINK, in_link_state),
}
RISK = {"severity": 3, "probability": "D", "rationale": "Seen once."}

MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("activity", "edit"): (
        lambda a, actor: activities.edit_activity(
            activity_id=a.pk, actor=actor, version=a.version, changes={"title": "Sortie 8"}
        ),
        "activity lead, administrator",
    ),
    ("activity", "start"): (
        lambda a, actor: activities.start_activity(activity_id=a.pk, actor=actor),
        "activity lead, administrator",
    ),
    ("activity", "scrub"): (
        lambda a, actor: activities.scrub_activity(activity_id=a.pk, actor=actor, reason="Leak."),
        "activity lead, administrator",
    ),
    ("activity", "complete"): (
        lambda a, actor: activities.complete_activity(activity_id=a.pk, actor=actor),
        "activity lead, administrator",
    ),
    ("activity", "end_early"): (
        lambda a, actor: activities.end_activity_early(activity_id=a.pk, actor=actor, reason="Leak."),
        "activity lead, administrator",
    ),
    ("hardware", "edit"): (
        lambda item, actor: hardware.edit_hardware_item(
            item_id=item.pk, actor=actor, version=item.version, changes={"location": "Airlock"}
        ),
        "activity lead, administrator",
    ),
    ("hardware", "install"): (
        lambda item, actor: hardware.install_hardware(item_id=item.pk, parent_id=another_suit().pk, actor=actor),
        "activity lead, administrator",
    ),
    ("hardware", "remove"): (
        lambda item, actor: hardware.remove_hardware(item_id=item.pk, actor=actor, location="Locker", reason="Leak."),
        "activity lead, administrator",
    ),
    ("hardware", "quarantine"): (
        lambda item, actor: hardware.quarantine_hardware(item_id=item.pk, actor=actor, reason="Leak."),
        "activity lead, administrator",
    ),
    ("hardware", "release"): (
        lambda item, actor: hardware.release_hardware(item_id=item.pk, actor=actor, reason="Tested."),
        "activity lead, administrator",
    ),
    ("hardware", "retire"): (
        lambda item, actor: hardware.retire_hardware(item_id=item.pk, actor=actor, reason="Worn out."),
        "activity lead, administrator",
    ),
    ("anomaly", "edit"): (
        lambda a, actor: anomalies.edit_anomaly(
            anomaly_id=a.pk, actor=actor, version=a.version, changes={"place": "Airlock"}
        ),
        "board member, safety engineer, recorder",
    ),
    ("anomaly", "submit"): (lambda a, actor: anomalies.submit_anomaly(anomaly_id=a.pk, actor=actor), "recorder"),
    ("anomaly", "discard"): (lambda a, actor: anomalies.discard_anomaly(anomaly_id=a.pk, actor=actor), "recorder"),
    ("anomaly", "screen"): (
        lambda a, actor: screening.screen_anomaly(anomaly_id=a.pk, actor=actor, lead_id=board_member().pk, **RISK),
        "safety engineer",
    ),
    ("anomaly", "dismiss"): (
        lambda a, actor: screening.dismiss_anomaly(anomaly_id=a.pk, actor=actor, reason="No anomaly."),
        "safety engineer",
    ),
    ("anomaly", "restore"): (
        lambda a, actor: screening.restore_anomaly(anomaly_id=a.pk, actor=actor, reason="It is one."),
        "safety engineer",
    ),
    ("anomaly", "reassess"): (
        lambda a, actor: screening.reassess_anomaly(anomaly_id=a.pk, actor=actor, **RISK),
        "safety engineer",
    ),
    ("anomaly", "assign"): (
        lambda a, actor: screening.assign_anomaly(anomaly_id=a.pk, actor=actor, lead_id=board_member().pk),
        "safety engineer",
    ),
    ("anomaly", "constrain"): (
        lambda a, actor: ties.constrain(
            anomaly_id=a.pk, actor=actor, statement="Not outside.", hardware_type_id=make_type().pk
        ),
        "safety engineer",
    ),
    ("anomaly", "link"): (
        lambda a, actor: ties.link_anomalies(
            source_id=a.pk, target_id=another_anomaly().pk, kind="related", actor=actor
        ),
        "board member, safety engineer",
    ),
    ("anomaly", "gather"): (
        lambda a, actor: timeline.add_timeline_entry(anomaly_id=a.pk, actor=actor, at=SEEN_AT, text="It wept."),
        "recorder, board member, safety engineer, action owner, verifier, activity lead",
    ),
    ("anomaly", "seat"): (
        lambda a, actor: board.seat_member(anomaly_id=a.pk, actor=actor, person_id=board_member().pk),
        "safety engineer, board member",  # the board member leads it
    ),
    ("anomaly", "investigate"): (
        lambda a, actor: causes.state_cause(anomaly_id=a.pk, actor=actor, kind="root", statement="Cold."),
        "board member, safety engineer",
    ),
    ("anomaly", "accept_unexplained"): (accept, "safety engineer"),
    ("anomaly", "retract_acceptance"): (
        lambda a, actor: unexplained.retract_acceptance(anomaly_id=a.pk, actor=actor, reason="A lead."),
        "safety engineer",
    ),
    ("anomaly", "close"): (close, "safety engineer"),
    ("anomaly", "reopen"): (
        lambda a, actor: closing.reopen_anomaly(anomaly_id=a.pk, actor=actor, reason="Again."),
        "board member, safety engineer",
    ),
    ("constraint", "resolve"): (
        lambda c, actor: ties.resolve_constraint(constraint_id=c.pk, actor=actor, resolution="Replaced."),
        "safety engineer",
    ),
    ("constraint", "reinstate"): (
        lambda c, actor: ties.reinstate_constraint(constraint_id=c.pk, actor=actor, reason="It wept again."),
        "safety engineer",
    ),
    ("link", "withdraw"): (
        lambda link, actor: ties.withdraw_link(link_id=link.pk, actor=actor, reason="Not so."),
        "board member, safety engineer",
    ),
}


def make_record(kind, name, state):
    """A record in the state, ready for the move where the state allows it; with all that making it needs."""
    make_type(), board_member(), make_item("S2", "SUIT-2"), make_reported(title="Another")
    if (kind, name) == ("hardware", "remove") and state != "retired":
        return in_hardware_state(state, installed=True)
    if kind == "anomaly" and name in ("retract_acceptance", "close") and state == "open":
        return accept(make_open(), safety_engineer())
    return KINDS[kind][1](state)


PAIRS = [(kind, name, state) for kind, name in MOVES for state in KINDS[kind][0].states]


def test_every_move_of_every_table_is_here():
    tables = {(kind, move.name) for kind, (machine, _) in KINDS.items() for move in machine.moves}
    assert set(MOVES) == tables


@pytest.mark.parametrize(("kind", "name", "state"), PAIRS)
def test_a_move_is_made_or_refused_as_the_table_says(kind, name, state):
    everybody = everybody_at_once()
    record = make_record(kind, name, state)
    assert record.state == state
    make_move, _ = MOVES[kind, name]
    table = {(move.name, move.source): move.target for move in KINDS[kind][0].moves}
    entries = LedgerEntry.objects.count()
    if (name, state) in table:
        make_move(record, everybody)
        assert record.reread().state == table[name, state]
        assert LedgerEntry.objects.count() > entries
    else:
        with refused(WrongState):
            make_move(record, everybody)


FROM = {(kind, name): next(m.source for m in KINDS[kind][0].moves if m.name == name) for kind, name in MOVES}
FROM["anomaly", "edit"] = "reported"


@pytest.mark.parametrize("role", [*ROLES, ""])
@pytest.mark.parametrize(("kind", "name"), MOVES)
def test_a_move_is_made_only_by_those_who_may(kind, name, role):
    record = make_record(kind, name, FROM[kind, name])
    make_move, allowed = MOVES[kind, name]
    recorder().groups.clear()  # make_record gave that person every role
    actor = make_person(role) if role else make_stranger()
    if role and role in allowed.split(", "):
        make_move(record, actor)
    else:
        with refused(NotAllowed):
            make_move(record, actor)
