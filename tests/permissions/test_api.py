"""Every operation of the JSON API, by everybody: what answers, and that a refusal says so and changes nothing."""

from __future__ import annotations

import json

import pytest

from tests.permissions.doors import OPERATIONS
from tests.permissions.people import VISITOR
from tests.permissions.tables import Door
from tests.permissions.world import Answer

pytestmark = pytest.mark.django_db

JSON = "application/json"
SHUT_OUT = {401: "not_authenticated", 403: "not_authenticated"}
"""How a visitor may be refused: with 401 where the answer says how to log in."""
REFUSED = {403: "not_allowed", 404: "not_found"}
PASSED = {*range(200, 300), 400, 409, 415, 422}
"""What somebody who may is answered; with nothing in the body most can't be done."""


def expected(door: Door, person: str) -> str | int:
    """What the table says."""
    if person == VISITOR:
        return "shut out"
    if person not in door.finders:
        return 404
    return "may" if person in door.goers else 403


def answered(answer: Answer, person: str) -> str | int:
    """What the service says, in the same words; a refusal must have the body of every error."""
    status = answer.status_code
    if status in PASSED:
        return "may"
    body = json.loads(answer.text)
    code = SHUT_OUT.get(status) if person == VISITOR else REFUSED.get(status)
    if body.keys() != {"code", "message", "fields"} or body["code"] != code or body["fields"]:
        return f"{status} with {body}"
    return "shut out" if person == VISITOR else status


@pytest.mark.parametrize("door", OPERATIONS, ids=lambda door: f"{door.method} {door.address.removeprefix('/api/v1/')}")
def test_who_may_use_an_operation(world, door):
    path = world.fill(door.address)
    answers = {person: world.ask(person, door.method, path, "{}", JSON, Accept=JSON) for person in door.cast}
    said = {person: answered(answer, person) for person, answer in answers.items()}
    assert said == {person: expected(door, person) for person in door.cast}
    assert [answer.wrote for person, answer in answers.items() if said[person] != "may" and answer.wrote] == []
