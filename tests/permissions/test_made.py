"""Who may make a move can make it: its form, filled in, does what it says; no service refuses what its door allowed."""

from __future__ import annotations

import pytest

from tests.permissions.doors import PAGE_DOORS
from tests.permissions.filling import fill
from tests.permissions.watch import undone

pytestmark = pytest.mark.django_db

DOORS = [door for door in PAGE_DOORS if door.is_move and door.method == "POST"]


def ask(world, address, person):
    """The form as this person gets it, filled in, and sent."""
    page = world.browsers[person].get(address)
    return world.browsers[person].post(address, fill(page.context["form"], address.split("/")[4], world))


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.address)
def test_a_form_is_sent_by_those_who_may(world, door):
    said = {}
    for person in sorted(door.goers):
        with undone():
            response = ask(world, world.fill(door.address), person)
            said[person] = response.status_code
            if response.status_code != 302:
                said[person] = (response.status_code, response.context["form"].errors.as_text())
    assert said == dict.fromkeys(door.goers, 302)
