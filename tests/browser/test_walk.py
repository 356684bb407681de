"""One anomaly from the phone to its closing, with six people who log in, and what they are refused on the way."""

from __future__ import annotations

import subprocess
import sys
from datetime import timedelta

import pytest
from django.utils import timezone

from tests.browser.conftest import PASSWORD
from tests.config.processes import ROOT

pytestmark = pytest.mark.browser

PEOPLE = """
import sys, django; django.setup()
from tests.anomalies import people
for role in ("recorder", "safety engineer", "board member", "action owner", "verifier"):
    person = people.make_person(role, "walk-" + role.replace(" ", "-"))
    person.first_name, person.last_name = "Walk", role.title()
    person.set_password(sys.argv[1]); person.save()
second = people.make_person("board member", "walk-second-member")
second.first_name, second.last_name = "Walk", "Second Member"
second.set_password(sys.argv[1]); second.save()
"""


@pytest.fixture
def walkers(site, records):
    """The people, logged in where they are asked for."""
    environment = site.environment | {"PYTHONPATH": str(ROOT)}
    subprocess.run([sys.executable, "-c", PEOPLE, PASSWORD], cwd=ROOT, env=environment, check=True)


def fill(page, **fields):
    """Fill fields by their names: text, choices by their label, boxes by a piece of theirs."""
    for name, value in fields.items():
        field = page.locator(f".move [name={name}], main form [name={name}]")
        kind = field.first.evaluate("each => each.tagName + ':' + (each.type || '')")
        if kind.startswith("SELECT"):
            field.first.select_option(label=value)
        elif kind in ("INPUT:checkbox", "INPUT:radio"):
            page.locator(f"label:has([name={name}])", has_text=value).first.locator("input").check(force=True)
        else:
            field.first.fill(value)


def move(page, label, *, within="main", refused="", **fields):
    """Make a move by its button: the form opens in place. `refused`: what the form then says."""
    page.locator(f"{within} .offers a", has_text=label).first.click()
    form = page.wait_for_selector(".move form")
    fill(page, **fields)
    button = form.query_selector(".button--main")
    if refused:
        button.click()
        page.wait_for_selector(f".move >> text={refused}")
    else:
        with page.expect_navigation():
            button.click()
        page.wait_for_selector(".messages .notice")


def test_from_the_phone_to_the_closing(open_page, walkers):
    expect = ("status of 409", "status of 403")

    def go(who, path, width=1440):
        return open_page(path, who=f"walk-{who}", width=width, expect=expect)

    # On the phone, in the airlock.
    phone = go("recorder", "/log/new/", 390)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    fill(
        phone,
        title="Glycol mist at the hatch",
        description="A fine mist, seen against the lamp.",
        place="Airlock hatch",
    )
    fill(phone, immediate_response="Valve V3 closed.")
    phone.click("main form .button--main")
    phone.wait_for_selector(".dossier__number")
    path = phone.url.removeprefix(phone.url.split("/log/")[0])
    assert "Awaiting screening" in phone.inner_text("main")
    assert not phone.locator(".offers a", has_text="Screen").count()
    move(
        phone,
        "Add statement",
        within="#evidence",
        stated_by="EV2",
        title="What EV2 saw",
        statement="Mist from the lower hinge.",
    )

    # The safety engineer screens it, seats the board, and holds a type of hardware back.
    engineer = go("safety-engineer", path)
    move(engineer, "Screen", cell="2C", rationale="Cooling may be lost.", lead="Walk Board Member")
    for member in ("Walk Board Member", "Walk Second Member"):
        move(engineer, "Seat a member", within="#findings", person=member)
    move(
        engineer, "Close", within="#closure", refused="can't be closed yet", closing_statement="So.", password=PASSWORD
    )
    assert "No root or proximate cause is confirmed" in engineer.inner_text(".move")

    # The board finds; one dissents; adopting too early names who is missing.
    board = go("board-member", path)
    move(
        board, "Propose a finding", within="#findings", statement="The hinge seal is cracked.", evidence="What EV2 saw"
    )
    finding = board.url
    move(board, "Say where you stand", stand="Concurs")
    move(board, "Adopt", refused="Walk Second Member hasn't said", password=PASSWORD)
    second = go("second-member", finding)
    move(second, "Say where you stand", stand="Dissents", text="Nobody has seen the crack.")
    board.goto(finding)
    move(board, "Adopt", refused="isn't your password", password="wrong")
    board.goto(finding)
    move(board, "Adopt", password=PASSWORD)
    board.goto(path)
    assert "Nobody has seen the crack." in board.inner_text("#findings")
    move(
        board,
        "State a cause",
        within="#causes",
        kind="Root cause",
        statement="The seal was past its life.",
        findings="F1",
    )
    move(board, "Confirm", rationale="It is cracked through.")
    board.goto(path)
    move(
        board,
        "Propose an action",
        within="#actions",
        kind="Training",
        title="Look at the hinge seal before each sortie",
        causes="past its life",
    )
    action = board.url
    move(
        board,
        "Commit",
        refused="",
        owner="Walk Action Owner",
        acceptance_criteria="All six have done it once.",
        due_on=(timezone.now() + timedelta(days=9)).date().isoformat(),
    )

    # The owner does it; neither the owner nor the engineer may verify; the verifier needs evidence.
    owner = go("action-owner", "/")
    assert "Look at the hinge seal" in owner.inner_text("main")
    owner.goto(action)
    assert not owner.locator(".offers a", has_text="Verify").count()
    move(owner, "Record as done", done_note="All six, in the suit bay.")
    assert not owner.locator(".offers a", has_text="Verify").count()
    verifier = go("verifier", action)
    move(verifier, "Verify", refused="No evidence shows", verification_note="Watched.", password=PASSWORD)
    verifier.goto(path)
    move(
        verifier,
        "Add statement",
        within="#evidence",
        stated_by="Verifier",
        title="Watched all six",
        statement="All did.",
    )
    verifier.goto(action)
    move(verifier, "Verify", verification_note="Watched all six.", evidence="Watched all six", password=PASSWORD)

    # Now nothing is open any more.
    engineer.goto(path)
    assert "Nothing is open" in engineer.inner_text("#closure")
    move(
        engineer,
        "Close",
        within="#closure",
        closing_statement="A seal past its life; looked at now.",
        password=PASSWORD,
    )
    engineer.goto(path)
    assert "Closed" in engineer.inner_text(".dossier__line")
    assert "A seal past its life" in engineer.inner_text("#closure")
    assert not engineer.locator("#findings .offers a").count()
    phone.goto(path)
    assert "Closed" in phone.inner_text(".dossier__line")
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
