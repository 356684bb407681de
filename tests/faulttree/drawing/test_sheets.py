"""A tree on sheets of paper: nothing lost, nothing twice, all of it on the paper, and every reference is right."""

from __future__ import annotations

from collections import Counter

import pytest

from faulttree.bridge import read_graph, read_source
from faulttree.drawing.blocks import HEAD, Paper
from faulttree.drawing.layout import ITEM_HEIGHT, rack_height, width_of
from faulttree.drawing.sheets import split_into_sheets
from tests.faulttree.drawing.sample import SHARED, bushy, chain, event, gate, graph, random_tree
from tests.trees import needs_trees, trees_folder

A4 = Paper(1109.0, 723.0)


def shared_tree(seed: int, gates: int):
    """A tree some of whose gates are used again elsewhere."""
    tree = random_tree(seed, gates)
    names = sorted(name for name, node in tree.nodes.items() if node.is_gate and name != "top")
    order = {node.name: place for place, node in enumerate(tree.walk("top"))}
    nodes = dict(tree.nodes)
    for number, name in enumerate(names[::3]):
        later = [other for other in names if order[other] > order[name]]
        if later:
            node = nodes[name]
            extra = gate(name, "or", *(child.name for child in node.children), later[number % len(later)])
            nodes[name] = extra
    return graph(*nodes.values())


TREES = {
    "shared": SHARED,
    "one gate": graph(gate("top", "or", "a", "b")),
    "chain": chain(60),
    "bushy": bushy(4, 4),
    "wide": graph(gate("top", "or", *(f"e{i}" for i in range(500)))),
    "wide with gates": graph(
        gate("top", "or", *(f"g{i}" for i in range(150)), *(f"e{i}" for i in range(50))),
        *(gate(f"g{i}", "and", "x", "y") for i in range(150)),
    ),
    "a gate twice below one": graph(gate("top", "and", "g", "!g"), gate("g", "or", "a", "b")),
    "house": graph(gate("top", "and", "a", "b"), event("a", "A long label " * 9)),
    **{f"random {seed}": random_tree(seed, 120) for seed in range(6)},
    **{f"shared {seed}": shared_tree(seed, 90) for seed in range(6)},
}


def edges_drawn(book) -> Counter:
    """Every line from a gate to an input on all sheets, rails included."""
    drawn: Counter = Counter()
    for sheet in book.sheets:
        for item in sheet.sheet.items:
            for child in item.children:
                inputs = child.rows or (child,)
                drawn.update((item.node.name, each.node.name, each.negated) for each in inputs)
    return drawn


def edges_of(tree, top) -> Counter:
    return Counter((node.name, child.name, child.negated) for node in tree.walk(top) for child in node.children)


def check(tree, top, paper) -> None:
    book = split_into_sheets(tree, top, paper)
    assert [sheet.number for sheet in book.sheets] == list(range(1, len(book.sheets) + 1))
    assert edges_drawn(book) == edges_of(tree, top)
    check_places(book, paper)
    check_references(book, tree, top)


def check_places(book, paper) -> None:
    for sheet in book.sheets:
        assert sheet.plan.width <= paper.width
        assert sheet.plan.height <= paper.height
        keys = [item.key for item in sheet.sheet.items]
        assert len(keys) == len(set(keys)) == len(sheet.plan.places)
        boxes = []
        for item in sheet.sheet.items:
            place, half = sheet.plan.places[item.key], width_of(item) / 2
            height = rack_height(item) if item.role == "rack" else ITEM_HEIGHT
            box = (place.x - half, place.y, place.x + half, place.y + height)
            assert box[0] >= -0.01
            assert box[1] >= HEAD - 0.01
            assert box[2] <= sheet.plan.width + 0.01
            assert box[3] <= sheet.plan.height + 0.01
            boxes.append(box)
        for number, a in enumerate(boxes):
            for b in boxes[:number]:
                assert a[2] <= b[0] + 0.01 or b[2] <= a[0] + 0.01 or a[3] <= b[1] + 0.01 or b[3] <= a[1] + 0.01


def check_references(book, tree, top) -> None:
    """Every transfer leads to the sheet that draws its gate, which says from which sheets; none is idle."""
    used: dict[str, set[int]] = {}
    for sheet in book.sheets:
        marks = book.marks(sheet)
        for name in {name for block in sheet.blocks for name in block.transfers()}:
            used.setdefault(name, set()).add(sheet.number)
            home = book.sheets[book.homes[name] - 1]
            assert any(item.node.name == name and item.role == "gate" for item in home.sheet.items)
            assert marks.onward[name] == f"T{book.numbers[name]} to sheet {home.number}"
            assert book.marks(home).back[name].startswith(f"T{book.numbers[name]}")
    assert {name: set(sheets) for name, sheets in book.sources.items()} == used
    assert sorted(book.numbers.values()) == list(range(1, len(book.numbers) + 1))
    assert set(book.homes) == {node.name for node in tree.walk(top) if node.is_gate}


@pytest.mark.parametrize("paper", [A4, Paper(1037.0, 740.0), Paper(480.0, 400.0)], ids=["A4", "Letter", "small"])
@pytest.mark.parametrize("name", TREES)
def test_every_input_stands_on_one_sheet_that_fits_and_references_match(name, paper):
    tree = TREES[name]
    check(tree, tree.tops[0], paper)


@needs_trees
def test_benchmark_trees_are_split_right():
    folder = trees_folder()
    assert folder is not None
    for path in sorted(folder.glob("*.xml")):
        tree = read_graph(read_source(path.read_bytes()), None)
        check(tree, tree.tops[0], A4)


def test_a_branch_can_be_split_alone():
    check(SHARED, "left", A4)


def test_a_small_tree_takes_one_sheet_without_references():
    book = split_into_sheets(TREES["one gate"], "top", A4)
    assert (len(book.sheets), book.numbers) == (1, {})
    assert book.marks(book.sheets[0]).back == {}


def test_sheets_say_from_where_and_to_where():
    book = split_into_sheets(chain(8), "g0", A4)
    first, second = book.sheets[:2]
    assert list(book.marks(first).onward.values()) == ["T1 to sheet 2"]
    assert next(iter(book.marks(second).back.values())) == "T1 from sheet 1"


def test_the_parts_of_a_wide_gate_are_counted():
    book = split_into_sheets(TREES["wide"], "top", A4)
    said = [book.marks(sheet).parts["top"] for sheet in book.sheets]
    assert said == [f"part {number} of {len(said)}" for number in range(1, len(said) + 1)]
    assert len(said) > 3


def test_many_sources_lead_to_the_index():
    users = [gate(f"u{i}", "and", "common", *(f"x{i}-{j}" for j in range(60))) for i in range(12)]
    tree = graph(gate("top", "or", *(user.name for user in users)), gate("common", "or", "a", "b"), *users)
    book = split_into_sheets(tree, "top", A4)
    assert len(book.sources["common"]) > 6
    home = book.sheets[book.homes["common"] - 1]
    assert "index" in book.marks(home).back["common"]


def test_sheets_are_filled():
    book = split_into_sheets(bushy(3, 5), "top", A4)
    filled = sum(block.width * block.height for sheet in book.sheets for block in sheet.blocks)
    assert filled / (len(book.sheets) * A4.width * A4.height) > 0.4


def test_paper_that_holds_no_gate_is_refused():
    with pytest.raises(ValueError, match="too small"):
        split_into_sheets(SHARED, "top", Paper(100.0, 100.0))
