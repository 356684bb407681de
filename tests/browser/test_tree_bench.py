"""What a safety engineer does with a tree, in a real browser, with a real worker."""

from __future__ import annotations

import re

import pytest

from tests.builders import wide_tree
from tests.faulttree.people import PUMPS

pytestmark = pytest.mark.browser

COOLING = "Cooling is lost while somebody tests"
LOCK = "Lock stays open while somebody tests"


def view_box(page) -> list[float]:
    """What the window of the diagram shows."""
    return [float(part) for part in page.get_attribute(".ft-drawing", "viewBox").split()]


def drawn(page) -> set[str]:
    """Names in the diagram."""
    return set(page.eval_on_selector_all("#diagram [data-name]", "all => all.map(one => one.dataset.name)"))


def import_file(page, tmp_path, source: str, name: str) -> None:
    """Import a file by the form."""
    path = tmp_path / f"{name}.xml"
    path.write_text(source)
    page.goto("/trees/import/")
    page.set_input_files("[name=file]", path)
    page.fill("[name=name]", name)
    page.click("text=Import >> nth=-1")


def test_a_file_goes_in_and_numbers_come_out(open_page, tmp_path):
    page = open_page()
    import_file(page, tmp_path, PUMPS, "pumps-by-browser")
    page.wait_for_selector("#answer", timeout=90_000)
    assert page.inner_text(".readout__full").strip() == "0.0298"
    assert "exact" in page.inner_text("#answer .plate__head")
    assert page.locator("#cut-sets tbody tr").count() == 2
    assert drawn(page) == {"no-flow", "both", "valve", "pump-1", "pump-2"}


def test_a_refused_file_is_explained_and_nothing_typed_is_lost(open_page, tmp_path):
    page = open_page()
    import_file(page, tmp_path, PUMPS.replace('<basic-event name="valve"/>', '<gate name="valv"/>'), "typed-name")
    problem = page.inner_text(".problems__item")
    assert "line 5" in problem
    assert "valv is not defined" in problem
    assert page.input_value("[name=name]") == "typed-name"


def test_a_long_run_shows_progress_and_is_cancelled(open_page, tmp_path):
    page = open_page()
    import_file(page, tmp_path, wide_tree(400), "wide-by-browser")
    page.wait_for_selector("#progress:has-text('Computing')", timeout=60_000)
    page.wait_for_selector("#progress:has-text('·')")
    page.click("text=Cancel the run")
    page.wait_for_selector(".run-bar:has-text('cancelled')", timeout=30_000)
    assert page.locator("text=Run it again").is_visible()


def test_a_cut_set_lights_up(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, COOLING))
    page.click("#cut-sets tbody tr:nth-child(3) .light")
    page.wait_for_selector(".tag--lit")
    assert "Cut set 3 lit" in page.inner_text("#diagram")
    lit = set(page.eval_on_selector_all("#diagram .is-lit[data-name]", "all => all.map(one => one.dataset.name)"))
    assert {"cooling-lost", "coolant-gone", "coupling-leak", "isolation-valve"} <= lit
    assert "no-flow" not in lit


def test_branches_fold_unfold_and_focus_by_mouse(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, LOCK))
    assert "supply-out" in drawn(page)
    page.click("#diagram [data-name='no-gas'] [data-does='fold']")
    page.wait_for_selector("#diagram [data-name='no-gas'] [data-does='unfold']")
    assert "main-path" not in drawn(page)
    assert "shut=no-gas" in page.url
    page.click("#diagram [data-name='no-gas'] [data-does='unfold']")
    page.wait_for_selector("#diagram [data-name='main-path']")
    page.click("#diagram [data-name='gas-escapes'] [data-does='focus']")
    page.wait_for_selector(".trail li:nth-child(2)")
    assert drawn(page) == {"gas-escapes", "hatch-leaks", "vent-stuck-open", "seal-inner", "seal-outer"}
    page.click("#diagram >> text=Whole tree")
    page.wait_for_selector("#diagram [data-name='no-gas']")


def test_back_leads_to_the_sheet_before_and_a_link_within_the_page_reloads_nothing(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, LOCK))
    page.evaluate("window.isSamePage = true")
    page.click("a[href='#settings']")
    page.wait_for_timeout(200)
    assert page.evaluate("window.isSamePage")
    page.click("#diagram [data-name='gas-escapes'] [data-does='focus']")
    page.wait_for_selector(".trail li:nth-child(2)")
    page.go_back()
    page.wait_for_selector("#diagram [data-name='no-gas']")


def test_the_diagram_is_worked_by_keyboard_alone(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, LOCK))
    page.focus("[data-view]")
    start = view_box(page)
    page.keyboard.press("ArrowRight")
    assert view_box(page)[0] > start[0]
    page.keyboard.press("+")
    assert view_box(page)[2] < start[2]
    page.keyboard.press("0")
    fitted = view_box(page)
    whole = page.evaluate("document.querySelector('.ft-drawing').getBBox().width")
    assert fitted[2] >= whole
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.does === 'fold'"):
            break
    name = page.evaluate("document.activeElement.closest('[data-name]').dataset.name")
    page.keyboard.press("Enter")
    page.wait_for_selector(f"#diagram [data-name='{name}'] [data-does='unfold']")
    assert page.evaluate("document.activeElement.closest('[data-name]').dataset.name") == name


def test_the_diagram_is_dragged_and_zoomed_by_mouse(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, LOCK))
    page.locator("[data-view]").scroll_into_view_if_needed()
    box = page.locator("[data-view]").bounding_box()
    start = view_box(page)
    page.mouse.move(box["x"] + 20, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 120, box["y"] + 240, steps=4)
    page.mouse.up()
    moved = view_box(page)
    assert moved[0] < start[0]
    assert moved[1] < start[1]
    page.click("[data-zoom-by='1.25']")
    assert view_box(page)[2] == pytest.approx(moved[2] / 1.25, rel=1e-6)


def test_tables_sort_and_filter_in_place(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, COOLING))
    page.evaluate("window.isSamePage = true")
    page.click("#cut-sets th:has-text('Order') a")
    page.wait_for_selector("#cut-sets th[aria-sort='ascending']:has-text('Order')")
    orders = page.locator("#cut-sets tbody td[data-head='order']").all_inner_texts()
    assert orders == sorted(orders, key=int)
    assert len(set(orders)) > 1
    page.fill("#with", "pump")
    page.keyboard.press("Enter")
    page.wait_for_selector("#cut-sets tbody tr:nth-child(6)", state="detached")
    assert page.evaluate("window.isSamePage")
    assert "with=pump" in page.url
    page.click("#importance th:has-text('RAW') a")
    page.wait_for_selector("#importance th[aria-sort='descending']:has-text('RAW')")
    assert "Risk achievement worth" in page.get_attribute("#importance .importance__chart svg", "aria-label")


def test_settings_give_uncertainty_and_curves(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, COOLING))
    for name, value in {"samples": "500", "time_stop": "24", "time_step": "2"}.items():
        page.fill(f"[name={name}]", value)
    page.click("#settings button")
    page.wait_for_selector("#uncertainty svg", timeout=60_000)
    assert re.search(r"500 samples", page.inner_text("#uncertainty").replace("\u202f", ""))
    assert page.locator("#time svg").count() == 2


def test_bad_settings_are_told_where_they_are(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, COOLING))
    page.fill("[name=time_stop]", "24")
    page.fill("[name=time_step]", "")
    page.click("#settings button")
    page.wait_for_selector("#id_time_step_error")
    assert page.input_value("[name=time_stop]") == "24"


def test_everything_works_without_javascript(open_page, tree_path):
    page = open_page()
    url = tree_path(page, LOCK)
    plain = open_page(url, script=False)
    plain.click("#cut-sets th:has-text('Order') a")
    assert "cuts=order" in plain.url
    plain.click("#cut-sets tbody tr:nth-child(1) .light")
    assert "lit" in plain.inner_text("#diagram .tag--lit")
    plain.goto(url)
    plain.locator("#diagram [data-name='gas-escapes'] a[data-does='focus']").first.click()
    assert "focus=gas-escapes" in plain.url


def test_colours_follow_the_device_or_the_choice(open_page):
    page = open_page("/trees/", scheme="dark")
    ground = "getComputedStyle(document.body).backgroundColor"
    dark = page.evaluate(ground)
    page.click(".theme [value=light]")
    page.wait_for_selector(".theme [value=light][aria-pressed=true]")
    light = page.evaluate(ground)
    assert light != dark
    page.goto("/trees/import/")
    assert page.evaluate(ground) == light


def test_a_viewer_reads_and_starts_nothing(open_page, tree_path):
    page = open_page(who="viewer")
    page.goto(tree_path(page, LOCK))
    assert page.locator("text=New revision").count() == 0
    assert page.locator("#settings form").count() == 0
