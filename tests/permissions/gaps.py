"""What the tables leave out of what the service has."""

from __future__ import annotations

from typing import Any

from config.kit.transitions import Machine
from tests.permissions.doors import OPERATIONS, PAGE_DOORS
from tests.permissions.pages_table import OPEN_TO_VISITORS
from tests.permissions.routes import all_forms, api_operations, name_route, page_routes
from tests.permissions.tables import read_rules
from tests.permissions.world import World


def moves_without_a_row(kind: str, machine: Machine) -> set[tuple[str, str]]:
    """Moves that the table of rules says nothing about, or not in each of their states."""
    rules = read_rules()
    return {
        (move.name, move.source)
        for move in machine.moves
        if not {(f"{kind}.{move.name}", ""), (f"{kind}.{move.name}", move.source)} & rules.keys()
    }


def pages_without_a_row(world: World, routes: dict[str, Any]) -> set[str]:
    """Routes for people that the tables of pages leave out."""
    return page_routes(routes) - OPEN_TO_VISITORS - {name_route(world.fill(door.address)) for door in PAGE_DOORS}


def operations_without_a_row(world: World, routes: dict[str, Any]) -> set[tuple[str, str]]:
    """Operations for programs that the table of the API leaves out."""
    return api_operations(routes) - {(door.method, name_route(world.fill(door.address))) for door in OPERATIONS}


def forms_without_a_row(world: World) -> set[tuple[str, str]]:
    """Forms of moves that the table of moves leaves out."""
    parts = [world.fill(door.address).split("/") for door in PAGE_DOORS if door.address.startswith("/records/")]
    return all_forms() - {(part[2], part[4]) for part in parts if len(part) > 5}
