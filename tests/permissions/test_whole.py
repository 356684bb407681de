"""The tables leave nothing out: what is added to the service must be added to them."""

from __future__ import annotations

import pytest

from anomalies import states
from anomalies.permissions import ROLES as ROLES_OF_RECORDS
from anomalies.views.moves import record_models
from anomalies.web.register import MACHINES
from config.kit.permissions import rule_names
from config.kit.transitions import Machine
from faulttree.permissions import ROLES as ROLES_OF_TREES
from faulttree.states import RUN
from tests.permissions.doors import OPERATIONS, PAGE_DOORS
from tests.permissions.gaps import (
    forms_without_a_row,
    moves_without_a_row,
    operations_without_a_row,
    pages_without_a_row,
)
from tests.permissions.people import ROLES
from tests.permissions.routes import (
    all_new_forms,
    all_routes,
    api_operations,
    name_route,
    page_routes,
)
from tests.permissions.rules_table import RUN_MOVES
from tests.permissions.tables import read_rules

pytestmark = pytest.mark.django_db


def test_every_role_is_in_the_tables():
    assert set(ROLES_OF_RECORDS) == set(ROLES)
    assert set(ROLES_OF_TREES) == set(ROLES), "everybody with a role may see the trees"


def test_every_rule_is_in_the_table():
    assert {rule for rule, _ in read_rules()} == rule_names()


def test_every_move_is_in_the_table():
    assert {kind: moves_without_a_row(kind, machine) for kind, machine in MACHINES.items()} == {
        kind: set() for kind in MACHINES
    }
    assert set(RUN_MOVES) == {move.name for move in RUN.moves}
    assert {rule for rule in RUN_MOVES.values() if rule} <= rule_names()


def test_every_machine_is_looked_at():
    machines = [each for each in vars(states).values() if isinstance(each, Machine)]
    assert {id(machine) for machine in machines} == {id(machine) for machine in MACHINES.values()}


def test_every_page_is_in_the_tables(world):
    assert pages_without_a_row(world, all_routes()) == set()


def test_every_form_is_in_the_tables(world):
    assert forms_without_a_row(world) == set()
    assert all_new_forms() == {door.address.split("/")[2] for door in PAGE_DOORS if door.address.startswith("/new/")}


def test_every_kind_with_a_page_is_in_the_tables():
    kinds = {model.KIND for model in record_models() if hasattr(model, "get_absolute_url")}
    assert kinds == {
        door.address.split("/")[2] for door in PAGE_DOORS if door.address.startswith("/records/") and is_plain(door)
    }


def is_plain(door):
    """Whether it's the way from a key to a page, and no move."""
    return len(door.address.split("/")) == 5


def test_every_operation_is_in_the_table(world):
    assert operations_without_a_row(world, all_routes()) == set()


def test_no_row_is_left_over(world):
    routes = all_routes()
    operations = {(door.method, name_route(world.fill(door.address))) for door in OPERATIONS}
    assert operations == api_operations(routes)
    assert {name_route(world.fill(door.address)) for door in PAGE_DOORS} <= page_routes(routes)


def test_no_door_has_two_rows():
    doors = [(door.method, door.address) for door in (*PAGE_DOORS, *OPERATIONS)]
    assert len(doors) == len(set(doors))
