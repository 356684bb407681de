"""A tree as an outline: the same structure as the diagram, for reading and working line by line."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from config.kit.markup import element, escape_text
from faulttree.drawing import symbols
from faulttree.drawing.graph import Child, FaultGraph, Node


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
        """Return the items of all top events; deep trees are no trouble, as nothing calls itself."""
        markup: list[str] = []
        stack: list[str | tuple[Child, str, int]] = [(Child(top), "", 1) for top in reversed(self._graph.tops)]
        while stack:
            here = stack.pop()
            if isinstance(here, str):
                markup.append(here)
                continue
            child, under, level = here
            node = self._graph[child.name]
            again = node.is_gate and node.name in self._written
            self._written.add(node.name)
            inputs = () if again else node.children
            markup.append(self._open(node, child.negated, again, under, level, bool(inputs)))
            stack.append("</ul></li>" if inputs else "</li>")
            stack.extend((item, node.name, level + 1) for item in reversed(inputs))
        return "".join(markup)

    def _open(self, node: Node, negated: bool, again: bool, under: str, level: int, has_inputs: bool) -> str:
        """Return the start of an item, up to where its inputs follow."""
        whole = element(
            "li",
            self._row(node, negated, again, has_inputs),
            role="treeitem",
            class_="outline__item",
            tabindex="-1",
            aria_level=level,
            aria_selected="false",
            aria_expanded="true" if has_inputs else None,
            aria_label=self._say(node, negated, again),
            data_name=node.name,
            data_under=under or None,
        )
        start = whole.removesuffix("</li>")
        return f'{start}<ul role="group" class="outline__group">' if has_inputs else start

    def _row(self, node: Node, negated: bool, again: bool, has_inputs: bool) -> str:
        value = self._show(node.probability) if node.probability is not None else ""
        if node.kind == "house":
            value = "true" if node.value else "false"
        mark = self._marks.get(node.name, "")
        name = element("code", escape_text(node.name), class_="outline__name") if node.label else ""
        fold = {"class_": "outline__fold", "data_fold": ""} if has_inputs else {"class_": "outline__end"}
        parts = [
            element("span", "", **fold),
            element("span", escape_text(_sign(node)), class_=f"outline__sign outline__sign--{_family(node)}"),
            element("span", "not", class_="tag") if negated else "",
            element("span", escape_text(node.label or node.name), name, class_="outline__label"),
            element("span", "above", class_="tag") if again else "",
            element("span", escape_text(mark), class_="tag is-act") if mark else "",
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
