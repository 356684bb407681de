"""A tree as an outline: the same structure as the diagram, for reading and working line by line."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from config.kit.markup import element, escape_text
from faulttree.drawing import symbols
from faulttree.drawing.graph import FaultGraph, Node


def write_outline(graph: FaultGraph, show_probability: Callable[[float], str], marks: Mapping[str, str]) -> str:
    """Return list items of the ARIA tree pattern, one for every place where an element is used.

    A gate that is used more than once is written out where it comes first; elsewhere it only names itself.
    marks : name -> a word that stands behind the element, as “new”
    """
    return _Writer(graph, show_probability, marks).write()


class _Writer:
    def __init__(self, graph: FaultGraph, show_probability: Callable[[float], str], marks: Mapping[str, str]) -> None:
        self._graph = graph
        self._show = show_probability
        self._marks = marks
        self._written: set[str] = set()

    def write(self) -> str:
        """Return the items of all top events."""
        return "".join(self._item(self._graph[top], "", False, 1) for top in self._graph.tops)

    def _item(self, node: Node, under: str, negated: bool, level: int) -> str:
        again = node.is_gate and node.name in self._written
        self._written.add(node.name)
        children = () if again else node.children
        inner = "".join(self._item(self._graph[child.name], node.name, child.negated, level + 1) for child in children)
        group = element("ul", inner, role="group", class_="outline__group") if inner else ""
        return element(
            "li",
            self._row(node, negated, again, bool(inner)),
            group,
            role="treeitem",
            class_="outline__item",
            tabindex="-1",
            aria_level=level,
            aria_selected="false",
            aria_expanded="true" if inner else None,
            aria_label=self._say(node, negated, again),
            data_name=node.name,
            data_under=under or None,
        )

    def _row(self, node: Node, negated: bool, again: bool, has_inner: bool) -> str:
        value = self._show(node.probability) if node.probability is not None else ""
        if node.kind == "house":
            value = "true" if node.value else "false"
        parts = [
            element("span", "", class_="outline__fold", data_fold="")
            if has_inner
            else element("span", " ", class_="outline__end"),
            element("span", escape_text(_sign(node)), class_=f"outline__sign outline__sign--{_family(node)}"),
            element("span", "not", class_="tag") if negated else "",
            element("span", escape_text(node.label or node.name), name, class_="outline__label"),
            element("span", "above", class_="tag") if again else "",
            element("span", escape_text(self._marks.get(node.name, "")), class_="tag is-act")
            if self._marks.get(node.name)
            else "",
            element("span", escape_text(value), class_="outline__value") if value else "",
        ]
        return element("span", *parts, class_="outline__row", aria_hidden="true")

    def _say(self, node: Node, negated: bool, again: bool) -> str:
        words = f"{node.label}, {node.name}" if node.label else node.name
        if node.is_gate:
            count = len(node.children)
            what = f"{symbols.name_of(node)} gate, {count} input{'' if count == 1 else 's'}"
        elif node.kind == "basic":
            what = f"basic event, {self._show(node.probability) if node.probability is not None else 'no probability'}"
        elif node.kind == "transfer":
            what = "transfer to another tree"
        else:
            what = f"house event, {'true' if node.value else 'false'}"
        said = [words, what]
        if negated:
            said.append("negated")
        if again:
            said.append("written out above")
        if node.name in self._marks:
            said.append(self._marks[node.name])
        return "; ".join(said)


def _sign(node: Node) -> str:
    if node.is_gate:
        return symbols.sign_of(node)
    return {"basic": "○", "house": "⌂", "transfer": "△"}.get(node.kind, "·")


def _family(node: Node) -> str:
    return "gate" if node.is_gate else "event"
