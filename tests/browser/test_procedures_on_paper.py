"""Procedures on paper: a card that is too long, and pages that say what they belong to."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys

import pytest

from tests.config.processes import ROOT

pytestmark = pytest.mark.browser

LOAD = """
import json, django; django.setup()
from anomalies.cards import CARD_COLUMNS, CARD_LINES, count_card_lines
from tests.anomalies import procedures
sentence = "Close the valve beside the pump and report its place to Control now."[:CARD_COLUMNS - 3]
def make(lines):
    title = "Coolant leaks inside the airlock while the hatch is open"
    card = procedures.make_procedure(kind="card", title=title)
    revision = procedures.make_drafted(card, *[sentence] * lines)
    assert count_card_lines(revision.read_steps()) == lines
    return revision.get_absolute_url()
long = procedures.make_drafted(procedures.make_procedure(title="Long work"), *["Do it carefully. " * 20] * 25)
print(json.dumps({"over": make(CARD_LINES + 2), "long": long.get_absolute_url()}))
"""


@pytest.fixture(scope="module")
def printed(site, records):
    """Addresses of a card with two lines too many, and of a long procedure."""
    environment = site.environment | {"PYTHONPATH": str(ROOT)}
    made = subprocess.run(
        [sys.executable, "-c", LOAD], cwd=ROOT, env=environment, check=True, capture_output=True, text=True
    )
    return json.loads(made.stdout.splitlines()[-1])


MEASURE = """() => {
    document.querySelector(".card").style.inlineSize = "105mm";
    const steps = document.querySelector(".card__steps"), style = getComputedStyle(steps);
    return [steps.getBoundingClientRect().height / parseFloat(style.lineHeight), parseFloat(style.fontSize) * 0.75];
}"""


def test_a_full_card_prints_on_one_face(open_page, site, records):
    environment = site.environment | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "tests.browser.full_cards", "4"]
    made = subprocess.run(command, cwd=ROOT, env=environment, check=True, capture_output=True, text=True)
    addresses = json.loads(made.stdout.splitlines()[-1])
    assert len(addresses) == 4
    for address in addresses:
        page = open_page(f"{address}card/", who="writer")
        paper = page.pdf(prefer_css_page_size=True)
        assert len(re.findall(rb"/Type\s*/Page[^s]", paper)) == 1, address
        lines, points = page.evaluate(MEASURE)
        assert 30 <= round(lines) <= 34, address  # never more than were counted; a browser may break more cleverly
        assert round(points) == 8


def test_a_card_that_is_too_long_says_by_how_much_and_what_to_do(open_page, printed):
    page = open_page(printed["over"], who="writer", expect=("status of 409",))
    page.click(".offers >> text=Submit")
    page.wait_for_selector("#move .move")
    page.click(".move .button--main")
    page.wait_for_selector(".notice--alert")
    said = page.inner_text(".notice--alert >> nth=0")
    assert "It takes 36 lines; a card has 34: shorten it by 2." in said


def test_each_printed_page_says_what_it_belongs_to(open_page, printed, tmp_path):
    if not shutil.which("pdftotext"):
        pytest.skip("no pdftotext: apt-get install poppler-utils")
    page = open_page(printed["long"], who="writer")
    paper = tmp_path / "paper.pdf"
    page.pdf(path=str(paper), prefer_css_page_size=True)
    text = subprocess.run(["pdftotext", "-layout", str(paper), "-"], check=True, capture_output=True, text=True).stdout
    pages = text.split("\f")[:-1]
    name = printed["long"].split("/")[2]
    assert len(pages) > 1
    for number, words in enumerate(pages, 1):
        assert f"{name} revision 1" in words
        assert f"Page {number} of {len(pages)}" in words
