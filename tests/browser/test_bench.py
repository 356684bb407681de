"""The bench in a real browser: the pressure tank from an empty page by keyboard alone and by mouse alone."""

from __future__ import annotations

import pytest

from tests.browser.test_every_page import violations
from tests.engine.editing.pressure_tank import CUT_SETS, PROBABILITY

pytestmark = pytest.mark.browser

EVENTS = {"T": "5e-6", "K2": "3e-5", "S": "1e-4", "S1": "3e-5", "K1": "3e-5", "R": "1e-4"}
BUILD = (("T",), ("E2", "OR", "K2"), ("E3", "AND", "S"), ("E4", "OR", "S1"), ("E5", "OR", "K1", "R"))
"""What is added under the top event, and then under each gate in turn; the next gate comes under the last one."""


def hear(page, words):
    """Wait until the status line says so."""
    page.wait_for_function("words => document.querySelector('[data-say]').textContent.includes(words)", arg=words)


def focus_is_on(page, selector):
    """Wait until the focus is there."""
    page.wait_for_function("it => Boolean(document.activeElement.closest(it))", arg=selector)


def cut_sets(page):
    """The cut sets that stand beside the tree."""
    found = page.eval_on_selector_all(
        "#live .live__cut[data-sheet-link]",
        "cuts => cuts.map(cut => [...cut.querySelectorAll('.chip')].map(chip => chip.textContent))",
    )
    return {tuple(sorted(names)) for names in found}


def holds_the_known_figures(page):
    """The probability and the five minimal cut sets of the published tree."""
    shown = page.get_attribute("#live [data-probability]", "data-probability")
    return float(shown) == pytest.approx(PROBABILITY, rel=1e-9) and cut_sets(page) == CUT_SETS


def tab_to(page, selector):
    """Press Tab until the focus is there."""
    for _ in range(120):
        if page.evaluate("it => Boolean(document.activeElement.closest(it))", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab doesn't lead to {selector}")


def type_and_leave(page, text):
    """Fill the field that has the focus, and go on to the next by Tab."""
    page.keyboard.type(text)
    page.keyboard.press("Tab")


def test_the_pressure_tank_by_keyboard_alone(open_page):
    page = open_page()
    page.goto("/trees/")
    keys = page.keyboard
    tab_to(page, "a[href='/trees/new/']")
    keys.press("Enter")
    page.wait_for_selector("#id_label")
    tab_to(page, "#id_label")
    type_and_leave(page, "Pressure tank ruptures")
    type_and_leave(page, "tank-by-keyboard")
    keys.press("Tab")  # the choice stands at OR
    keys.press("Enter")
    page.wait_for_selector("[data-tree]")
    tab_to(page, "[data-tree]")
    for place, (first, *rest) in enumerate(BUILD):
        events = (first,) if not rest else rest[1:]
        if rest:
            keys.press("g")
            focus_is_on(page, "#g-label")
            type_and_leave(page, f"Part {place}")
            type_and_leave(page, first)
            keys.type(rest[0])
            keys.press("Enter")
            hear(page, f"gate {first} is added")
            focus_is_on(page, "[data-tree]")
        for name in events:
            keys.press("e")
            focus_is_on(page, "#e-label")
            type_and_leave(page, "")
            type_and_leave(page, name)
            keys.type(EVENTS[name])
            keys.press("Enter")
            hear(page, f"event {name} is added")
            focus_is_on(page, "[data-tree]")
    assert holds_the_known_figures(page)
    keys.press("Control+z")
    hear(page, "Undone: Basic event R")
    focus_is_on(page, "[data-tree]")
    keys.press("Control+y")
    hear(page, "Done again: Basic event R")
    focus_is_on(page, "[data-tree]")
    keys.press("ArrowDown")
    page.wait_for_selector("#chosen[data-name=K1]")
    keys.press("n")
    hear(page, "K1 counts as not occurring in E5")
    focus_is_on(page, "[data-tree]")
    keys.press("n")
    hear(page, "K1 counts as occurring in E5 again")
    assert holds_the_known_figures(page)


def test_the_pressure_tank_by_mouse_alone(open_page):
    page = open_page()
    page.goto("/trees/")
    page.click("text=New tree")
    page.fill("#id_label", "Pressure tank ruptures")
    page.fill("#id_name", "tank-by-mouse")
    page.click("button:has-text('Begin')")
    page.wait_for_selector("#diagram [data-name=G1]")
    for place, (first, *rest) in enumerate(BUILD):
        events = (first,) if not rest else rest[1:]
        if rest:
            page.click("#chosen [data-opens=add-gate]")
            page.fill("#g-label", f"Part {place}")
            page.fill("#g-name", first)
            page.select_option("#g-kind", rest[0].lower())
            page.click("#chosen [data-form=add-gate] .button--main")
            hear(page, f"gate {first} is added")
        for name in events:
            page.click("#chosen [data-opens=add-event]")
            page.fill("#e-name", name)
            page.fill("#e-value", EVENTS[name])
            page.click("#chosen [data-form=add-event] .button--main")
            hear(page, f"event {name} is added")
    assert holds_the_known_figures(page)
    page.click("[data-zoom-fit]")
    page.click("#diagram [data-name=T]")
    page.wait_for_selector("#chosen[data-name=T]")
    page.fill("#c-number-0", "1e-5")
    page.click("#chosen button:has-text('Set value')")
    hear(page, "T has another probability")
    assert not holds_the_known_figures(page)
    page.click("[data-travel=undo]")
    hear(page, "Undone: T has another probability")
    assert holds_the_known_figures(page)
    page.click("summary:has-text('Save as revision')")
    page.fill("#note", "By mouse.")
    page.click(".bench-bar__form .button--main")
    page.wait_for_selector("#answer", timeout=90_000)
    assert page.inner_text("h1") == "Pressure tank ruptures"


def test_a_mistake_is_said_at_its_field_and_nothing_typed_is_lost(open_page, tree_path):
    page = open_page()
    page.goto("/trees/new/")
    page.fill("#id_label", "It leaks")
    page.fill("#id_name", "leak-by-browser")
    page.click("button:has-text('Begin')")
    page.click("#chosen [data-opens=add-event]")
    page.fill("#e-label", "A long title that took a while")
    page.fill("#e-value", "0.x")
    page.wait_for_selector("#e-value-error")  # said while typing
    page.click("#chosen [data-form=add-event] .button--main")
    hear(page, "neither a number nor the name of a parameter")
    assert page.input_value("#e-label") == "A long title that took a while"
    assert page.get_attribute("#e-value", "aria-invalid") == "true"
    assert page.evaluate("document.activeElement.id") == "e-value"


def test_a_lit_cut_set_and_folds_survive_a_step(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, "Cooling is lost while somebody tests"))
    page.click("text=Edit in the bench")
    page.wait_for_selector("#live .live__cut[data-sheet-link]")
    page.click("#live .live__cut[data-sheet-link] >> nth=0")
    page.wait_for_selector(".tag--lit")
    lit = page.locator("#diagram .is-lit[data-name]").count()
    page.fill("#c-label", "Another title")
    page.click("#chosen button:has-text('Set title and name')")
    hear(page, "is titled")
    assert page.locator("#diagram .is-lit[data-name]").count() == lit > 0


@pytest.mark.parametrize("width", [1440, 390])
def test_the_bench_fits_and_is_fit_for_other_senses(open_page, tree_path, width):
    page = open_page(width=width)
    page.goto(tree_path(page, "Lock stays open while somebody tests"))
    page.click("text=Edit in the bench")
    page.wait_for_selector("[data-tree]")
    page.evaluate("document.querySelectorAll('.extras details, .notes').forEach(each => { each.open = true; })")
    page.wait_for_load_state("networkidle")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert violations(page) == []
