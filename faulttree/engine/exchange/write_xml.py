"""Write a Model as Open-PSA exchange XML; what was read, is written and read again is the same model."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

from lxml import etree

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.names import NAME, NAME_RULE, NameSpace, Path
from faulttree.engine.exchange.text import find_bad_character
from faulttree.engine.exchange.write_values import Spelling, write_expression, write_formula
from faulttree.engine.model import BasicEvent, CommonCauseGroup, Gate, HouseEvent, Model, Parameter, Placing

Node: TypeAlias = etree._Element  # lxml names its element class so; there is no public alias
Defined: TypeAlias = Gate | BasicEvent | HouseEvent | Parameter | CommonCauseGroup


def write_open_psa(model: Model) -> bytes:
    """Return the model as exchange XML, UTF-8.

    Gates that stand in no fault tree, as those of a model built by a program, get one of their own.
    Raises BadModel for what the format can't say: a name that is no XML name, a character that XML has
    not, a reference that a private name of the same spelling hides.
    """
    writer = _Writer(model)
    for container in model.containers:
        writer.add_container(container.path, container.role, container.label, container.attributes)
    for gate in model.gates.values():
        node = writer.define("define-gate", gate)
        write_formula(node, gate.formula, writer.spelling(gate, gate.placing.path))
    for event in model.basic_events.values():
        node = writer.define("define-basic-event", event)
        if event.expression is not None:
            write_expression(node, event.expression, writer.spelling(event, event.placing.path))
    for house in model.house_events.values():
        node = writer.define("define-house-event", house)
        etree.SubElement(node, "constant", value="true" if house.value else "false")
    for parameter in model.parameters.values():
        node = writer.define("define-parameter", parameter)
        if parameter.unit:
            node.set("unit", parameter.unit)
        write_expression(node, parameter.expression, writer.spelling(parameter, parameter.placing.path))
    for group in model.common_cause_groups.values():
        _write_group(writer.define("define-CCF-group", group), group, writer)
    return writer.to_bytes()


def _write_group(node: Node, group: CommonCauseGroup, writer: _Writer) -> None:
    node.set("model", group.model)
    spelling = writer.spelling(group, group.placing.path)
    members = etree.SubElement(node, "members")
    for member in group.members:
        spelling.write_event(members, member)
    write_expression(etree.SubElement(node, "distribution"), group.distribution, spelling)
    factors = etree.SubElement(node, "factors")
    for level, factor in group.factors:
        write_expression(etree.SubElement(factors, "factor", level=str(level)), factor, spelling)


@dataclass
class _Writer:
    """The document so far: a node for every container, the names that references may use."""

    model: Model
    root: Node = field(init=False)
    events: NameSpace = field(default_factory=NameSpace)
    parameters: NameSpace = field(default_factory=NameSpace)
    containers: dict[Path, Node] = field(default_factory=dict)
    roles: dict[Path, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        model = self.model
        self.root = etree.Element("opsa-mef")
        if model.name:
            self.root.set("name", _text("the model", model.name))
        _note(self.root, "the model", model.label, model.attributes)
        _register(self.events, "gate", model.gates.values())
        _register(self.events, "basic-event", model.basic_events.values())
        _register(self.events, "house-event", model.house_events.values())
        _register(self.parameters, "parameter", model.parameters.values())
        _register(NameSpace(), "group", model.common_cause_groups.values())

    def spelling(self, element: Defined, path: Path) -> Spelling:
        """How references inside an element are written."""
        return Spelling(f"{type(element).__name__} {element.name}", path, self.events, self.parameters)

    def add_container(
        self, path: Path, role: str = "public", label: str = "", attributes: Iterable[tuple[str, str, str]] = ()
    ) -> None:
        """Add a fault tree, or a component of one."""
        name = ".".join(path)
        if not NAME.match(path[-1]):
            raise BadModel(Problem(f"{path[-1]!r} is not a name.", NAME_RULE, name))
        parent = self._container(path[:-1]) if path[:-1] else self.root
        node = etree.SubElement(parent, "define-component" if path[:-1] else "define-fault-tree", name=path[-1])
        if role != self.roles.get(path[:-1], "public"):
            node.set("role", role)
        _note(node, name, label, attributes)
        self.containers[path], self.roles[path] = node, role

    def _container(self, path: Path) -> Node:
        if path not in self.containers:
            self.add_container(path)
        return self.containers[path]

    def define(self, tag: str, element: Defined) -> Node:
        """Add a definition to its container; returns it for its content."""
        placing = element.placing
        node = etree.SubElement(self._home(tag, placing), tag, name=element.name.rsplit(".", 1)[-1])
        if placing.path and placing.role != self.roles[placing.path]:
            node.set("role", placing.role)
        _note(node, element.name, placing.label, placing.attributes)
        return node

    def _home(self, tag: str, placing: Placing) -> Node:
        if placing.path:
            return self._container(placing.path)
        if tag == "define-CCF-group":
            return self.root
        if tag == "define-gate":
            return self._container(self._spare_tree())
        if () not in self.containers:
            self.containers[()] = etree.SubElement(self.root, "model-data")
        return self.containers[()]

    def _spare_tree(self) -> Path:
        """Path of the fault tree for gates without one: the first name that no container of the model has."""
        taken = {container.path[0] for container in self.model.containers}
        first = [self.model.name] if NAME.match(self.model.name) else []
        names = itertools.chain(first, (f"fault-tree-{n}" for n in itertools.count(1)))
        return (next(name for name in names if name not in taken),)

    def to_bytes(self) -> bytes:
        """The document, indented."""
        etree.indent(self.root, "  ")
        return etree.tostring(self.root, xml_declaration=True, encoding="UTF-8") + b"\n"


def _register(space: NameSpace, kind: str, elements: Iterable[Defined]) -> None:
    for element in elements:
        own, placing = element.name.rsplit(".", 1)[-1], element.placing
        role = placing.role if placing.path else "public"
        if not NAME.match(own):
            raise BadModel(Problem(f"{own!r} is not a name.", NAME_RULE, f"{kind} {element.name}"))
        if space.add(own, placing.path, role, kind) != element.name:
            message = f"The name does not fit a {placing.role} {kind} of {'.'.join(placing.path) or 'the model'}."
            mend = "A public element goes by its own name, a private one by its dotted path; no two are alike."
            raise BadModel(Problem(message, mend, f"{kind} {element.name}"))


def _note(node: Node, owner: str, label: str, attributes: Iterable[tuple[str, str, str]]) -> None:
    if label:
        etree.SubElement(node, "label").text = _text(owner, label)
    attributes = tuple(attributes)
    if attributes:
        holder = etree.SubElement(node, "attributes")
        for name, value, kind in attributes:
            texts = {"name": name, "value": value, "type": kind}
            etree.SubElement(holder, "attribute", {key: _text(owner, text) for key, text in texts.items() if text})


def _text(owner: str, text: str) -> str:
    wrong = find_bad_character(text)
    if wrong:
        message = f"The text {text[:60]!r} holds the character {wrong!r}, which XML can't hold."
        raise BadModel(Problem(message, "Remove the character.", owner))
    return text
