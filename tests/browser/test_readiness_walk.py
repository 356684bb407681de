"""Sortie 7 of the demonstration, from half met to a signed go; a closed anomaly is reopened, and it recovers."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.conftest import PASSWORD
from tests.browser.test_walk import fill, move

pytestmark = [pytest.mark.browser, pytest.mark.slow]

SPEAKERS = {"osk": "Outing lead", "thorne": "Suits", "corvo": "Airlock and loop", "engineer": "Safety"}


@pytest.fixture
def path(demo) -> str:
    """The page of its readiness."""
    _, places = demo
    return places["pages"]["readiness"][1]


def read_counts(page: Any) -> dict[str, int]:
    """How many items stand how, as the page shows it."""
    parts = page.locator(".ready-counts > div").all()
    return {part.locator("dt").inner_text().lower(): int(part.locator("dd").inner_text()) for part in parts}


def do_the_rest(enter: Any, path: str) -> None:
    """What is still to do is recorded by those who do it; what can't be done by then is accepted."""
    suits = enter("thorne", path)
    while suits.locator(".offers a", has_text="Record a fit check").count():
        suits.locator(".offers a", has_text="Record a fit check").click()
        suits.wait_for_selector(".move form")
        fill(suits, done_at=suits.evaluate("new Date().toISOString().slice(0, 16)"), note="Done, sheet 46.")
        with suits.expect_navigation():
            suits.locator(".move form .button--main").click()
        suits.wait_for_selector(".messages .notice")
    crew = enter("farrant", path)
    crew.locator("[id^='item-reading-'] a", has_text="Lio Farrant").click()
    crew.wait_for_selector("h1")
    move(crew, "I have read it")
    engineer = enter("engineer", path)
    before = read_counts(engineer)
    while engineer.locator(".offers a", has_text="Accept an open item").count():
        move(
            engineer,
            "Accept an open item",
            reason="Checked by eye before each mating, and the second loop is there.",
            severity="4 · Negligible",
            probability="E · Improbable",
            password=PASSWORD,
        )
    after = read_counts(engineer)
    assert after["open"] == 0
    assert after["accepted"] == before["accepted"] + before["open"]


def poll(enter: Any, path: str) -> None:
    """Every position says go."""
    for who, position in SPEAKERS.items():
        page = enter(who, path)
        row = page.locator("[id^='poll_position-']", has_text=position)
        row.locator(".offers a", has_text="Answer").click()
        page.wait_for_selector(".move form")
        fill(page, stand="Go", password=PASSWORD)
        with page.expect_navigation():
            page.locator(".move form .button--main").click()
        page.wait_for_selector(".messages .notice")
        assert "Go" in page.locator("[id^='poll_position-']", has_text=position).locator(".tag").inner_text()


def sign(page: Any, *, refused: str = "") -> None:
    """The lead signs go."""
    move(page, "Sign the verdict", refused=refused, verdict="Go", password=PASSWORD)


def test_sortie_7_is_signed_goes_stale_and_recovers(enter, path):
    lead = enter("osk", path)
    counts = read_counts(lead)
    assert counts["open"] > 5
    assert counts["met"] > 5
    sign(lead, refused="can't be go yet")
    assert "hasn't answered in this round" in lead.inner_text(".move")

    do_the_rest(enter, path)
    poll(enter, path)
    lead.goto(path)
    sign(lead)
    assert "Signed go, round 1" in lead.inner_text("main")
    lead.click("text=Round 1: Go")
    lead.wait_for_selector("text=SHA-256 of this document")

    # A closed anomaly on the same type of glove is open again: at once on the page, soon in the ledger.
    engineer = enter("engineer", "/log/A-2025-002/")
    move(engineer, "Reopen", reason="The new gloves show the same cut.")
    lead.goto(path)
    assert "Signed go, round 1: stale" in lead.inner_text("main")
    assert "New, open: A-2025-002" in lead.inner_text(".notice--alert")
    lead.wait_for_timeout(1000)
    told = enter("thorne", "/notices/")
    for _ in range(40):
        if "Readiness of Sortie 7" in told.inner_text("main"):
            break
        told.wait_for_timeout(500)
        told.reload()
    assert "what was signed is stale" in told.inner_text("main")

    # Closed again, it takes another round: nobody's go stands for what they haven't seen.
    engineer.goto("/log/A-2025-002/")
    move(
        engineer,
        "Close",
        within="#closure",
        closing_statement="The cut is of the same lot; the lot is used up.",
        password=PASSWORD,
    )
    lead.goto(path)
    assert "stale" in lead.inner_text("main")
    move(lead, "Begin another round", reason="A-2025-002 is closed again.")
    sign(lead, refused="can't be go yet")
    poll(enter, path)
    lead.goto(path)
    sign(lead)
    assert "Signed go, round 2" in lead.inner_text("main")
    assert lead.locator(".notice--alert").count() == 0
    phone = enter("viewer", path, 390)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert phone.locator(".offers a").count() == 0


# --- The brief: nothing in it without a record ---------------------------------------------------------------------

READ_LINES = """
[...document.querySelectorAll('.brief__line')].map(line => ({
  text: line.firstChild.textContent.trim(),
  links: [...line.querySelectorAll('.brief__from a')].map(link => link.getAttribute('href')),
}))
"""


def test_every_sentence_of_the_brief_leads_to_the_record_it_comes_from(enter, path):
    """The walk follows each link to its end: a page that is there, and on it the place that the address names."""
    page = enter("engineer", f"{path}brief/?whole=1")
    lines = page.evaluate(READ_LINES)
    assert len(lines) > 40
    assert [line["text"] for line in lines if not line["links"]] == []
    dead = {}
    for address in sorted({link for line in lines for link in line["links"]}):
        answer = page.request.get(address)
        if answer.status != 200:
            dead[address] = answer.status
    assert dead == {}


def test_a_link_of_the_brief_brings_the_record_into_sight(enter, path):
    """By hand for one record of each kind: the page that opens shows its text."""
    page = enter("engineer", f"{path}brief/?whole=1")
    lines, seen = page.evaluate(READ_LINES), set()
    for line in lines:
        for address in line["links"]:
            kind = address.split("/")[2]
            if kind in seen:
                continue
            seen.add(kind)
            page.goto(address)
            anchor = page.url.partition("#")[2]
            if anchor and "=" not in anchor:
                assert page.locator(f"[id='{anchor}']").count() == 1, (kind, page.url)
            assert page.locator("h1").count() == 1
    assert {"anomaly", "action", "activity", "cause"} <= seen
