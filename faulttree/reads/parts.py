"""The gates and events of a tree as other apps name them: groups written out, in the order of the tree."""

from __future__ import annotations

from dataclasses import dataclass

from faulttree.assembly import read_current
from faulttree.bridge import describe_model
from faulttree.engine.events.common_cause import expand_common_cause
from faulttree.engine.model import Model, references
from faulttree.models import TreeRevision


@dataclass(frozen=True, slots=True)
class Part:
    """A gate or a basic event.

    below : names of the gates and basic events that it is made of; empty for a basic event
    depth : steps from the top event, on the shortest way
    is_member : a basic event that is a gate here since its common-cause group is written out
    """

    name: str
    label: str
    is_gate: bool
    below: tuple[str, ...] = ()
    depth: int = 0
    is_member: bool = False


@dataclass(frozen=True, slots=True)
class Parts:
    """All below a top event; `uses_mission_time` tells whether a probability depends on it."""

    top: str
    by_name: dict[str, Part]
    uses_mission_time: bool

    @property
    def events(self) -> list[Part]:
        """The basic events, in the order of the tree."""
        return [part for part in self.by_name.values() if not part.is_gate]

    @property
    def gates(self) -> list[Part]:
        """The gates below the top event, in the order of the tree."""
        return [part for part in self.by_name.values() if part.is_gate and part.name != self.top]

    def find_open(self, decided: set[str]) -> list[Part]:
        """Return the basic events that aren't decided, and that some way down from the top reaches undecided."""
        reached: set[str] = set()
        stack = [self.top]
        while stack:
            name = stack.pop()
            if name in reached or name in decided:
                continue
            reached.add(name)
            stack.extend(self.by_name[name].below)
        return [part for part in self.events if part.name in reached]


def read_parts(revision: TreeRevision, top: str) -> Parts:
    """Return what is below a gate, with the library's values of today; nothing for one that isn't there.

    Raises BadAssembly.
    """
    model = read_current(revision)
    members = set(model.basic_events)
    return Parts(top, _walk(expand_common_cause(model), top, members), describe_model(model).uses_mission_time)


def _walk(model: Model, top: str, members: set[str]) -> dict[str, Part]:
    """Level by level, each level in the order of the inputs."""
    found: dict[str, Part] = {}
    level, depth = [top], 0
    while level:
        below: dict[str, None] = {}
        for name in level:
            if name in found or name in model.house_events:
                continue
            gate = model.gates.get(name)
            if gate is None and name not in model.basic_events:
                continue
            if gate is None:
                found[name] = Part(name, model.basic_events[name].placing.label, False, (), depth)
                continue
            inputs = tuple(dict.fromkeys(n for n in references(gate.formula) if n not in model.house_events))
            found[name] = Part(name, gate.placing.label, True, inputs, depth, name in members)
            below.update(dict.fromkeys(inputs))
        level, depth = list(below), depth + 1
    return found
