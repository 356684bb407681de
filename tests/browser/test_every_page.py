"""Every page: fits its screen, is fit for people with other senses, and breaks no policy."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = pytest.mark.browser

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
PAGES = ("login", "trees", "import", "refused", "tree", "lit")


def go(page, name: str, tree_path, tmp_path) -> None:
    """Bring a page to one of the states that are looked at."""
    if name in ("tree", "lit"):
        page.goto(tree_path(page, "Cooling is lost while somebody tests") + ("?cut=3" if name == "lit" else ""))
    elif name == "refused":
        path = tmp_path / "bad.xml"
        path.write_text('<opsa-mef><define-fault-tree name="x"><define-gate name="1"/></define-fault-tree></opsa-mef>')
        page.goto("/trees/import/")
        page.set_input_files("[name=file]", path)
        page.click("text=Import >> nth=-1")
        page.wait_for_selector(".problems")
    elif name == "login":
        page.context.clear_cookies()
        page.goto("/login/")
    else:
        page.goto({"trees": "/trees/", "import": "/trees/import/"}[name])


def violations(page) -> list[str]:
    """What axe finds: rule and element."""
    found = Axe().run(page, options=RULES).response["violations"]
    return [f"{rule['id']}: {node['target']}" for rule in found for node in rule["nodes"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing_and_the_page_fits(open_page, tree_path, tmp_path, name, width, scheme):
    page = open_page(width=width, scheme=scheme)
    go(page, name, tree_path, tmp_path)
    assert violations(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_axe_would_find_a_fault(open_page):
    page = open_page("/trees/import/")
    page.evaluate(
        """() => {
            document.querySelector("label[for=id_name]").remove();
            document.querySelector("h1").style.color = "rgb(225, 225, 220)";
        }"""
    )
    found = " ".join(violations(page))
    assert "label" in found
    assert "color-contrast" in found


def test_the_skip_link_leads_past_the_frame(open_page):
    page = open_page("/trees/")
    page.keyboard.press("Tab")
    assert page.inner_text(":focus") == "Skip to the content"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "content"


def test_focus_is_always_visible(open_page):
    page = open_page("/trees/import/")
    unmarked = []
    for _ in range(14):
        page.keyboard.press("Tab")
        style = page.evaluate(
            "(({outlineStyle, outlineWidth}) => [outlineStyle, outlineWidth])(getComputedStyle(document.activeElement))"
        )
        if style[0] == "none" or style[1] == "0px":
            unmarked.append(page.evaluate("document.activeElement.outerHTML.slice(0, 80)"))
    assert unmarked == []


def test_a_tree_prints_on_paper(open_page, tree_path):
    page = open_page()
    page.goto(tree_path(page, "Lock stays open while somebody tests"))
    page.emulate_media(media="print")
    assert not page.locator(".masthead").is_visible()
    assert page.locator("#answer .caution").is_visible()
    assert page.pdf(format="A4").startswith(b"%PDF")
