"""Where no view is reached, or one broke: JSON below /api/, a page elsewhere."""

from __future__ import annotations

import json

import pytest
from django.core.exceptions import SuspiciousOperation
from django.http import Http404
from django.test import Client

from config.kit.handlers import answer_bad_request, answer_broken, answer_not_found

HANDLERS = [
    (lambda request: answer_bad_request(request, SuspiciousOperation()), 400, "bad_input"),
    (lambda request: answer_not_found(request, Http404()), 404, "not_found"),
    (answer_broken, 500, "broken"),
]


@pytest.mark.parametrize(("answer", "status", "code"), HANDLERS)
def test_the_api_answers_in_the_shape_of_every_refusal(rf, answer, status, code):
    response = answer(rf.get("/api/v1/lamps/"))
    said = json.loads(response.content)
    assert (response.status_code, said["code"], said["fields"]) == (status, code, {})
    assert said["message"].endswith(".")


@pytest.mark.django_db
@pytest.mark.parametrize(("answer", "status", "code"), HANDLERS)
def test_a_browser_gets_a_page(rf, answer, status, code):
    response = answer(rf.get("/lamps/"))
    assert response.status_code == status
    assert response.headers["Content-Type"].startswith("text/html")


def test_an_address_of_the_api_that_leads_nowhere_is_refused_as_json():
    answer = Client().get("/api/v1/lamps/")
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
