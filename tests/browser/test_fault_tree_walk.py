"""Three people take the demonstration's weeping disconnect from an open tree to a decision on every event.

Each logs in by themselves; they see the posterior move, choose two actions, and see the top event before and after.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.test_walk import fill, move

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PATH = "/log/A-2026-006/investigation/"
RULED_OUT = ("seal-cold-set", "seal-debris", "seal-past-life", "poppet-not-seated", "body-cracked")
CONFIRMED = ("collar-short", "click-not-heard", "no-look-at-collar", "score-leaks")
EVIDENCE = "Tear-down of quick disconnect Q31"


def read_posterior(page: Any, event: str) -> float:
    """The posterior of an event as the table shows it, in percent."""
    cell = page.locator(f"[id='event-{event}'] td[data-head=posterior]").inner_text()
    found = re.search(r"[\d.]+", cell)
    assert found, cell
    return float(found.group())


def judge(page: Any, events: tuple[str, ...], disposition: str, why: str) -> None:
    """Give events a disposition, by the tear-down."""
    page.locator(".offers a", has_text="Judge events").first.click()
    page.wait_for_selector(".move form")
    page.locator(f".move [name=disposition][value={disposition}]").check()
    for event in events:
        page.locator(f".move [name=events][value='{event}']").check()
    fill(page, rationale=why, evidence=EVIDENCE)
    with page.expect_navigation():
        page.locator(".move form .button--main").click()
    page.wait_for_selector(".messages .notice")


def test_from_an_open_tree_to_what_two_actions_buy(enter):
    # The safety engineer follows the ranking: the inspection comes out clean, and debris is less likely.
    engineer = enter("engineer", PATH)
    first = engineer.locator("#inspections tbody tr").first
    assert "microscope" in first.inner_text()
    before = read_posterior(engineer, "seal-debris")
    first.locator("a", has_text="Record the result").click()
    engineer.wait_for_selector(".move form")
    fill(engineer, found="It did not find it", note="A clean face, seen by two.")
    evidence = engineer.locator(".move [name=evidence] option", has_text=EVIDENCE).get_attribute("value")
    engineer.locator(".move [name=evidence]").select_option(evidence)
    with engineer.expect_navigation():
        engineer.locator(".move form .button--main").click()
    assert read_posterior(engineer, "seal-debris") < before / 3

    # A member of the board on the phone looks up how that figure comes about.
    phone = enter("anselm", PATH, 390)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    phone.locator("[id='event-seal-debris'] td[data-head=posterior] a").click()
    phone.wait_for_selector("h1")
    said = phone.inner_text("main")
    for words in ("Posterior probability of", "What went in", "Assumptions", "Source", "safety authority"):
        assert words in said, words

    # The lead rules out what the tear-down excludes; the last cut set is left.
    lead = enter("hollin", PATH)
    assert "of 11" in lead.inner_text(".standing")
    judge(lead, RULED_OUT, "ruled_out", "Measured and looked at on the bench: none of it.")
    for event in RULED_OUT:
        assert read_posterior(lead, event) == 0.0
    for event in CONFIRMED:
        assert read_posterior(lead, event) == 100.0
    lead.locator(".offers a", has_text="Conclude").first.click()
    lead.wait_for_selector(".move form")
    fill(lead, conclusion="Too early.")
    lead.locator(".move form .button--main").click()
    lead.wait_for_selector(".move >> text=has no disposition")

    # The other member confirms the rest and concludes.
    member = enter("anselm", PATH)
    judge(member, CONFIRMED, "confirmed", "Nothing else explains the score.")
    assert "0 of 11" in member.inner_text(".standing")
    move(member, "Conclude", conclusion="The ring scored the seal on a short collar; nothing else leaked.")
    assert "Concluded" in member.inner_text("main")

    # What do two actions buy? Before, each alone, both together, and the best set within a budget.
    engineer.goto("/log/A-2026-006/benefit/")
    rows = engineer.locator("[id^='benefit-CA-']")
    assert rows.count() >= 2
    said = engineer.inner_text("main")
    for words in ("Before", "With all together", "Less probable by", "safety authority"):
        assert words in said, words
    assert engineer.locator(".waterfall-figure svg").count() == 1
    choose(engineer)


def choose(page: Any) -> None:
    """Set a budget that pays for two actions, and read the top event before and after."""
    form = page.locator("form:has([name=within])")
    form.locator("[name=cost]").fill("4")
    form.locator("button").click()
    page.wait_for_selector("#choice >> text=Take 2 of 4")
    said = page.inner_text("#choice")
    assert "every set tried" in said
    figures = [page.locator(f"#choice dt:has-text('{head}') + dd").inner_text() for head in ("Top event", "With none")]
    after, before = (float(figure.replace("\u202f", "").replace("×10", "e").replace("−", "-")) for figure in figures)
    assert after < before / 2
