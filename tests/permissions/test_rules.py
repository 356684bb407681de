"""Every rule and every move, by everybody, as the table says."""

from __future__ import annotations

import pytest

from anomalies.api.doors import open_moves
from anomalies.web.register import MACHINES
from config.kit.permissions import allows
from tests.permissions.people import SIGNED_IN
from tests.permissions.tables import read_rules, who_may

pytestmark = pytest.mark.django_db

MOVES = sorted({(kind, move.name, move.source) for kind, machine in MACHINES.items() for move in machine.moves})
OTHERS = sorted({rule for rule, _ in read_rules()} - {f"{kind}.{name}" for kind, name, _ in MOVES})
OF_A_RECORD = {"poll_position.answer": "coming_position"}
"""Rules that are no move and yet ask for the record."""


def find_who_may(world, rule, record):
    return {name for name in SIGNED_IN if allows(world.people[name], rule, record)}


@pytest.mark.parametrize(("kind", "name", "state"), MOVES)
def test_who_may_make_a_move(world, kind, name, state):
    rule = f"{kind}.{name}"
    assert find_who_may(world, rule, world.records[f"{kind}_{state}"]) == who_may(rule, state)


@pytest.mark.parametrize("rule", OTHERS)
def test_who_may_do_what_is_no_move(world, rule):
    assert find_who_may(world, rule, world.records.get(OF_A_RECORD.get(rule))) == who_may(rule)


@pytest.mark.parametrize("kind", sorted(MACHINES.keys() - {"installation"}))
def test_the_api_names_the_moves_that_are_open(world, kind):
    for state in MACHINES[kind].states:
        record, may = world.records[f"{kind}_{state}"], MACHINES[kind].names_from(state)
        for person in SIGNED_IN:
            expected = [name for name in may if person in who_may(f"{kind}.{name}", state)]
            assert open_moves(MACHINES[kind], record, world.people[person]) == expected


def test_a_closed_account_may_do_nothing(world):
    people = list(world.people.values())
    for person in people:
        person.is_active = False
    try:
        open_rules = {rule for rule, _ in read_rules() for person in people if allows(person, rule, None)}
    finally:
        for person in people:
            person.is_active = True
    assert open_rules == set()
