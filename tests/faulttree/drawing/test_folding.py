"""What is on a sheet."""

from __future__ import annotations

from faulttree.drawing.folding import MOST, ROOM, fold
from tests.faulttree.drawing.sample import SHARED, bushy, chain, gate, graph


def roles(sheet, name):
    """Roles in which a node is drawn, racked ones too."""
    drawn = [item.role for item in sheet.items if item.node.name == name and item.role != "rack"]
    return drawn + [row.role for item in sheet.items for row in item.rows if row.node.name == name]


def test_a_small_tree_is_drawn_whole_and_a_shared_branch_once():
    sheet = fold(SHARED, "top")
    assert sorted(roles(sheet, "shared")) == ["gate", "transfer"]
    assert roles(sheet, "a") == ["event"]
    assert "folded" not in {item.role for item in sheet.items}


def test_a_large_tree_is_folded_to_a_readable_size():
    sheet = fold(bushy(3, 7), "top")
    assert len(sheet.items) <= ROOM
    assert any(item.role == "folded" for item in sheet.items) or any(item.rows for item in sheet.items)
    assert not sheet.is_full


def test_gates_unfold_and_fold_as_asked():
    tree = bushy(3, 7)
    name = next(item.node.name for item in fold(tree, "top").items if item.role == "folded")
    assert roles(fold(tree, "top", opened=[name]), name) == ["gate"]
    assert roles(fold(tree, "top", opened=[name], shut=[name]), name) == ["folded"]
    assert roles(fold(SHARED, "top", shut=["left"]), "left") == ["folded"]


def test_the_branch_itself_is_always_unfolded():
    assert fold(SHARED, "shared", shut=["shared"]).root.role == "gate"


def test_a_sheet_that_is_full_says_so():
    tree = bushy(3, 8)
    sheet = fold(tree, "top", opened=list(tree.nodes))
    assert sheet.is_full
    assert len(sheet.items) <= MOST


def test_many_inputs_hang_on_a_rail():
    tree = graph(gate("top", "or", "one", *"abcdefgh"), gate("one", "and", "x", "y"))
    sheet = fold(tree, "top")
    rack = next(item for item in sheet.items if item.role == "rack")
    assert [row.node.name for row in rack.rows] == list("abcdefgh")
    assert roles(sheet, "one") == ["gate"]


def test_only_the_lit_branches_unfold():
    lit = SHARED.occur_when(["a", "c"])
    sheet = fold(SHARED, "top", only=lit)
    assert roles(sheet, "left") == ["gate"]
    assert roles(sheet, "right") == ["folded"]


def test_every_key_is_once_on_a_sheet():
    for tree, top in ((SHARED, "top"), (bushy(5, 4), "top"), (chain(60), "g0")):
        keys = [item.key for item in fold(tree, top).items]
        assert len(keys) == len(set(keys))
