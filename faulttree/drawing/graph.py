"""A fault tree as it is drawn: plain nodes, free of the engine and of Django."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

GATES = frozenset(("and", "or", "not", "xor", "iff", "nand", "nor", "imply", "atleast", "cardinality", "pass"))


@dataclass(frozen=True, slots=True)
class Child:
    """An input of a gate; `negated` inputs carry a negation circle."""

    name: str
    negated: bool = False


@dataclass(frozen=True, slots=True)
class Node:
    """A gate, basic event, house event or constant.

    kind : one of GATES, or "basic", "house", "constant", or "transfer" for a gate of another tree
    label : what the author calls it; may be empty
    low, high : the bounds of atleast and cardinality
    probability : of a basic event, None where it isn't known
    value : of a house event or constant
    """

    name: str
    kind: str
    label: str = ""
    children: tuple[Child, ...] = ()
    low: int | None = None
    high: int | None = None
    probability: float | None = None
    value: bool | None = None

    @property
    def is_gate(self) -> bool:
        """Gates have inputs."""
        return self.kind in GATES


class FaultGraph:
    """All nodes below the roots, by name."""

    def __init__(self, nodes: Mapping[str, Node], tops: tuple[str, ...]) -> None:
        self.nodes = dict(nodes)
        self.tops = tops
        self._below: dict[str, tuple[int, int]] = {}

    def __getitem__(self, name: str) -> Node:
        return self.nodes[name]

    def __contains__(self, name: object) -> bool:
        return name in self.nodes

    def walk(self, root: str) -> Iterator[Node]:
        """Yield every node at and below `root` once, breadth first."""
        seen, queue = {root}, deque([root])
        while queue:
            node = self.nodes[queue.popleft()]
            yield node
            for child in node.children:
                if child.name not in seen:
                    seen.add(child.name)
                    queue.append(child.name)

    def count_below(self, name: str) -> tuple[int, int]:
        """Return how many different gates and events lie strictly below a gate."""
        if name not in self._below:
            below = [node for node in self.walk(name) if node.name != name]
            gates = sum(node.is_gate for node in below)
            self._below[name] = (gates, len(below) - gates)
        return self._below[name]

    def path_to(self, name: str, start: str) -> tuple[str, ...]:
        """Return the gates from `start` down to `name` by a shortest path; empty if it isn't below."""
        came: dict[str, str] = {start: ""}
        queue = deque([start])
        while queue and name not in came:
            here = queue.popleft()
            for child in self.nodes[here].children:
                if child.name not in came:
                    came[child.name] = here
                    queue.append(child.name)
        if name not in came:
            return ()
        path = [name]
        while came[path[-1]]:
            path.append(came[path[-1]])
        return tuple(reversed(path))

    def find(self, words: str, limit: int = 20) -> tuple[list[Node], int]:
        """Return nodes whose name or label holds the words, exact names first, and how many there are."""
        wanted = words.casefold().strip()
        found = [n for n in self.nodes.values() if wanted in n.name.casefold() or wanted in n.label.casefold()]
        found.sort(key=lambda node: (node.name.casefold() != wanted, not node.is_gate))
        return found[:limit], len(found)

    def occur_when(self, events: Collection[str]) -> frozenset[str]:
        """Return the names of everything that occurs when these events occur and no other does."""
        given = frozenset(events)
        truth: dict[str, bool] = {}
        for root in self.tops:
            for name in self._children_first(root, truth):
                node = self.nodes[name]
                if node.is_gate:
                    truth[name] = holds(node, [truth[child.name] != child.negated for child in node.children])
                else:
                    truth[name] = bool(node.value) if node.kind != "basic" else name in given
        return frozenset(name for name, occurs in truth.items() if occurs)

    def _children_first(self, root: str, known: Mapping[str, bool]) -> Iterator[str]:
        stack, entered = [root], set()
        while stack:
            name = stack[-1]
            if name in known:
                stack.pop()
            elif name in entered:
                stack.pop()
                yield name
            else:
                entered.add(name)
                stack.extend(child.name for child in self.nodes[name].children if child.name not in known)


def holds(node: Node, inputs: Iterable[bool]) -> bool:
    """Return the output of a gate."""
    values = list(inputs)
    count = sum(values)
    table = {
        "and": count == len(values),
        "or": count > 0,
        "pass": count > 0,
        "not": count == 0,
        "nand": count < len(values),
        "nor": count == 0,
        "xor": count % 2 == 1,
        "iff": count in (0, len(values)) if len(values) == 2 else count % 2 == len(values) % 2,
        "imply": len(values) != 2 or not values[0] or values[1],
        "atleast": count >= (node.low or 0),
        "cardinality": (node.low or 0) <= count <= (len(values) if node.high is None else node.high),
    }
    return table[node.kind]
