"""Every page of the demonstration, forms too: fits its screen and is fit for people with other senses."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from django.urls import URLResolver, get_resolver

from tests.browser.conftest import PASSWORD, SIZES, Site
from tests.browser.test_every_page import violations

pytestmark = [pytest.mark.browser, pytest.mark.slow]

NO_PAGES = {  # routes that show no page of their own, and why
    "theme": "answers a form of every page",
    "logout": "answers a form of every page",
    "record": "leads on to the page of a record",
    "move": "one route for all forms: see the moves",
    "new": "one route for all forms: see the new ones",
    **dict.fromkeys(
        ("evidence_file", "source", "result", "brief_pdf", "cards_pdf", "anomaly_pdf", "minutes_pdf"),
        "hands out a file",
    ),
    **dict.fromkeys(
        ("export_xml", "export_json", "export_svg", "export_pdf", "calendar_feed", "minutes_pdf"), "hands out a file"
    ),
    "shared_retire": "answers a form of another page",
    **dict.fromkeys(("hardware_options", "search_options", "paper_style", "progress"), "is a piece of another page"),
    **dict.fromkeys(("keep_view", "change_view", "see_notices", "choose_mail"), "answers a form of another page"),
    **dict.fromkeys(
        ("bench_step", "bench_check", "bench_undo", "bench_redo", "bench_time", "bench_split"),
        "answers the bench's script",
    ),
    **dict.fromkeys(("bench_save", "bench_forward", "bench_discard", "open_draft"), "answers a form of another page"),
    "bench_pieces": "hands pieces to the bench's script",
    **dict.fromkeys(("request_run", "cancel_run", "repeat_run"), "answers a form of another page"),
    **dict.fromkeys(("variants_compute", "variant_remove"), "answers a form of another page"),
}
ELSEWHERE = {"login": "test_every_page.py", "tree revision": "the route is called revision in both apps"}
SCREENS = [(1440, "light"), (390, "dark"), (390, "light"), (1440, "dark")]


def routes(patterns: Iterable[Any] | None = None) -> Iterator[str]:
    """The names of all routes but those of the API and of tables to save."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        address = str(pattern.pattern)
        if address.startswith("api/") or address.endswith(".csv"):
            continue
        if isinstance(pattern, URLResolver):
            yield from routes(pattern.url_patterns)
        else:
            yield str(pattern.name)


def test_no_page_is_left_out(demo):
    _, places = demo
    shown = {name for name in places["pages"] if not name.startswith("new ")}
    assert set(routes()) | {"tree revision"} == shown | set(NO_PAGES) | set(ELSEWHERE)


def test_no_form_is_left_out(demo):
    _, places = demo
    assert places["missing"] == []


@pytest.mark.parametrize("kind", ["pages", "moves"])
@pytest.mark.parametrize("turn", [0, 1])
def test_axe_finds_nothing_and_the_page_fits(demo, chromium, kind, turn):
    """Pages are seen at both widths, forms at one of them in turn."""
    site, places = demo
    names = sorted(places[kind])
    seen = names if kind == "pages" else names[turn::2]
    width, scheme = SCREENS[turn]
    assert look_at(site, chromium, {name: places[kind][name] for name in seen}, width, scheme) == {}


def test_the_navigation_is_one_row_on_a_desk(demo, chromium):
    site, places = demo
    for who in sorted({person for person, _ in places["pages"].values()}):
        context = chromium.new_context(viewport={"width": 1440, "height": 900}, base_url=site.address)
        page = log_in(context, who)
        rows = page.eval_on_selector_all(".masthead__nav a", "links => links.map(link => link.offsetTop)")
        assert len(rows) > 5
        assert len(set(rows)) == 1, who
        context.close()


def log_in(context: Any, who: str) -> Any:
    """Return a page on which the person is logged in."""
    page = context.new_page()
    page.goto("/login/")
    page.fill("[name=username]", who)
    page.fill("[name=password]", PASSWORD)
    page.click("main form button")
    page.wait_for_selector("text=Log out")
    return page


def look_at(site: Site, chromium: Any, wanted: dict[str, Any], width: int, scheme: str) -> dict[str, list[str]]:
    """Go to each page as the person who may see it; returns what is wrong with it, by name."""
    wrong: dict[str, list[str]] = {}
    for who in sorted({person for person, _ in wanted.values()}):
        size = {"width": width, "height": SIZES[width]}
        context = chromium.new_context(viewport=size, color_scheme=scheme, base_url=site.address)
        page = log_in(context, who)
        said: list[str] = []
        page.on("console", lambda message, said=said: said.append(message.text) if message.type == "error" else None)
        for name, (person, path) in wanted.items():
            if person == who:
                answer = page.goto(path)
                found = violations(page) + said
                if answer.status != 200:
                    found += [f"status {answer.status}"]
                if page.evaluate("document.documentElement.scrollWidth") > width:
                    found += ["wider than the screen"]
                if found:
                    wrong[name] = found
                said.clear()
        context.close()
    return wrong
