"""The page that explains the JSON API: it works under our policy, which the page's fixture watches."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = pytest.mark.browser

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def docs(open_page):
    """Opens the page and waits for its list."""

    def start(**how):
        page = open_page("/api/v1/docs/", **how)
        page.wait_for_selector(".opblock-tag", timeout=60_000)
        return page

    return start


def open_operation(page, tag: str, name: str) -> None:
    """Unfold an operation, ready to be tried."""
    page.click(f"#operations-tag-{tag}")
    page.click(f"#operations-{tag}-{name} .opblock-summary-control")
    page.click(f"#operations-{tag}-{name} .try-out__btn")


def test_it_lists_every_tag_and_needs_nothing_from_elsewhere(docs, site):
    asked = []
    page = docs()
    page.on("request", lambda request: asked.append(request.url))
    page.reload()
    page.wait_for_selector(".opblock-tag")
    tags = page.evaluate(
        "fetch('/api/v1/schema/?format=json').then(it => it.json()).then(it => Object.values(it.paths)"
        ".flatMap(it => Object.values(it)).flatMap(it => it.tags ?? []))"
    )
    assert page.locator(".opblock-tag").count() == len(set(tags)) > 10
    assert [url for url in asked if not url.startswith((site.address, "data:"))] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_it_fits_the_screen(docs, width, scheme):
    page = docs(width=width, scheme=scheme)
    page.click("#operations-tag-anomalies")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_what_it_calls_is_answered(docs):
    page = docs(expect=("status of 400",))
    open_operation(page, "anomalies", "anomalies_list")
    page.click("#operations-anomalies-anomalies_list .execute")
    page.wait_for_selector("#operations-anomalies-anomalies_list .live-responses-table .response-col_status")
    said = page.inner_text("#operations-anomalies-anomalies_list .live-responses-table")
    assert "200" in said
    assert '"results"' in said


def test_what_it_sends_passes_the_check_against_forgery(docs):
    page = docs(expect=("status of 400",))
    open_operation(page, "anomalies", "anomalies_create")
    page.fill("#operations-anomalies-anomalies_create textarea", "{}")
    page.click("#operations-anomalies-anomalies_create .execute")
    page.wait_for_selector("#operations-anomalies-anomalies_create .live-responses-table .response-col_status")
    assert '"bad_input"' in page.inner_text("#operations-anomalies-anomalies_create .live-responses-table")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_read_it(docs, scheme):
    page = docs(scheme=scheme)
    page.click("#operations-tag-anomalies")
    for name in ("anomalies_list", "anomalies_create", "anomalies_partial_update"):
        page.click(f"#operations-anomalies-{name} .opblock-summary-control")
        page.wait_for_selector(f"#operations-anomalies-{name} .responses-wrapper")
    found = Axe().run(page, options=RULES).response["violations"]
    assert [f"{rule['id']}: {node['target']}" for rule in found for node in rule["nodes"]] == []
