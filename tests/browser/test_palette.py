"""The palette in a real browser: by keys alone, by its button, with what the search finds, and without it."""

from __future__ import annotations

import pytest

from tests.browser.test_every_page import violations

pytestmark = pytest.mark.browser

DOSSIER, REPORTED = "/log/A-2024-001/", "/log/A-2024-002/"
CHOSEN = "#palette [aria-selected=true]"


@pytest.fixture
def open_record(open_page, records):
    """Opens a page as one of the people."""

    def start(path, who="safety-engineer", **more):
        return open_page(path, who=who, **more)

    return start


def summon(page, words=""):
    """Open it by its keys and type; the list is there for what was typed."""
    page.keyboard.press("Control+k")
    page.wait_for_selector("#palette[open]")
    page.keyboard.type(words)
    page.wait_for_function("() => !document.querySelector('[data-palette-status]').textContent.includes('searching')")


def offered(page, group):
    """The names of what a group offers."""
    return page.locator(f'[data-palette="{group}"] [role=option] > span:first-child').all_inner_texts()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_axe_finds_nothing_empty_filled_and_without_a_match(open_record, width, scheme):
    page = open_record(DOSSIER, width=width, scheme=scheme)
    for words in ("", "coolant", "zzzz"):
        summon(page, words)
        assert violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        page.keyboard.press("Escape")


def test_a_page_is_gone_to_by_keys_alone(open_record):
    page = open_record(DOSSIER)
    summon(page, "hard")
    assert "Add hardware" in offered(page, "here")  # a name that begins with the words is chosen before it
    assert page.inner_text(CHOSEN) == "Hardware"
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.url.endswith("/hardware/")


def test_arrows_choose_round_and_the_field_says_which(open_record):
    page = open_record(DOSSIER)
    summon(page)
    field = page.locator("#palette-words")
    ids = page.locator("#palette [role=option]").evaluate_all("all => all.map((each) => each.id)")
    assert len(ids) == len(set(ids)) > 12
    assert field.get_attribute("aria-expanded") == "true"
    assert field.get_attribute("aria-activedescendant") == ids[0]
    page.keyboard.press("ArrowDown")
    assert field.get_attribute("aria-activedescendant") == ids[1]
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    assert field.get_attribute("aria-activedescendant") == ids[-1]
    assert page.locator(CHOSEN).get_attribute("id") == ids[-1]
    assert page.evaluate("document.activeElement.id") == "palette-words"
    assert page.inner_text("[data-palette-status]") == f"{len(ids)} choices"


def test_a_move_of_this_page_opens_in_its_place_and_takes_the_focus(open_record):
    page = open_record(REPORTED)
    summon(page, "screen")
    assert "Screen" in offered(page, "here")
    page.keyboard.press("Enter")
    page.wait_for_selector("#move .move")
    assert page.url.endswith(REPORTED)
    assert page.inner_text(":focus") == "Screen"
    assert not page.locator("#palette[open]").count()


def test_two_moves_of_one_name_are_told_apart_by_where_they_stand(open_record):
    page = open_record(DOSSIER)
    summon(page)
    told = page.locator('[data-palette="here"] [role=option]').all_inner_texts()
    assert len(told) == len(set(told)) > 5
    assert any("Story" in each for each in told)


def test_a_button_is_only_gone_to(open_record):
    page = open_record("/notices/")
    summon(page, "keep")
    page.keyboard.press("Enter")
    assert page.inner_text(":focus") == "Keep"
    assert page.url.endswith("/notices/")


def test_a_record_is_found_by_the_search_and_gone_to(open_record):
    page = open_record("/trees/")
    summon(page, "A-2024-001")
    page.wait_for_selector("#palette-found [role=option]")
    assert page.inner_text(CHOSEN).startswith("A-2024-001")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.url.endswith(DOSSIER)


def test_what_others_may_not_see_is_not_offered(open_record):
    page = open_record("/", who="viewer")
    summon(page)
    assert "Screen" not in offered(page, "here")


def test_without_a_match_enter_searches_everything(open_record):
    page = open_record("/trees/")
    summon(page, "zzzz & more")
    assert page.inner_text("[data-palette-status]") == "0 choices"
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert page.url.endswith("/search/?words=zzzz%20%26%20more")


def test_what_was_found_for_other_words_is_not_gone_to(open_record):
    page = open_record("/trees/")
    summon(page, "coolant")
    page.wait_for_selector("#palette-found [role=option]")
    page.locator("#palette-words").fill("zzzz")
    assert page.locator("#palette-found [role=option]").count() == 0
    page.locator("#palette-words").fill("")
    page.wait_for_timeout(600)
    assert page.locator("#palette-found [role=option]").count() == 0


@pytest.mark.parametrize("how", ["Escape", "Control+k", "button", "beside"])
def test_it_closes_and_the_focus_returns(open_record, how):
    page = open_record(DOSSIER)
    page.focus(".masthead__brand")
    summon(page, "har")
    if how == "button":
        page.click("[data-palette-close]")
    elif how == "beside":
        page.mouse.click(5, 400)
    else:
        page.keyboard.press(how)
    assert not page.locator("#palette[open]").count()
    assert page.evaluate("document.activeElement.className") == "masthead__brand"
    assert page.url.endswith(DOSSIER)


@pytest.mark.parametrize("width", [1440, 390])
def test_its_button_opens_it_and_gets_the_focus_back(open_record, width):
    page = open_record(DOSSIER, width=width)
    page.click("text=Go to")
    assert page.evaluate("document.activeElement.id") == "palette-words"
    assert page.input_value("#palette-words") == ""
    page.click("#palette [role=option] >> text=Procedures")
    page.wait_for_url("**/procedures/")


def test_without_scripts_there_is_no_button_and_the_search_is_there(open_record):
    page = open_record(DOSSIER, script=False)
    assert not page.locator("[data-palette-open]").is_visible()
    assert not page.locator("#palette").is_visible()
    page.fill("#masthead-words", "coolant")
    page.press("#masthead-words", "Enter")
    assert "/search/?words=coolant" in page.url


def test_an_error_of_the_search_is_said(open_record):
    page = open_record("/trees/", expect=("status of 500", "Response Status Error Code 500"))
    page.route("**/search/options/**", lambda route: route.fulfill(status=500, body="broken"))
    summon(page, "trees")
    page.wait_for_function(
        "() => document.querySelector('[data-palette-status]').textContent.includes(\"can't be searched\")"
    )
    assert offered(page, "pages") == ["Trees"]
