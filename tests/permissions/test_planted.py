"""The tests of the tables fail where they should: what is planted in the service is found."""

from __future__ import annotations

import pytest
from django.urls import path
from rest_framework.views import APIView

from anomalies import states
from anomalies.web.forms import MoveForm
from anomalies.web.register import PAGES, move_form
from config.kit.transitions import Machine, Move
from tests.permissions.gaps import (
    forms_without_a_row,
    moves_without_a_row,
    operations_without_a_row,
    pages_without_a_row,
)
from tests.permissions.routes import all_routes

pytestmark = pytest.mark.django_db


class PlantedView(APIView):
    def get(self, request): ...

    def delete(self, request): ...


def test_a_page_that_is_planted_is_found(world):
    routes = all_routes([path("planted/", lambda request: None, name="planted")])
    assert pages_without_a_row(world, routes) == {"planted"}


def test_an_operation_that_is_planted_is_found(world):
    routes = all_routes([path("planted/", PlantedView.as_view(), name="planted")])
    assert operations_without_a_row(world, routes) == {("GET", "planted"), ("DELETE", "planted")}


def test_another_method_of_a_known_address_is_found(world):
    routes = all_routes()
    view = type("Known", (routes["anomalies-api:people"].cls,), {"delete": PlantedView.delete}).as_view()
    assert operations_without_a_row(world, routes | {"anomalies-api:people": view}) == {
        ("DELETE", "anomalies-api:people")
    }


def test_a_move_that_is_planted_is_found():
    machine = Machine(*states.EVIDENCE.moves, Move("burn", "held", "withdrawn"))
    assert moves_without_a_row("evidence", machine) == {("burn", "held")}


def test_a_known_move_out_of_another_state_is_found_where_states_differ():
    machine = Machine(*states.ACTION.moves, Move("edit", "done", "done"))
    assert moves_without_a_row("action", machine) == {("edit", "done")}


def test_a_form_that_is_planted_is_found(world):
    move_form("evidence", "burn", label="Burn", move="withdraw")(MoveForm)
    try:
        assert forms_without_a_row(world) == {("evidence", "burn")}
    finally:
        del PAGES["evidence", "burn"]
