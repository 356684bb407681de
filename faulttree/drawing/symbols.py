"""Symbols of IEC 61025 (rectangular gates), drawn around a middle line; y grows downward.

Gates: "&" and, ">=1" or, ">=k" k-of-n, "=1" exclusive or, "1" with a negation circle not. Circle: basic
event; house: event that is set; triangle: transfer. Source: IEC 61025, annex with symbols (from memory).
"""

from __future__ import annotations

from config.kit.markup import element, text
from faulttree.drawing.graph import Node

GATE_WIDTH = 40.0
GATE_HEIGHT = 26.0
DOT = 3.6
RADIUS = 12.0

_SIGNS = {
    "and": "&",
    "or": "≥1",
    "not": "1",
    "xor": "=1",
    "iff": "=",
    "nand": "&",
    "nor": "≥1",
    "imply": "⇒",
    "pass": "1",
}
_NEGATED = frozenset(("not", "nand", "nor"))


def sign_of(node: Node) -> str:
    """Return what stands in the gate's box."""
    if node.kind == "atleast":
        return f"≥{node.low}"
    if node.kind == "cardinality":
        high = len(node.children) if node.high is None else node.high
        return f"={node.low}" if node.low == high else f"{node.low}…{high}"
    if node.kind == "xor" and len(node.children) > 2:
        return "2k+1"  # odd parity, as the exchange format reads an exclusive or of many
    return _SIGNS[node.kind]


def name_of(node: Node) -> str:
    """Return the gate in words."""
    words = {
        "and": "AND",
        "or": "OR",
        "not": "NOT",
        "xor": "exclusive OR" if len(node.children) == 2 else "exclusive OR (odd number)",
        "iff": "equivalence",
        "nand": "NAND",
        "nor": "NOR",
        "imply": "implication",
        "pass": "pass-through",
        "atleast": f"at least {node.low} of {len(node.children)}",
        "cardinality": f"from {node.low} to {node.high} of {len(node.children)}",
    }
    return words[node.kind]


def gate(node: Node, x: float, y: float) -> str:
    """Return a gate's box with its sign, its top edge at y."""
    parts = [
        element("rect", x=x - GATE_WIDTH / 2, y=y, width=GATE_WIDTH, height=GATE_HEIGHT, rx=1.5, class_="ft-symbol"),
        text(sign_of(node), x=x, y=y + 17.5, text_anchor="middle", class_="ft-sign"),
    ]
    if node.kind in _NEGATED:
        parts.append(negation(x, y))
    return "".join(parts)


def negation(x: float, y: float) -> str:
    """Return the negation circle on a line at (x, y)."""
    return element("circle", cx=x, cy=y - DOT, r=DOT, class_="ft-negation")


def event(node: Node, x: float, y: float, radius: float = RADIUS) -> str:
    """Return the symbol of a basic event, house event or constant, its top at y."""
    if node.kind == "basic":
        return element("circle", cx=x, cy=y + radius, r=radius, class_="ft-symbol ft-symbol--event")
    if node.kind == "transfer":
        return transfer(x, y) if radius >= RADIUS else small(node, "transfer", x, y + radius)
    r = radius
    points = [(x, y), (x + r, y + 0.8 * r), (x + r, y + 2 * r), (x - r, y + 2 * r), (x - r, y + 0.8 * r)]
    house = element(
        "polygon",
        points=" ".join(f"{px:.1f},{py:.1f}" for px, py in points),
        class_="ft-symbol ft-symbol--house" + (" is-on" if node.value else ""),
    )
    if radius < RADIUS:
        return house
    return house + text("1" if node.value else "0", x=x, y=y + 1.7 * r, text_anchor="middle", class_="ft-sign")


def transfer(x: float, y: float) -> str:
    """Return the triangle of a branch that is drawn elsewhere, its tip at y."""
    points = f"{x:.1f},{y:.1f} {x + 17:.1f},{y + 26:.1f} {x - 17:.1f},{y + 26:.1f}"
    return element("polygon", points=points, class_="ft-symbol ft-symbol--transfer")


def folded(node: Node, x: float, y: float) -> str:
    """Return a gate whose inputs aren't drawn: its box, and a plus below."""
    cy = y + GATE_HEIGHT + 10
    return gate(node, x, y) + "".join(
        (
            element("path", d=f"M{x:.1f} {y + GATE_HEIGHT:.1f}V{cy - 7:.1f}", class_="ft-line"),
            element("circle", cx=x, cy=cy, r=7.0, class_="ft-unfold"),
            element("path", d=f"M{x - 3.5:.1f} {cy:.1f}h7M{x:.1f} {cy - 3.5:.1f}v7", class_="ft-unfold-plus"),
        )
    )


def small(node: Node, role: str, x: float, middle: float) -> str:
    """Return the symbol of a row, in the space of two letters."""
    if role == "event":
        return event(node, x, middle - 6, 6.0)
    if role == "transfer":
        points = f"{x:.1f},{middle - 6:.1f} {x + 8:.1f},{middle + 6:.1f} {x - 8:.1f},{middle + 6:.1f}"
        return element("polygon", points=points, class_="ft-symbol ft-symbol--transfer")
    box = element("rect", x=x - 9, y=middle - 7, width=18.0, height=14.0, rx=1.0, class_="ft-symbol")
    return box + text(sign_of(node), x=x, y=middle + 3.5, text_anchor="middle", class_="ft-sign ft-sign--small")


def change(kind: str, x: float, y: float) -> str:
    """Return the mark of what is new (a plus) or changed (a triangle) around a point."""
    disc = element("circle", cx=x, cy=y, r=7.0, class_=f"ft-change ft-change--{kind}")
    sign = "h6m-3 -3v6" if kind == "new" else "l3 -5.5l3 5.5z"
    start = f"M{x - 3:.1f} {y if kind == 'new' else y + 2.5:.1f}"
    return disc + element("path", d=start + sign, class_=f"ft-change-sign ft-change-sign--{kind}")
