"""Pages of the API's lists."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from rest_framework.exceptions import NotFound
from rest_framework.request import Request

from config.kit import api_paging
from config.kit.api_paging import Pagination

pytestmark = pytest.mark.django_db


class Pages(Pagination):
    page_size = 3


@pytest.fixture
def read(rf):
    """Reads a page of people by the query of its address."""

    def page(query: str = ""):
        pagination = Pages()
        rows = pagination.paginate_queryset(User.objects.order_by("username"), Request(rf.get(f"/people/{query}")))
        return pagination.get_paginated_response([row.username for row in rows]).data

    return page


@pytest.fixture
def seven():
    User.objects.bulk_create(User(username=name) for name in "abcdefg")


def test_pages_lead_to_each_other(seven, read):
    first, second, last = read(), read("?page=2"), read("?page=3")
    assert [page["results"] for page in (first, second, last)] == [["a", "b", "c"], ["d", "e", "f"], ["g"]]
    assert (first["previous"], first["next"]) == (None, "http://testserver/people/?page=2")
    assert (second["previous"], second["next"]) == ("http://testserver/people/", "http://testserver/people/?page=3")
    assert (last["previous"], last["next"]) == ("http://testserver/people/?page=2", None)
    assert {(page["count"], page["count_is_exact"]) for page in (first, second, last)} == {(7, True)}


def test_a_list_without_rows_has_one_page(read):
    assert read() == {"count": 0, "count_is_exact": True, "next": None, "previous": None, "results": []}


def test_a_page_that_is_just_full_has_no_next_one(read):
    User.objects.bulk_create(User(username=name) for name in "abc")
    assert (read()["next"], read()["count"]) == (None, 3)


@pytest.mark.parametrize("page", ["0", "-1", "4", "last", "x", "", "²", "9" * 19, "9" * 5000, f"{2**63}"])
def test_there_is_no_page_of_another_name(seven, read, page):
    with pytest.raises(NotFound):
        read(f"?page={page}")


def test_a_filter_stays_in_the_addresses(seven, read):
    assert read("?words=a&page=2")["next"] == "http://testserver/people/?page=3&words=a"


@pytest.mark.parametrize(("counted", "said"), [(7, (7, True)), (6, (6, False)), (4, (4, False))])
def test_it_is_counted_no_further_than_said(seven, read, monkeypatch, counted, said):
    monkeypatch.setattr(api_paging, "COUNTED", counted)
    page = read()
    assert (page["count"], page["count_is_exact"]) == said


def test_past_that_it_is_not_counted_at_all(seven, read, monkeypatch, django_assert_num_queries):
    monkeypatch.setattr(api_paging, "COUNTED", 5)
    with django_assert_num_queries(1):
        page = read("?page=2")
    assert (page["count"], page["count_is_exact"]) == (7, False)


def test_the_last_page_needs_no_count(seven, read, django_assert_num_queries):
    with django_assert_num_queries(1):
        assert read("?page=3")["count"] == 7
