"""The sheet of a page: which branch is drawn, how far it is unfolded, what is lit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

from django.http import QueryDict
from django.utils.safestring import SafeString, mark_safe

from config.kit.figures import write_plain
from faulttree.drawing.folding import MOST, ROOM, Sheet, fold
from faulttree.drawing.graph import FaultGraph, Node
from faulttree.drawing.layout import plan
from faulttree.drawing.shades import Change, Shade
from faulttree.drawing.svg import Drawing, Links, draw

ANCHOR = "#diagram"
STATE = ("focus", "open", "shut", "cut", "find", "room")
EXTRAS = ("shade", "changes")
"""Parameters that say more of the same sheet."""


@dataclass(frozen=True, slots=True)
class Step:
    """One gate on the way from the top to the branch that is shown."""

    node: Node
    address: str


@dataclass(frozen=True)
class SheetView:
    """What the diagram's template needs; `more` leads to a sheet with more unfolded, empty where all of it is."""

    svg: SafeString
    root: Node
    path: tuple[Step, ...]
    gates: int
    events: int
    drawn: int
    is_full: bool
    lit_number: int | None
    lit_events: tuple[str, ...]
    find: str
    found: tuple[Step, ...]
    found_count: int
    more: str
    reset: str
    clear_lit: str


class Listing(Protocol):
    """Whatever lists cut sets that a sheet may light up."""

    @property
    def listed(self) -> list[dict[str, Any]]:
        """The cut sets, each with its `events`."""


@dataclass(frozen=True, slots=True)
class Extras:
    """What a drawing says beside the tree: tints of events, marks of changes."""

    shades: Mapping[str, Shade] = field(default_factory=dict)
    changes: Mapping[str, Change] = field(default_factory=dict)


def read_drawing(
    graph: FaultGraph,
    top: str,
    answer: Listing | None,
    params: QueryDict,
    links: Links | None = None,
    extras: Extras = Extras(),
) -> Drawing:
    """Return the drawing that the query asks for; what it names wrongly is ignored."""
    root = params.get("focus", top)
    root = root if root in graph and graph[root].is_gate else top
    events = find_lit(answer, params)[1]
    lit = graph.occur_when(events) if events else frozenset()
    sheet = fold(
        graph,
        root,
        opened=frozenset(params.getlist("open")),
        shut=frozenset(params.getlist("shut")),
        only=lit if lit else None,
        room=_room(params),
    )
    shown = Drawing(graph, sheet, plan(sheet), links, lit, write_plain)
    return replace(shown, shades=extras.shades, changes=extras.changes)


def read_sheet(
    graph: FaultGraph, top: str, answer: Listing | None, params: QueryDict, extras: Extras = Extras()
) -> SheetView:
    """Return the sheet that the query asks for, with what the page says of it."""
    links = _links(params)
    drawing = read_drawing(graph, top, answer, params, links, extras)
    sheet, lit, root, room = drawing.sheet, drawing.lit, drawing.sheet.root.node.name, _room(params)
    number, events = find_lit(answer, params)
    gates, event_count = graph.count_below(root)
    find = params.get("find", "").strip()
    found, found_count = graph.find(find) if find else ([], 0)
    return SheetView(
        svg=mark_safe(draw(drawing, f"Fault tree of {graph[root].label or root}")),  # noqa: S308  escaped by markup.py
        root=graph[root],
        path=tuple(Step(graph[name], links.focus(name)) for name in graph.path_to(root, top)[:-1]),
        gates=gates + 1,
        events=event_count,
        drawn=len(sheet.items),
        is_full=sheet.is_full,
        lit_number=number,
        lit_events=events,
        find=find,
        found=tuple(Step(node, _address(params, _reach(graph, top, node))) for node in found),
        found_count=found_count,
        more=_address(params, _widen(room)) if room < MOST and not lit and _has_folded(sheet) else "",
        reset=_address(params, lambda query: _drop(query, *STATE)),
        clear_lit=_address(params, lambda query: _drop(query, "cut")),
    )


def _links(params: QueryDict) -> Links:
    return Links(
        focus=lambda name: _address(params, _show(name)),
        unfold=lambda name: _address(params, _unfold(name)),
        fold=lambda name: _address(params, _fold(name)),
    )


def find_lit(answer: Listing | None, params: QueryDict) -> tuple[int | None, tuple[str, ...]]:
    """Return number and events of the cut set that the query lights up."""
    wanted = _whole(params.get("cut", ""))
    if answer is None or wanted is None or not 1 <= wanted <= len(answer.listed):
        return None, ()
    return wanted, tuple(answer.listed[wanted - 1]["events"])


def _whole(text: str) -> int | None:
    """Return a whole number of a reasonable length."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 8 else None


def _room(params: QueryDict) -> int:
    wanted = _whole(params.get("room", ""))
    return ROOM if wanted is None else min(max(wanted, ROOM), MOST)


def _has_folded(sheet: Sheet) -> bool:
    return any(item.role == "folded" or any(row.role == "folded" for row in item.rows) for item in sheet.items)


def _widen(room: int) -> Callable[[QueryDict], None]:
    def change(query: QueryDict) -> None:
        query["room"] = str(min(3 * room, MOST))

    return change


def _address(params: QueryDict, change: Callable[[QueryDict], None]) -> str:
    query = params.copy()
    change(query)
    return f"?{query.urlencode()}{ANCHOR}"


def _drop(query: QueryDict, *names: str) -> None:
    for name in names:
        query.pop(name, None)


def _show(name: str) -> Callable[[QueryDict], None]:
    def change(query: QueryDict) -> None:
        _drop(query, "open", "shut", "find", "room")
        query["focus"] = name

    return change


def _unfold(name: str) -> Callable[[QueryDict], None]:
    def change(query: QueryDict) -> None:
        query.setlist("shut", [other for other in query.getlist("shut") if other != name])
        query.appendlist("open", name)

    return change


def _fold(name: str) -> Callable[[QueryDict], None]:
    def change(query: QueryDict) -> None:
        query.setlist("open", [other for other in query.getlist("open") if other != name])
        query.appendlist("shut", name)

    return change


def _reach(graph: FaultGraph, top: str, node: Node) -> Callable[[QueryDict], None]:
    """Show the gate itself, or the gate above an event."""
    path = graph.path_to(node.name, top)
    return _show(node.name if node.is_gate or len(path) < 2 else path[-2])
