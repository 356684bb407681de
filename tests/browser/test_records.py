"""The records' pages in a real browser: what is typed is never lost, forms open in place, pages fit and print."""

from __future__ import annotations

import re

import pytest

from tests.browser.conftest import log_in
from tests.browser.test_every_page import violations

pytestmark = pytest.mark.browser

DOSSIER, REPORTED = "/log/A-2024-001/", "/log/A-2024-002/"
PAGES = {
    "dossier": (DOSSIER, "safety-engineer"),
    "history": (f"{DOSSIER}history/", "viewer"),
    "report": ("/log/new/", "recorder"),
    "notices": ("/notices/", "safety-engineer"),
    "tokens": ("/tokens/", "viewer"),
    "procedures": ("/procedures/", "writer"),
    "procedure": ("/procedures/P-001/", "writer"),
    "revision": ("/procedures/P-001/revisions/2/", "writer"),
    "redline": ("/procedures/P-001/revisions/2/?show=redline", "viewer"),
    "card": ("/procedures/Q-001/revisions/1/card/", "writer"),
    "screening": ("/records/anomaly/2/screen/", "safety-engineer"),
}


@pytest.fixture
def open_record(open_page, records):
    """Opens a page as one of the people."""

    def start(path, who="safety-engineer", **more):
        return open_page(path, who=who, **more)

    return start


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", list(PAGES))
def test_axe_finds_nothing_and_the_page_fits(open_record, name, width, scheme):
    path, who = PAGES[name]
    page = open_record(path, who, width=width, scheme=scheme)
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_form_opens_in_place_takes_the_focus_and_shows_what_is_wrong(open_record):
    page = open_record(REPORTED)
    page.click(".offers >> text=Screen")
    page.wait_for_selector("#move .move")
    assert page.url.endswith(REPORTED)
    assert page.inner_text(":focus") == "Screen"
    assert violations(page) == []
    page.check("[name=cell][value='3C']", force=True)
    page.select_option("[name=lead]", index=1)
    page.evaluate("document.querySelector('.move [name=rationale]').required = false")
    page.click(".move .button--main")
    page.wait_for_selector(".move .field__errors")
    assert page.is_checked("[name=cell][value='3C']")
    page.click(".move >> text=Cancel")
    assert not page.locator(".move").count()


def test_what_was_typed_is_back_after_the_page_was_left_and_can_be_discarded(open_record):
    page = open_record(f"{DOSSIER}")
    page.click("#story >> text=Edit the story")
    page.wait_for_selector(".move form[data-draft-tended]")
    page.fill(".move [name=place]", "Node 2")
    page.goto("/trees/")  # at once: the last words count too
    page.goto(DOSSIER)
    page.click("#story >> text=Edit the story")
    page.wait_for_selector(".move >> text=is back")
    assert page.input_value(".move [name=place]") == "Node 2"
    page.click(".move >> text=Discard it")
    assert page.input_value(".move [name=place]") == "Airlock"


def test_what_was_typed_outlives_an_expired_session(open_record):
    page = open_record("/log/new/", "recorder", width=390)
    page.fill("[name=title]", "Valve sticks")
    page.fill("[name=hardware_words]", "b-17")
    page.check(".picker__options input >> nth=0")
    page.wait_for_timeout(400)
    page.context.clear_cookies(name="sessionid")
    page.click("button.button--main >> text=Report")
    page.wait_for_url("**/login/**")
    log_in(page, "/log/new/", "recorder")
    page.wait_for_selector("text=is back")
    assert page.input_value("[name=title]") == "Valve sticks"
    page.wait_for_selector(".picker__options input:checked")
    page.click("button.button--main >> text=Report")
    page.wait_for_url("**/log/A-*/")
    assert "Valve sticks" in page.inner_text("h1")
    assert "B-17" in page.inner_text("#hardware")
    page.goto("/log/new/")
    assert page.input_value("[name=title]") == ""
    assert not page.locator("text=is back").count()


def test_a_lost_connection_is_told_and_nothing_is_lost(open_record):
    page = open_record(REPORTED, expect=("htmx:", "ERR_FAILED"))
    page.click(".offers >> text=Dismiss")
    page.fill(".move [name=reason]", "Typed at length.")
    page.route("**/dismiss/", lambda route: route.abort())
    page.click(".move .button--main")
    page.wait_for_selector("text=No connection")
    assert page.input_value(".move [name=reason]") == "Typed at length."


def test_somebody_elses_draft_is_never_shown(open_record):
    page = open_record("/log/new/", "recorder")
    page.fill("[name=title]", "Mine alone")
    page.wait_for_timeout(400)
    page.context.clear_cookies(name="sessionid")
    log_in(page, "/log/new/", "board-member")
    assert page.input_value("[name=title]") == ""


def test_the_quick_form_works_without_script(open_record):
    page = open_record("/log/new/", "recorder", width=390, script=False)
    page.fill("[name=title]", "Lamp flickers")
    page.fill("[name=hardware_words]", "suit-4")
    page.click("text=Find")
    page.check(".picker__options input >> nth=0")
    page.click("button.button--main >> text=Report")
    assert "Lamp flickers" in page.inner_text("h1")
    assert "SUIT-4" in page.inner_text("#hardware")


def test_a_dossier_prints_on_paper(open_record):
    page = open_record(DOSSIER)
    page.emulate_media(media="print")
    for gone in (".masthead", ".dossier__contents", ".offers"):
        assert not page.locator(gone).first.is_visible()
    assert page.locator("#story").is_visible()
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_a_step_is_edited_at_its_place(open_record):
    page = open_record("/procedures/P-001/revisions/2/", "writer", width=390)
    page.click(".step >> nth=1 >> text=Edit")
    page.wait_for_selector(".step .move")
    assert violations(page) == []
    page.fill(".move [name=text]", "Pull twice to check the latch.")
    page.click(".move .button--main")
    page.wait_for_selector("text=The step was changed.")
    assert "Pull twice" in page.inner_text(".step >> nth=1")


def test_a_card_prints_on_one_face_of_small_paper(open_record):
    page = open_record("/procedures/Q-001/revisions/1/card/", "writer")
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) == 1
    width, height = map(float, re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed).groups())
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (105, 148)
