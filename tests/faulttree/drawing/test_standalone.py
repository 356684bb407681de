"""A drawing as a file of its own: well-formed, complete, and nothing in it that leads or reaches outside."""

from __future__ import annotations

import re

import pytest
from lxml import etree

from config.kit.colours import fix_colours, read_light_tokens
from config.kit.figures import write_plain
from faulttree.drawing.folding import count_folded, fold
from faulttree.drawing.layout import plan
from faulttree.drawing.standalone import draw_alone, paper_style
from faulttree.drawing.svg import Drawing, Links, draw
from tests.faulttree.drawing.sample import random_tree

SVG = "{http://www.w3.org/2000/svg}"
CAUTION = "Decide with care & thought."


def make_drawing(graph=None, links=None, **asked):
    graph = graph or random_tree(3)
    sheet = fold(graph, graph.tops[0], **asked)
    lit = graph.occur_when([node.name for node in graph.nodes.values() if not node.is_gate][:3])
    return Drawing(graph, sheet, plan(sheet), links, lit, write_plain)


def parse(drawing):
    return etree.fromstring(draw_alone(drawing, name="A <tree>", facts=["Revision 1", "Exact."], caution=CAUTION))


def words(root):
    return [text.text for text in root.iter(f"{SVG}text")]


def test_all_that_the_page_shows_is_in_the_file_and_no_link():
    links = Links(focus=lambda name: "?a", unfold=lambda name: "?b", fold=lambda name: "?c")
    page, file = etree.fromstring(draw(make_drawing(links=links), "x")), parse(make_drawing())
    assert list(page.iter(f"{SVG}a"))
    assert words(file)[: len(words(page))] == words(page)
    for shape in ("path", "rect", "circle", "polygon"):
        assert len(list(file.iter(f"{SVG}{shape}"))) >= len(list(page.iter(f"{SVG}{shape}")))


def test_nothing_leads_or_reaches_outside():
    root = parse(make_drawing())
    assert not {etree.QName(element).localname for element in root.iter()} & {"a", "image", "script", "use", "link"}
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not [name for name in attributes if "href" in name or name.startswith("on")]
    assert "url(" not in paper_style()
    assert "@import" not in paper_style()
    assert "var(" not in paper_style()


def test_every_class_of_the_drawing_has_a_rule():
    used = {name for element in parse(make_drawing()).iter() for name in element.get("class", "").split()}
    ruled = set(re.findall(r"\.([\w-]+)", paper_style()))
    bare = {"ft-lines", "ft-item", "ft-item--gate", "ft-item--event", "ft-item--folded", "ft-item--transfer"}
    bare |= {"ft-item--rack", "ft-row", "ft-row--event", "ft-row--folded", "ft-row--transfer"}
    assert used - bare <= ruled


def test_colours_are_those_of_the_light_scheme_and_an_unknown_one_is_an_error():
    assert fix_colours("fill: var(--ink);") == f"fill: {read_light_tokens()['ink']};"
    assert re.fullmatch(r"#[0-9a-f]{6}", read_light_tokens()["ink"])
    assert "light-dark" not in "".join(read_light_tokens().values())
    with pytest.raises(KeyError):
        fix_colours("fill: var(--no-such-colour);")


def test_facts_and_caution_stand_under_the_drawing_and_inside_the_picture():
    root = parse(make_drawing())
    said = words(root)
    assert said[-3:] == ["Revision 1", "Exact.", CAUTION]
    left, top, width, height = map(float, root.get("viewBox").split())
    for text in root.iter(f"{SVG}text"):
        assert left <= float(text.get("x")) <= left + width
        assert top <= float(text.get("y")) <= top + height


def test_folded_gates_are_counted():
    whole, folded = make_drawing(room=900), make_drawing(room=0)
    assert count_folded(whole.sheet) == 0
    assert count_folded(folded.sheet) > 0
