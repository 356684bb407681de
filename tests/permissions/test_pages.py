"""Every page, by everybody: what answers, and that a refusal changes nothing.

Those who may make a move send its form in test_made.py.
"""

from __future__ import annotations

import pytest

from tests.anomalies.web.pages import HTMX
from tests.permissions.doors import PAGE_DOORS
from tests.permissions.people import NO_ROLE, VISITOR
from tests.permissions.tables import Door
from tests.permissions.world import Answer, World

pytestmark = pytest.mark.django_db

MAY, LOG_IN = "may", "is sent to the log-in"
METHODS = ("GET", "POST")
BY_ADDRESS: dict[str, dict[str, Door]] = {}
for each in PAGE_DOORS:
    BY_ADDRESS.setdefault(each.address, {})[each.method] = each


def expected(door: Door | None, person: str) -> str | int:
    """What the table says: a status, or that the person may."""
    if person == VISITOR:
        return LOG_IN
    if door is None:
        return 405
    if person not in door.finders:
        return 404
    return MAY if person in door.goers else 403


def answered(answer: Answer, method: str) -> str | int:
    """What the service says, in the same words. What is sent empty may be found wanting, or done."""
    status: int = answer.status_code
    if status == 302 and answer.headers["Location"].startswith("/login/"):
        return LOG_IN
    return MAY if status in ((200, 302) if method == "GET" else (200, 204, 302, 422)) else status


def ask(world: World, person: str, method: str, path: str, door: Door | None) -> Answer:
    """Get the page, or send its form empty; moves are asked for and sent by htmx, as pages do."""
    if method == "GET" and not (door and door.is_move):
        return world.look(person, path)
    return world.ask(person, method, path, **HTMX)


def find_cast(address: str, method: str) -> tuple[str, ...]:
    """Return whom to try it with: all for whom the answer may differ."""
    door = BY_ADDRESS[address].get(method)
    if door is None:
        return (NO_ROLE, "safety engineer", VISITOR)
    return tuple(person for person in door.cast if not door.is_move or person not in door.goers)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("address", BY_ADDRESS)
def test_who_may_have_a_page(world, address, method):
    door, path, cast = BY_ADDRESS[address].get(method), world.fill(address), find_cast(address, method)
    answers = {person: ask(world, person, method, path, door) for person in cast}
    said = {person: answered(answer, method) for person, answer in answers.items()}
    assert said == {person: expected(door, person) for person in cast}
    assert [answer.wrote for person, answer in answers.items() if said[person] != MAY and answer.wrote] == []
