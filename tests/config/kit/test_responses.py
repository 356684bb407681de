"""Errors of services become answers."""

from __future__ import annotations

import json

import pytest
from django.http import Http404, HttpResponse

from config.kit.errors import BadInput, Conflict, NotAllowed, Refused, WrongState
from config.kit.responses import DomainErrorMiddleware, respond_to_api_error

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.locmem.Loader",
                    {"refused.html": "page: {{ error.message }}", "_refused.html": "piece: {{ error.message }}"},
                )
            ]
        },
    }
]


@pytest.fixture
def answer(settings):
    settings.TEMPLATES = TEMPLATES
    return DomainErrorMiddleware(lambda request: HttpResponse("fine")).process_exception


@pytest.mark.parametrize(
    ("error", "status", "code"),
    [
        (BadInput("The lamp is missing.", fields={"lamp": ["Give one."]}), 422, "bad_input"),
        (NotAllowed("Not you."), 403, "not_allowed"),
        (WrongState("The lamp is broken."), 409, "wrong_state"),
        (Refused("A hand is in the way.", code="hand_in_the_way"), 409, "hand_in_the_way"),
        (Conflict("Somebody was first."), 409, "conflict"),
    ],
)
def test_each_error_has_its_status_and_one_json_shape(error, status, code, answer, rf):
    response = answer(rf.get("/", headers={"Accept": "application/json"}), error)
    assert response.status_code == status
    assert json.loads(response.content) == {"code": code, "message": error.message, "fields": error.fields}


def test_a_browser_gets_a_page_and_htmx_a_piece(answer, rf):
    page = answer(rf.get("/", headers={"Accept": "text/html,*/*;q=0.8"}), Refused("No."))
    piece = answer(rf.get("/", headers={"HX-Request": "true"}), Refused("No."))
    assert page.content == b"page: No."
    assert piece.content == b"piece: No."
    assert page.status_code == piece.status_code == 409


def test_other_exceptions_are_left_alone(answer, rf):
    assert answer(rf.get("/"), RuntimeError("a defect")) is None


def test_the_api_says_of_a_missing_row_nothing_about_our_classes():
    answer = respond_to_api_error(Http404("No Lamp matches the given query."), {})
    assert answer is not None
    assert answer.data == {"code": "not_found", "message": "There is none, or you may not see it.", "fields": {}}
