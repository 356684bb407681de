"""Draws a sheet as SVG for a page with a strict content policy: classes and presentation attributes only."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

from config.kit.markup import element, text, title
from faulttree.drawing import symbols
from faulttree.drawing.folding import Item, Row, Sheet
from faulttree.drawing.graph import FaultGraph, Node
from faulttree.drawing.layout import BOX_WIDTH, RACK_HEAD, RACK_WIDTH, ROW, Place, Plan
from faulttree.drawing.shades import CHANGE_WORDS, Change, Shade
from faulttree.drawing.wrapping import fit, wrap

BOX_HEIGHT = 46.0
STEM = 7.0
MARGIN = 14.0
LETTER = 6.9
"""Width of a letter of the box text, on the safe side for the system fonts of the page."""


@dataclass(frozen=True, slots=True)
class Links:
    """Addresses of what can be done with a gate: shown as its own sheet, unfolded, folded."""

    focus: Callable[[str], str]
    unfold: Callable[[str], str]
    fold: Callable[[str], str]


@dataclass(frozen=True, slots=True)
class Marks:
    """What stands at gates whose drawing goes on elsewhere, by name.

    onward : under a transfer, where its gate is drawn
    back : above a gate, from where transfers lead to it
    parts : beside a gate, which share of its inputs is drawn
    """

    onward: Mapping[str, str] = field(default_factory=dict)
    back: Mapping[str, str] = field(default_factory=dict)
    parts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Drawing:
    """Everything one picture needs; without links it is a picture alone.

    names_first : on rails a name stands where the label is too long, as nothing else tells which event it is
    shades : event -> its tint
    changes : gate or event -> whether it is new or changed
    """

    graph: FaultGraph
    sheet: Sheet
    plan: Plan
    links: Links | None
    lit: Collection[str]
    show_probability: Callable[[float], str]
    marks: Marks = Marks()
    names_first: bool = False
    shades: Mapping[str, Shade] = field(default_factory=dict)
    changes: Mapping[str, Change] = field(default_factory=dict)


def draw(drawing: Drawing, label: str) -> str:
    """Return the SVG element of a page."""
    width, height = drawing.plan.width + 2 * MARGIN, drawing.plan.height + 2 * MARGIN
    return element(
        "svg",
        draw_content(drawing),
        xmlns="http://www.w3.org/2000/svg",
        class_=class_of(drawing),
        viewBox=f"{-MARGIN:g} {-MARGIN:g} {width:.1f} {height:.1f}",
        width=width,
        height=height,
        role="group",
        aria_label=label,
    )


def class_of(drawing: Drawing) -> str:
    """Return the class of the element around the content."""
    return "ft-drawing" + (" has-lit" if drawing.lit else "")


def draw_content(drawing: Drawing) -> str:
    """Return what is drawn; lines lie under boxes, lit lines over plain ones."""
    lines = [line for item in drawing.sheet.items for line in _lines(drawing, item)]
    boxes = "".join(_item(drawing, item) for item in drawing.sheet.items)
    lines.sort(key=lambda pair: pair[0])
    return element("g", "".join(line for _, line in lines), class_="ft-lines") + boxes


def _lines(drawing: Drawing, item: Item) -> list[tuple[bool, str]]:
    """Right-angled lines from a gate to its inputs."""
    if not item.children:
        return []
    here = drawing.plan.places[item.key]
    start = here.y + BOX_HEIGHT + STEM + symbols.GATE_HEIGHT
    found = []
    for child in item.children:
        there = drawing.plan.places[child.key]
        bus = there.y - 14.0
        is_lit = item.node.name in drawing.lit and _carries(drawing, child)
        path = f"M{here.x:.1f} {start:.1f}V{bus:.1f}H{there.x:.1f}V{there.y:.1f}"
        found.append((is_lit, element("path", d=path, class_="ft-line" + (" is-lit" if is_lit else ""))))
        if child.negated:
            found.append((True, symbols.negation(there.x, there.y)))
    return found


def _carries(drawing: Drawing, child: Item) -> bool:
    if child.role == "rack":
        return any((row.node.name in drawing.lit) != row.negated for row in child.rows)
    return (child.node.name in drawing.lit) != child.negated


def _item(drawing: Drawing, item: Item) -> str:
    place = drawing.plan.places[item.key]
    if item.role == "rack":
        return _rack(drawing, item, place)
    node, is_lit = item.node, item.node.name in drawing.lit
    x, y = place.x, place.y + BOX_HEIGHT + STEM
    parts = [
        element(
            "path", d=f"M{x:.1f} {place.y + BOX_HEIGHT:.1f}V{y:.1f}", class_="ft-line" + (" is-lit" if is_lit else "")
        )
    ]
    box = _box(node, place)
    if not node.is_gate:
        parts += [box, symbols.event(node, x, y)]
        if node.probability is not None:
            parts.append(
                text(drawing.show_probability(node.probability), x=x, y=y + 38, text_anchor="middle", class_="ft-value")
            )
    else:
        parts += _gate_links(drawing, item, box, x, y)
    parts.append(_change(drawing, node, place.x - BOX_WIDTH / 2, place.y))
    classes = (
        f"ft-item ft-item--{item.role}"
        + (" is-lit" if is_lit else "")
        + (" is-top" if item.level == 0 else "")
        + _shade(drawing, node)
    )
    return element(
        "g", title(_say(drawing, item)), *parts, class_=classes, data_name=node.name, data_under=item.under or None
    )


def _gate_links(drawing: Drawing, item: Item, box: str, x: float, y: float) -> list[str]:
    name = item.node.name
    alone = f"{_say(drawing, item)} Show this branch alone."
    if item.role == "transfer":
        onward = drawing.marks.onward.get(name)
        note = text(onward, x=x, y=y + 38, text_anchor="middle", class_="ft-mark") if onward else ""
        return [_link(drawing, "focus", name, alone, box + symbols.transfer(x, y) + note)]
    symbol = symbols.folded(item.node, x, y) if item.role == "folded" else symbols.gate(item.node, x, y)
    is_root = item.level == 0
    parts = [_back(drawing, item, x, y), box if is_root else _link(drawing, "focus", name, alone, box)]
    if item.role == "folded":
        gates, events = drawing.graph.count_below(name)
        note = text(f"{gates + events} below", x=x + 13, y=y + symbols.GATE_HEIGHT + 14, class_="ft-value")
        parts.append(
            _link(
                drawing,
                "unfold",
                name,
                f"Unfold {_call(item.node)}: {gates} gates and {events} events below.",
                symbol + note,
            )
        )
    elif is_root:
        parts.append(symbol)
    else:
        parts.append(_link(drawing, "fold", name, f"Fold {_call(item.node)}.", symbol))
    return parts


def _back(drawing: Drawing, item: Item, x: float, y: float) -> str:
    """From where transfers lead to a gate, above its box and beside the line that comes in; its part beside it."""
    words, part = drawing.marks.back.get(item.node.name), drawing.marks.parts.get(item.node.name)
    base = y - BOX_HEIGHT - STEM - 2
    beside = text(part, x=x + BOX_WIDTH / 2 + 8, y=base + 15, class_="ft-mark") if part else ""
    if not words:
        return beside
    left = x - BOX_WIDTH / 2 if item.level == 0 else x + 4
    triangle = f"{left + 5:.1f},{base - 9:.1f} {left + 10:.1f},{base:.1f} {left:.1f},{base:.1f}"
    tip = element("polygon", points=triangle, class_="ft-symbol ft-symbol--transfer")
    return beside + tip + text(words, x=left + 14, y=base - 1, class_="ft-mark")


def _link(drawing: Drawing, does: Literal["focus", "unfold", "fold"], name: str, label: str, content: str) -> str:
    """Return the content as a link that does something with a gate; as it is, in a picture alone."""
    if drawing.links is None:
        return content
    address = getattr(drawing.links, does)(name)
    return element("a", content, href=address, aria_label=label, class_="ft-link", data_does=does)


def _box(node: Node, place: Place) -> str:
    left = place.x - BOX_WIDTH / 2
    room = int((BOX_WIDTH - 14) / LETTER)
    rows = wrap(node.label or node.name, room, 2)
    parts = [element("rect", x=left, y=place.y, width=BOX_WIDTH, height=BOX_HEIGHT, rx=2.0, class_="ft-box")]
    first = place.y + (17.0 if node.label else 26.0) - (6.0 if not node.label and len(rows) > 1 else 0.0)
    if node.label:
        first = place.y + (15.0 if len(rows) > 1 else 20.0)
    parts += [
        text(row, x=place.x, y=first + 12.5 * number, text_anchor="middle", class_="ft-label")
        for number, row in enumerate(rows)
    ]
    if node.label:
        parts.append(
            text(
                fit(node.name, int((BOX_WIDTH - 14) / 5.9)),
                x=place.x,
                y=place.y + 40,
                text_anchor="middle",
                class_="ft-name",
            )
        )
    return "".join(parts)


def _rack(drawing: Drawing, item: Item, place: Place) -> str:
    """Inputs on a rail: a symbol, the label, a probability or how much lies below."""
    left = place.x - RACK_WIDTH / 2 + 8
    last = place.y + RACK_HEAD + ROW * (len(item.rows) - 0.5)
    rail = f"M{place.x:.1f} {place.y:.1f}V{place.y + 4:.1f}H{left:.1f}V{last:.1f}"
    rows = [element("path", d=rail, class_="ft-line")]
    for number, row in enumerate(item.rows):
        rows.append(_row(drawing, row, item.node.name, left, place.y + RACK_HEAD + ROW * (number + 0.5)))
    return element("g", *rows, class_="ft-item ft-item--rack")


def _row(drawing: Drawing, row: Row, under: str, left: float, middle: float) -> str:
    node, is_lit = row.node, row.node.name in drawing.lit
    middle_x, right = left + 22, left + RACK_WIDTH - 10
    value = _row_value(drawing, row)
    room = int((RACK_WIDTH - 46 - 6.2 * len(value)) / 5.9)
    line = element(
        "path", d=f"M{left:.1f} {middle:.1f}H{middle_x - 8:.1f}", class_="ft-line" + (" is-lit" if is_lit else "")
    )
    parts = [
        element(
            "rect",
            x=left + 12,
            y=middle - ROW / 2 + 1,
            width=RACK_WIDTH - 20,
            height=ROW - 2,
            rx=2.0,
            class_="ft-row-box",
        ),
        symbols.small(node, row.role, middle_x, middle),
        text(_row_words(drawing, node, room), x=middle_x + 13, y=middle + 4, class_="ft-row-label"),
        text(value, x=right, y=middle + 4, text_anchor="end", class_="ft-value") if value else "",
        element("circle", cx=middle_x - 12, cy=middle, r=3.0, class_="ft-negation") if row.negated else "",
    ]
    if row.role == "folded":
        gates, events = drawing.graph.count_below(node.name)
        label = f"Unfold {_call(node)}: {gates} gates and {events} events below."
        parts = [_link(drawing, "unfold", node.name, label, "".join(parts))]
    elif row.role == "transfer":
        label = f"{_describe(node, drawing)} Drawn elsewhere on this sheet. Show this branch alone."
        parts = [_link(drawing, "focus", node.name, label, "".join(parts))]
    parts.append(_change(drawing, node, left + RACK_WIDTH - 4, middle))
    classes = f"ft-row ft-row--{row.role}" + (" is-lit" if is_lit else "") + _shade(drawing, node)
    what = title(_describe(node, drawing))
    return element("g", what, line, *parts, class_=classes, data_name=node.name, data_under=under)


def _row_words(drawing: Drawing, node: Node, room: int) -> str:
    words = node.label or node.name
    return fit(node.name if drawing.names_first and len(words) > room else words, room)


def _row_value(drawing: Drawing, row: Row) -> str:
    if row.role == "transfer":
        return drawing.marks.onward.get(row.node.name, "")
    if row.role == "folded":
        return f"+{sum(drawing.graph.count_below(row.node.name))}"
    if row.node.probability is not None:
        return drawing.show_probability(row.node.probability)
    return ""


def _shade(drawing: Drawing, node: Node) -> str:
    shade = drawing.shades.get(node.name)
    return f" is-shade-{shade.step}" if shade else ""


def _change(drawing: Drawing, node: Node, x: float, y: float) -> str:
    kind = drawing.changes.get(node.name)
    return symbols.change(kind, x, y) if kind else ""


def _call(node: Node) -> str:
    return f"{node.label} ({node.name})" if node.label else node.name


def _describe(node: Node, drawing: Drawing) -> str:
    """Return what an element is, with what its tint and its mark say."""
    words, shade, change = _name(node, drawing), drawing.shades.get(node.name), drawing.changes.get(node.name)
    if shade:
        words += f" {shade.words}."
    return f"{words} {CHANGE_WORDS[change]}" if change else words


def _name(node: Node, drawing: Drawing) -> str:
    if node.kind == "basic":
        value = f", probability {drawing.show_probability(node.probability)}" if node.probability is not None else ""
        return f"{_call(node)}: basic event{value}."
    if node.kind == "transfer":
        return f"{_call(node)}: transfer to another tree."
    if not node.is_gate:
        kind = "house event" if node.kind == "house" else "constant"
        return f"{_call(node)}: {kind}, {'true' if node.value else 'false'}."
    return f"{_call(node)}: {symbols.name_of(node)} gate with {len(node.children)} inputs."


def _say(drawing: Drawing, item: Item) -> str:
    words = _describe(item.node, drawing)
    if item.role == "transfer":
        words += " Drawn elsewhere on this sheet."
    if item.node.name in drawing.lit:
        words += " Occurs in the chosen cut set."
    return words
