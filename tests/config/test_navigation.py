"""The main navigation."""

from __future__ import annotations

import re

import pytest

from config.navigation import ENTRIES, mark
from tests.anomalies.people import make_stranger
from tests.anomalies.web.pages import log_in
from tests.faulttree.people import make_viewer


def links(page: str) -> dict[str, str]:
    """Label -> the rest of the link."""
    nav = re.search(r'<nav class="masthead__nav".*?</nav>', page, re.S).group()
    return {label: rest for rest, label in re.findall(r"<a ([^>]*)>([^<]+)</a>", nav)}


def test_a_person_sees_what_they_may_see(db):
    assert "Trees" in links(log_in(make_viewer()).get("/trees/").content.decode())
    seen = links(log_in(make_stranger()).get("/nothing/").content.decode())
    assert not {entry.label for entry in ENTRIES if entry.rule} & set(seen)


def test_nobody_in_particular_sees_nothing(client, db):
    assert links(client.get("/login/").content.decode()) == {}


def test_the_page_one_is_on_is_marked(db):
    page = log_in(make_viewer()).get("/trees/").content.decode()
    assert links(page)["Trees"] == 'href="/trees/" aria-current="page"'


@pytest.mark.parametrize(
    ("path", "url", "expected"),
    [("/log/", "/log/", "page"), ("/log/A-2031-014/", "/log/", "true"), ("/log/", "/", ""), ("/", "/", "page")],
)
def test_a_page_below_an_entry_marks_it(path, url, expected):
    assert mark(path, url) == expected


def test_a_run_belongs_to_the_trees():
    (trees,) = [entry for entry in ENTRIES if entry.label == "Trees"]
    assert mark("/runs/3/", "/trees/", trees.also) == "true"
