"""Tints and marks in the drawing, and the colours that tints are made of."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest
from lxml import etree

from faulttree.drawing.folding import fold
from faulttree.drawing.layout import plan
from faulttree.drawing.shades import STEPS, Shade
from faulttree.drawing.standalone import paper_style
from faulttree.drawing.svg import Drawing, draw
from tests.faulttree.drawing.sample import gate, graph

TOKENS = Path(__file__).parents[3] / "config" / "static" / "css" / "tokens.css"
TREE = graph(gate("top", "or", "side", "a", "b"), gate("side", "and", "c", "d", "e", "f"))


def picture(**extras):
    """The drawing of a box, two events and a rack, parsed."""
    sheet = fold(TREE, "top")
    return etree.fromstring(draw(Drawing(TREE, sheet, plan(sheet), None, (), str, **extras), "A tree"))


def element(drawn, name):
    """The box or row of an element."""
    (found,) = drawn.xpath(f'//*[@data-name="{name}"]')
    return found


def tip(drawn, name):
    """What is said of an element."""
    return element(drawn, name).findtext("{*}title")


def test_a_box_and_a_row_are_tinted_and_say_their_value():
    drawn = picture(shades={"a": Shade(5, "Probability 0.1"), "c": Shade(1, "Probability 1e-9")})
    assert "is-shade-5" in element(drawn, "a").get("class").split()
    assert "ft-row" in element(drawn, "c").get("class")
    assert "is-shade-1" in element(drawn, "c").get("class").split()
    assert tip(drawn, "c").endswith("Probability 1e-9.")
    assert "is-shade" not in element(drawn, "b").get("class")


@pytest.mark.parametrize("name", ["top", "a", "c"])
@pytest.mark.parametrize(
    ("kind", "words"), [("new", "New in this revision."), ("changed", "Changed in this revision.")]
)
def test_a_change_is_a_sign_and_words_and_not_colour_alone(name, kind, words):
    drawn = picture(changes={name: kind})
    here = element(drawn, name)
    assert tip(drawn, name).endswith(words)
    assert here.xpath(f'.//*[contains(@class, "ft-change-sign--{kind}")]')
    assert len(drawn.xpath('//*[contains(@class, "ft-change-sign")]')) == 1


def test_new_and_changed_have_signs_of_their_own():
    paths = {
        kind: picture(changes={"a": kind}).xpath('//*[contains(@class, "ft-change-sign")]')[0].get("d")
        for kind in ("new", "changed")
    }
    assert paths["new"] != paths["changed"]


def test_a_drawing_without_either_is_as_it_was():
    assert b"is-shade" not in etree.tostring(picture())
    assert b"ft-change" not in etree.tostring(picture())


def test_files_know_every_tint():
    for step in range(1, STEPS + 1):
        assert f".is-shade-{step} .ft-box" in paper_style()


def read_colours(name: str) -> tuple[str, str]:
    """A token by day and by night."""
    found = re.search(rf"--{name}: light-dark\((#\w+), (#\w+)\);", TOKENS.read_text())
    assert found, name
    return found[1], found[2]


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, two: str) -> float:
    """Contrast ratio. Source: WCAG 2.2, definition of contrast ratio."""
    light, dark = sorted((luminance(one), luminance(two)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_ink_can_be_read_on_every_tint(scheme):
    """Source: WCAG 2.2, success criterion 1.4.3: 4.5 to 1."""
    ink = read_colours("ink")[scheme]
    for step in range(1, STEPS + 1):
        assert contrast(ink, read_colours(f"shade-{step}")[scheme]) >= 4.5, step


@pytest.mark.parametrize(("scheme", "rises"), [(0, False), (1, True)], ids=["light", "dark"])
def test_tints_are_told_apart_by_lightness(scheme, rises):
    """Each step away from the ground; the least factor is common practice, no source."""
    steps = [luminance(read_colours(f"shade-{step}")[scheme]) for step in range(1, STEPS + 1)]
    assert (steps == sorted(steps)) if rises else (steps == sorted(steps, reverse=True))
    for one, two in pairwise(steps):
        assert (max(one, two) + 0.05) / (min(one, two) + 0.05) >= 1.15
