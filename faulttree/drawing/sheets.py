"""A tree on sheets of paper: branches that fit, several small ones to a sheet, joined by numbered transfers."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

from faulttree.drawing.blocks import HEAD, Block, Paper, make_blocks
from faulttree.drawing.folding import Item, Sheet
from faulttree.drawing.graph import FaultGraph
from faulttree.drawing.layout import Place, Plan
from faulttree.drawing.svg import Marks

APART = 40.0
"""Between two branches on one sheet."""
OPEN_SHEETS = 8
"""A small branch goes onto one of the last so many sheets that has room."""
LONGEST_MARK, LONGEST_INNER_MARK = 26, 14
"""Letters above the gate at the top of a branch, and above one inside; sheets that find no room are in the index."""


@dataclass(frozen=True, slots=True)
class PaperSheet:
    """One sheet: its number, from 1, what is drawn and where, and the blocks it is made of."""

    number: int
    sheet: Sheet
    plan: Plan
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Book:
    """All sheets of a tree.

    homes : sheet on which a gate's inputs are, the first one for a gate in parts
    numbers : number of the transfer to a gate, for each gate that is referred to from elsewhere
    sources : sheets that refer to it, in order
    """

    sheets: tuple[PaperSheet, ...]
    homes: dict[str, int]
    numbers: dict[str, int]
    sources: dict[str, tuple[int, ...]]

    def marks(self, sheet: PaperSheet) -> Marks:
        """Return what stands at the transfers of a sheet and above the gates that others refer to."""
        onward = {
            name: f"T{self.numbers[name]} to sheet {self.homes[name]}"
            for block in sheet.blocks
            for name in block.transfers()
        }
        tops = {block.top.node.name for block in sheet.blocks}
        here = [name for name in self.numbers if self.homes[name] == sheet.number]
        back = {name: self._say_sources(name, is_top=name in tops) for name in here}
        parts = {
            block.top.node.name: f"part {block.part} of {block.parts}" for block in sheet.blocks if block.parts > 1
        }
        return Marks(onward, back, parts)

    def _say_sources(self, name: str, *, is_top: bool) -> str:
        number, sheets = self.numbers[name], self.sources[name]
        listed = ", ".join(map(str, sheets))
        if not is_top:
            words = f"T{number} from {listed}"
            return words if len(words) <= LONGEST_INNER_MARK else f"T{number}: index"
        words = f"T{number} from sheet{'s' if len(sheets) > 1 else ''} {listed}"
        return words if len(words) <= LONGEST_MARK else f"T{number} from {len(sheets)} sheets: index"


@dataclass
class _Shelf:
    top: float
    height: float
    width: float


@dataclass
class _OpenSheet:
    """A sheet that is being filled, row by row."""

    paper: Paper
    shelves: list[_Shelf] = field(default_factory=list)
    blocks: list[tuple[Block, float, float]] = field(default_factory=list)

    def take(self, block: Block) -> bool:
        """Put a block where it fits; tell whether it did."""
        for shelf in self.shelves:
            room = self.paper.height - shelf.top if shelf is self.shelves[-1] else shelf.height
            at = shelf.width + APART
            if at + block.width <= self.paper.width and block.height <= room:
                self.blocks.append((block, at, shelf.top))
                shelf.width, shelf.height = at + block.width, max(shelf.height, block.height)
                return True
        top = self.shelves[-1].top + self.shelves[-1].height + APART if self.shelves else 0.0
        if top + block.height > self.paper.height or block.width > self.paper.width:
            return False
        self.shelves.append(_Shelf(top, block.height, block.width))
        self.blocks.append((block, 0.0, top))
        return True

    def close(self, number: int) -> PaperSheet:
        """Return the sheet with all places in its own units."""
        places: dict[str, Place] = {}
        items: list[Item] = []
        for block, left, top in self.blocks:
            items += block.items
            places |= {key: Place(left + place.x, top + HEAD + place.y) for key, place in block.places.items()}
        width = max(left + block.width for block, left, _ in self.blocks)
        height = max(top + block.height for block, _, top in self.blocks)
        sheet = Sheet(self.blocks[0][0].top, tuple(items), is_full=False)
        return PaperSheet(number, sheet, Plan(places, width, height), tuple(block for block, _, _ in self.blocks))


def split_into_sheets(graph: FaultGraph, top: str, paper: Paper) -> Book:
    """Return the tree under a gate on sheets, in the order in which they are referred to.

    Every gate's inputs are drawn exactly once; where it is used again, a transfer stands. Raises ValueError for
    paper that is too small for any drawing.
    """
    homes: dict[str, int] = {}
    open_sheets: list[_OpenSheet] = []
    queue, seen = deque([top]), {top}
    count = 0
    while queue:
        name = queue.popleft()
        if name in homes:
            continue
        for block in make_blocks(graph, name, paper, homes, f"b{count}"):
            number = _put(block, open_sheets, paper)
            for gate in block.unfolded:
                homes.setdefault(gate, number)
            new = [gate for gate in block.transfers() if gate not in seen]
            seen.update(new)
            queue.extend(new)
        count += 1
    sheets = tuple(sheet.close(number) for number, sheet in enumerate(open_sheets, 1))
    return _refer(sheets, homes)


def _put(block: Block, sheets: list[_OpenSheet], paper: Paper) -> int:
    """Put a block on a sheet and return the number of that; parts of a gate have sheets of their own."""
    if block.parts == 1:
        for number in range(max(0, len(sheets) - OPEN_SHEETS), len(sheets)):
            if not any(other.parts > 1 for other, _, _ in sheets[number].blocks) and sheets[number].take(block):
                return number + 1
    sheets.append(_OpenSheet(paper))
    sheets[-1].take(block)
    return len(sheets)


def _refer(sheets: tuple[PaperSheet, ...], homes: dict[str, int]) -> Book:
    sources: dict[str, list[int]] = {}
    for sheet in sheets:
        for name in dict.fromkeys(name for block in sheet.blocks for name in block.transfers()):
            sources.setdefault(name, []).append(sheet.number)
    order = sorted(sources, key=lambda name: (homes[name], sources[name][0]))
    numbers = {name: number for number, name in enumerate(order, 1)}
    return Book(sheets, homes, numbers, {name: tuple(sources[name]) for name in order})
