"""The drawing itself: placed without overlap, safe under a strict policy, readable by machines."""

from __future__ import annotations

import itertools

import pytest
from lxml import etree

from faulttree.drawing import layout
from faulttree.drawing.folding import fold
from faulttree.drawing.graph import Child, FaultGraph, Node
from faulttree.drawing.layout import LEVEL, plan, rack_height, width_of
from faulttree.drawing.svg import Drawing, Links, draw
from tests.faulttree.drawing.sample import SHARED, bushy, event, gate, graph, random_tree

LINKS = Links(lambda name: f"?focus={name}", lambda name: f"?open={name}", lambda name: f"?shut={name}")
SVG = {"s": "http://www.w3.org/2000/svg"}
EVIL = '"><script>alert(1)</script>&<b style="color:red">'


def picture(tree: FaultGraph, top: str = "top", lit=frozenset()) -> etree._Element:
    """The drawing, parsed."""
    sheet = fold(tree, top)
    return etree.fromstring(draw(Drawing(tree, sheet, plan(sheet), LINKS, lit, str), "A tree"))


@pytest.fixture(params=["binary", "webassembly"])
def either_graphviz(request, monkeypatch):
    """Graphviz by its binary and by its WebAssembly build."""
    if request.param == "webassembly":
        monkeypatch.setattr(layout, "_find_dot", lambda: None)
    elif layout._find_dot() is None:
        pytest.skip("Graphviz has no binary here")


@pytest.mark.parametrize("tree", [SHARED, bushy(3, 4), bushy(9, 2)], ids=["shared", "bushy", "racks"])
def test_nothing_overlaps(tree, either_graphviz):
    sheet = fold(tree, "top", room=400)
    places = plan(sheet)
    boxes = [
        (place.x - width_of(item) / 2, place.x + width_of(item) / 2, place.y, place.y + height)
        for item in sheet.items
        for place, height in [
            (places.places[item.key], rack_height(item) if item.role == "rack" else layout.ITEM_HEIGHT)
        ]
    ]
    for one, two in itertools.combinations(boxes, 2):
        apart = one[1] <= two[0] + 1 or two[1] <= one[0] + 1 or one[3] <= two[2] or two[3] <= one[2]
        assert apart, (one, two)
    assert all(left >= -1 and right <= places.width + 1 for left, right, _, _ in boxes)


@pytest.mark.parametrize("seed", range(12))
def test_lines_of_two_gates_never_run_into_each_other(seed, either_graphviz):
    sheet = fold(random_tree(seed), "top", room=200)
    places = plan(sheet).places
    spans: dict[int, list[tuple[float, float]]] = {}
    for item in sheet.items:
        if item.children:
            xs = [places[item.key].x, *(places[child.key].x for child in item.children)]
            spans.setdefault(item.level, []).append((min(xs), max(xs)))
    for level in spans.values():
        for left, right in itertools.pairwise(sorted(level)):
            assert left[1] < right[0], level


def test_inputs_stand_below_their_gate_in_the_authors_order():
    sheet = fold(SHARED, "top")
    places = plan(sheet).places
    for item in sheet.items:
        below = [places[child.key] for child in item.children]
        assert all(place.y == places[item.key].y + LEVEL for place in below)
        assert [place.x for place in below] == sorted(place.x for place in below)


def test_no_text_of_a_person_is_ever_markup():
    tree = graph(gate("top", "or", EVIL, "b"), event(EVIL, EVIL))
    drawn = picture(tree)
    assert drawn.xpath("//s:script|//s:b", namespaces=SVG) == []
    assert any("<script>" in "".join(text.itertext()) for text in drawn.iterfind(".//s:title", SVG))


def test_a_strict_content_policy_holds():
    for node in picture(bushy(3, 4), lit=frozenset(["top"])).iter():
        assert node.tag.split("}")[-1] in {"svg", "g", "path", "rect", "circle", "polygon", "text", "title", "a"}
        assert not any(name == "style" or name.startswith("on") for name in node.attrib)


@pytest.mark.parametrize(
    ("kind", "bounds", "sign"),
    [
        ("and", {}, "&"),
        ("or", {}, "≥1"),
        ("xor", {}, "=1"),
        ("atleast", {"low": 2}, "≥2"),
        ("cardinality", {"low": 1, "high": 1}, "=1"),
    ],
)
def test_gates_carry_their_standard_sign(kind, bounds, sign):
    signs = picture(graph(gate("top", kind, "a", "b", **bounds))).xpath(
        "//s:text[@class='ft-sign']/text()", namespaces=SVG
    )
    assert signs == [sign]


def test_a_negation_is_drawn_as_a_circle():
    assert (
        picture(graph(gate("top", "and", "a", "!b"))).xpath("count(//s:circle[@class='ft-negation'])", namespaces=SVG)
        == 1
    )
    assert (
        picture(graph(gate("top", "and", "a", "b"))).xpath("count(//s:circle[@class='ft-negation'])", namespaces=SVG)
        == 0
    )


def test_house_events_and_transfers_have_their_symbols():
    house = Node("switch", "house", "", value=True)
    tree = FaultGraph({**SHARED.nodes, "switch": house}, ("top",))
    tree.nodes["right"] = Node("right", "and", "", (Child("switch"), Child("shared")))
    drawn = picture(tree)
    assert len(drawn.xpath("//s:polygon[contains(@class,'ft-symbol--house is-on')]", namespaces=SVG)) == 1
    assert len(drawn.xpath("//s:polygon[contains(@class,'ft-symbol--transfer')]", namespaces=SVG)) == 1


def test_a_cut_set_lights_its_events_and_every_gate_on_the_way():
    lit = SHARED.occur_when(["a", "c"])
    drawn = picture(SHARED, lit=lit)
    found = set(drawn.xpath("//s:g[contains(@class,'is-lit')]/@data-name", namespaces=SVG))
    assert found == {"a", "c", "left"}


def test_every_link_has_a_name_for_those_who_can_not_see():
    links = picture(bushy(3, 6)).findall(".//s:a", SVG)
    assert links
    assert all(link.get("aria-label") and link.get("href") for link in links)
