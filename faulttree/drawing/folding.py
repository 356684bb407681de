"""Which part of a tree is on the sheet: one branch, unfolded as far as it stays readable."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from faulttree.drawing.graph import FaultGraph, Node

ROOM = 46
"""Boxes that a sheet unfolds to by itself; people unfold further."""

MOST = 900
"""Boxes on one sheet at most, whatever is asked for."""

RACK_FROM = 4
"""From so many events (or folded gates) on, a gate's inputs hang on one rail under it instead of side by side."""


@dataclass(frozen=True, slots=True)
class Row:
    """One input on a rail; `role` as for an item."""

    node: Node
    negated: bool
    role: str


@dataclass(slots=True)
class Item:
    """One drawn box.

    role : "gate", "event", "folded" (a gate whose inputs aren't drawn), "transfer" (drawn elsewhere on the
        sheet), or "rack" (several inputs of one gate on a rail; `rows` holds them)
    """

    key: str
    node: Node
    role: str
    level: int
    negated: bool = False
    under: str = ""  # the gate it is an input of
    rows: tuple[Row, ...] = ()
    children: list[Item] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is drawn: the item tree, and whether the most boxes of a sheet kept something back."""

    root: Item
    items: tuple[Item, ...]
    is_full: bool


def fold(
    graph: FaultGraph,
    root: str,
    *,
    opened: Collection[str] = (),
    shut: Collection[str] = (),
    only: Collection[str] | None = None,
    room: int = ROOM,
    most: int = MOST,
) -> Sheet:
    """Return the sheet of the branch under `root`.

    Gates unfold level by level while there is room; `opened` ones always, `shut` ones never. With `only`,
    gates of that set unfold and no others but `opened`. A gate used twice is unfolded once; elsewhere a
    transfer points to it.
    """
    maker = _Maker(graph)
    top = maker.make(graph[root], 0, False)
    queue, unfolded, boxes, is_full = deque([top]), {root}, 1, False
    while queue:
        item = queue.popleft()
        name = item.node.name
        if item.role == "folded" and name in unfolded and name != root:
            item.role = "transfer"
            continue
        size = _size(item.node, graph)
        wanted = name in opened or (name in only if only is not None else boxes + size <= room)
        wanted = item is top or (wanted and name not in shut)
        is_over = boxes + size > most and item is not top
        is_full = is_full or (wanted and is_over)
        if not wanted or is_over:
            continue
        item.role = "gate"
        unfolded.add(name)
        item.children = maker.inputs(item)
        boxes += size
        queue.extend(child for child in item.children if child.role == "folded")
    maker.point_to(unfolded)
    return Sheet(top, hang_on_racks(top), is_full)


def count_folded(sheet: Sheet) -> int:
    """Return how many gates of a sheet don't show their inputs, nor have them elsewhere on it."""
    folded = {item.node.name for item in sheet.items if item.role == "folded"}
    return len(folded | {row.node.name for item in sheet.items for row in item.rows if row.role == "folded"})


class _Maker:
    def __init__(self, graph: FaultGraph) -> None:
        self.graph = graph
        self.items: list[Item] = []

    def make(self, node: Node, level: int, negated: bool, under: str = "") -> Item:
        item = Item(f"n{len(self.items)}", node, "folded" if node.is_gate else "event", level, negated, under)
        self.items.append(item)
        return item

    def point_to(self, unfolded: Collection[str]) -> None:
        """Make transfers of folded gates that are unfolded elsewhere."""
        for item in self.items:
            if item.role == "folded" and item.node.name in unfolded:
                item.role = "transfer"

    def inputs(self, parent: Item) -> list[Item]:
        """Make the items under a gate, in the author's order."""
        below = parent.level + 1
        return [
            self.make(self.graph[child.name], below, child.negated, parent.node.name) for child in parent.node.children
        ]


def hang_on_racks(top: Item, *, least: int = RACK_FROM, most: Callable[[int], int] | None = None) -> tuple[Item, ...]:
    """Put inputs of a gate that end here on its rails, from `least` of a sort on; return the items, from the top.

    most : rows of one rail by its level, all of them where None; more rows make more rails side by side
    """
    items, queue = [], deque([top])
    while queue:
        item = queue.popleft()
        items.append(item)
        for roles in (("event",), ("folded", "transfer")):
            ends = [child for child in item.children if child.role in roles]
            if len(ends) >= least:
                racks = _make_racks(item, ends, roles[0], most(item.level + 1) if most else len(ends))
                item.children = [*(child for child in item.children if child.role not in roles), *racks]
        queue.extend(item.children)
    return tuple(items)


def _make_racks(item: Item, ends: list[Item], role: str, most: int) -> list[Item]:
    """Return rails of about equal length."""
    columns = -(-len(ends) // max(most, 1))
    length = -(-len(ends) // columns)
    racks = []
    for number in range(columns):
        rack = Item(f"{item.key}{role}{number}", item.node, "rack", item.level + 1)
        part = ends[number * length : (number + 1) * length]
        rack.rows = tuple(Row(child.node, child.negated, child.role) for child in part)
        racks.append(rack)
    return [rack for rack in racks if rack.rows]


def _size(node: Node, graph: FaultGraph) -> int:
    leaves = sum(not graph[child.name].is_gate for child in node.children)
    return len(node.children) - leaves + (leaves if leaves < RACK_FROM else 1)
