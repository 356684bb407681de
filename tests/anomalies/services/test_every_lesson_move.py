"""Every move of lessons and of what was decided on them: in every state, and by every role."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.models import Activity, LedgerEntry, Requirement
from anomalies.permissions import ROLES
from anomalies.services import lesson_uses, lessons
from config.kit.errors import NotAllowed, WrongState
from tests.anomalies.lessons import decide, issue, make_issued, make_lesson, tie
from tests.anomalies.people import board_member, make_activity, make_person, make_stranger
from tests.anomalies.procedures import prove
from tests.anomalies.readiness import make_requirement
from tests.anomalies.refusals import refused
from tests.anomalies.services.test_every_investigation_move import everybody_at_once

pytestmark = pytest.mark.django_db


def in_lesson_state(state):
    lesson = make_lesson()
    if not Activity.objects.filter(kind="test").exists():
        make_activity(kind="test")
    if state == "issued":
        issue(lesson)
    if state == "retired":
        lessons.retire_lesson(lesson_id=lesson.pk, actor=board_member(), reason="Not any more.")
    return lesson.reread()


def in_use_state(state):
    use = decide()
    if not Requirement.objects.exists():
        make_requirement()
    if state == "withdrawn":
        lesson_uses.withdraw_lesson_use(use_id=use.pk, actor=board_member(), reason="Other.")
    return use.reread()


def reasoned(service, argument):
    return lambda row, actor: service(**{argument: row.pk}, actor=actor, reason="So.")


def edit(row, actor):
    lessons.edit_lesson(lesson_id=row.pk, actor=actor, version=row.version, changes={"title": "Pull first"})


def issue_it(row, actor):
    lessons.issue_lesson(lesson_id=row.pk, actor=actor, version=row.version, proof=prove(actor))


def decide_it(row, actor):
    given = {"decision": "declined", "reason": "Other hardware.", "activity_id": Activity.objects.get(kind="test").pk}
    lesson_uses.decide_lesson(lesson_id=row.pk, actor=actor, **given)


def tie_it(row, actor):
    lesson_uses.tie_lesson_use(use_id=row.pk, actor=actor, changed_requirement_id=Requirement.objects.earliest("pk").pk)


KINDS = {"lesson": (states.LESSON, in_lesson_state), "lesson_use": (states.LESSON_USE, in_use_state)}
TEACHERS = "board member, safety engineer, activity lead"
DOERS = "board member, safety engineer, action owner, activity lead"
MOVES = {  # (kind, move) -> how it's made, and the roles that may
    ("lesson", "edit"): (edit, TEACHERS),
    ("lesson", "place"): (
        lambda row, actor: lessons.place_lesson(lesson_id=row.pk, actor=actor, activity_kind="docking"),
        TEACHERS,
    ),
    ("lesson", "issue"): (issue_it, TEACHERS),
    ("lesson", "decide"): (decide_it, DOERS),
    ("lesson", "retire"): (reasoned(lessons.retire_lesson, "lesson_id"), TEACHERS),
    ("lesson", "restore"): (reasoned(lessons.restore_lesson, "lesson_id"), TEACHERS),
    ("lesson_use", "tie"): (tie_it, DOERS),
    ("lesson_use", "withdraw"): (reasoned(lesson_uses.withdraw_lesson_use, "use_id"), DOERS),
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


def test_its_author_does_not_issue_it():
    lesson = make_lesson()
    with refused(NotAllowed):
        issue_it(lesson.reread(), lesson.author)


def test_the_builders_are_what_they_say():
    assert tie(decide(make_issued())).changed is not None
