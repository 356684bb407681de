"""Page or fragment."""

from __future__ import annotations

import pytest
from django.http import QueryDict

from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.locmem.Loader",
                    {"page.html": "<html>{% include 'piece.html' %}</html>", "piece.html": "<p>{{ what }}</p>"},
                )
            ]
        },
    }
]


@pytest.mark.parametrize(
    ("headers", "body"),
    [
        ({}, b"<html><p>lamp</p></html>"),
        ({"HX-Request": "true"}, b"<p>lamp</p>"),
        ({"HX-Request": "true", "HX-History-Restore-Request": "true"}, b"<html><p>lamp</p></html>"),
    ],
)
def test_htmx_gets_the_piece_and_the_history_the_page(headers, body, rf, settings):
    settings.TEMPLATES = TEMPLATES
    response = page_or_fragment(rf.get("/", headers=headers), "page.html", "piece.html", {"what": "lamp"}, status=422)
    assert response.content == body
    assert response.status_code == 422
    assert "HX-Request" in response["Vary"]


@pytest.mark.parametrize(("asked", "number"), [("2", 2), ("", 1), ("x", 1), ("99", 3), ("-1", 3)])
def test_a_nonsense_page_number_still_shows_a_page(asked, number, rf):
    request = rf.get("/")
    request.GET = QueryDict(f"page={asked}")
    page = paginate(request, list(range(25)), size=10)
    assert page.number == number
    assert page.paginator.num_pages == 3
