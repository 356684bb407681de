"""Branches for paper: as much of the tree under one gate as a sheet holds, placed without help of a program."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection
from dataclasses import dataclass

from faulttree.drawing.folding import Item, hang_on_racks
from faulttree.drawing.graph import Child, FaultGraph
from faulttree.drawing.layout import (
    GAP,
    ITEM_HEIGHT,
    LEVEL,
    RACK_HEAD,
    ROW,
    Place,
    rack_height,
    width_of,
)

RAIL_FROM = 3
"""Inputs of a sort that hang on a rail: fewer than on a screen, as paper is dearer."""
HEAD = 16.0
"""Above a branch, for the words that tell from where it is referred to."""


@dataclass(frozen=True, slots=True)
class Paper:
    """What one sheet holds, in the units of the drawing."""

    width: float
    height: float

    def rows(self, level: int) -> int:
        """Rows of a rail that hangs at this level of a branch."""
        return int((self.height - HEAD - level * LEVEL - RACK_HEAD) // ROW)


@dataclass(frozen=True, slots=True)
class Block:
    """A branch, or a part of a very wide one, with the places of its items counted from its own corner.

    part, parts : which share of the inputs of the gate at its top it shows, from 1
    unfolded : gates whose inputs are in it
    """

    top: Item
    items: tuple[Item, ...]
    places: dict[str, Place]
    width: float
    height: float
    part: int
    parts: int
    unfolded: frozenset[str]

    def transfers(self) -> list[str]:
        """Return the gates that it refers to, in the order in which they stand in it."""
        names: list[str] = []
        for item in self.items:
            names += [item.node.name] if item.role == "transfer" else []
            names += [row.node.name for row in item.rows if row.role == "transfer"]
        return list(dict.fromkeys(names))


def make_blocks(graph: FaultGraph, name: str, paper: Paper, drawn: Collection[str], key: str) -> list[Block]:
    """Return the branch under a gate, unfolded level by level while it fits; several blocks for a very wide gate.

    drawn : gates that are unfolded on another sheet already
    Raises ValueError where the paper holds no gate with two inputs.
    """
    inputs = graph[name].children
    for least in (RAIL_FROM, 2):
        maker = _Maker(graph, paper, least, key)
        block = maker.make(name, inputs, frozenset((name,)))
        if maker.fits(block):
            return [maker.unfold(block, inputs, drawn)]
    return _split(_Maker(graph, paper, 1, key), name, inputs)


def _split(maker: _Maker, name: str, inputs: tuple[Child, ...]) -> list[Block]:
    """Return the fewest blocks that share the inputs evenly and fit."""
    for parts in range(2, len(inputs) + 1):
        length = -(-len(inputs) // parts)
        shares = [inputs[start : start + length] for start in range(0, len(inputs), length)]
        blocks = [
            maker.make(name, share, frozenset((name,)), number, len(shares)) for number, share in enumerate(shares, 1)
        ]
        if all(maker.fits(block) for block in blocks):
            return blocks
    raise ValueError(f"The paper of {maker.paper.width:g} by {maker.paper.height:g} units is too small for {name}.")


class _Maker:
    def __init__(self, graph: FaultGraph, paper: Paper, least: int, key: str) -> None:
        self.graph = graph
        self.paper = paper
        self.least = least
        self.key = key

    def fits(self, block: Block) -> bool:
        return block.width <= self.paper.width and block.height <= self.paper.height

    def unfold(self, block: Block, inputs: tuple[Child, ...], drawn: Collection[str]) -> Block:
        """Return the block with every gate unfolded that fits, the upper ones first."""
        name = block.top.node.name
        queue, tried = deque(block.transfers()), {name, *drawn}
        while queue:
            gate = queue.popleft()
            if gate in tried:
                continue
            tried.add(gate)
            larger = self.make(name, inputs, block.unfolded | {gate})
            if self.fits(larger):
                block = larger
                queue.extend(child.name for child in self.graph[gate].children if self.graph[child.name].is_gate)
        return block

    def make(
        self, name: str, inputs: tuple[Child, ...], unfolded: frozenset[str], part: int = 1, parts: int = 1
    ) -> Block:
        """Return the block in which these gates show their inputs."""
        top = Item(f"{self.key}p{part}n0", self.graph[name], "gate", 0)
        queue, left, count = deque([top]), set(unfolded) - {name}, 1
        while queue:
            item = queue.popleft()
            for child in inputs if item is top else item.node.children:
                node = self.graph[child.name]
                role = "gate" if child.name in left else "transfer" if node.is_gate else "event"
                left.discard(child.name)
                below = Item(f"{self.key}p{part}n{count}", node, role, item.level + 1, child.negated)
                item.children.append(below)
                count += 1
                if role == "gate":
                    queue.append(below)
        items = hang_on_racks(top, least=self.least, most=self.paper.rows)
        places, width = _place(top)
        height = HEAD + max(places[item.key].y + _height(item) for item in items)
        return Block(top, items, places, width, height, part, parts, unfolded)


def _height(item: Item) -> float:
    return rack_height(item) if item.role == "rack" else ITEM_HEIGHT


def _place(top: Item) -> tuple[dict[str, Place], float]:
    """Return places and whole width: every branch has a strip of its own, a gate stands over its inputs' middle.

    Recursion is as deep as a sheet has levels.
    """
    places: dict[str, Place] = {}

    def put(item: Item, left: float) -> float:
        own, y = width_of(item), item.level * LEVEL
        if not item.children:
            places[item.key] = Place(left + own / 2, y)
            return own
        inner = _strip(item.children, put, left)
        middle = (places[item.children[0].key].x + places[item.children[-1].key].x) / 2
        places[item.key] = Place(middle, y)
        return max(inner, own)

    width = put(top, 0.0)
    return places, width


def _strip(children: list[Item], put: Callable[[Item, float], float], left: float) -> float:
    """Put items side by side; returns how wide they are together."""
    at = left
    for child in children:
        at += put(child, at) + GAP
    return at - GAP - left
