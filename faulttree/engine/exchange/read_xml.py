"""Read the Open-PSA Model Exchange Format into a Model; every fault is collected, none is guessed away."""

from __future__ import annotations

from dataclasses import dataclass, field

from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.names import NAME, NAME_RULE, NameSpace, Path
from faulttree.engine.exchange.read_groups import read_group
from faulttree.engine.exchange.read_values import ValueReader
from faulttree.engine.exchange.source import Element, parse_xml
from faulttree.engine.model import BasicEvent, Container, Gate, HouseEvent, Model, Parameter, Placing
from faulttree.engine.problems import Problems
from faulttree.engine.validate import check_model

UNITS = ("bool", "int", "float", "hours", "hours-1", "years", "years-1", "fit", "demands")
NOTES = ("label", "attributes")

_DATA = ("define-basic-event", "define-house-event", "define-parameter")
_TREE = ("define-component", "define-gate", *_DATA, "define-CCF-group")
_CONTENT = {
    "opsa-mef": ("define-fault-tree", "model-data", "define-CCF-group", *_DATA),
    "define-fault-tree": _TREE,
    "define-component": _TREE,
    "model-data": _DATA,
}
_KINDS = {
    "define-gate": "gate",
    "define-basic-event": "basic-event",
    "define-house-event": "house-event",
    "define-parameter": "parameter",
    "define-CCF-group": "group",
}
_NOT_SUPPORTED = {
    "define-event-tree": "Event trees",
    "define-initiating-event": "Initiating events",
    "define-functional-event": "Functional events",
    "define-sequence": "Sequences",
    "define-branch": "Branches",
    "define-consequence": "Consequences",
    "define-consequence-group": "Consequence groups",
    "define-rule": "Rules",
    "define-alignment": "Alignments",
    "define-mission": "Missions",
    "define-substitution": "Substitutions",
    "define-extern-library": "External libraries",
    "define-extern-function": "External functions",
    "include": "Includes of other files",
}


@dataclass
class _Definition:
    """One define-... element with its place, before what it refers to is resolved."""

    element: Element
    unique: str
    path: Path
    placing: Placing


@dataclass
class _Reader:
    problems: Problems
    events: NameSpace = field(default_factory=NameSpace)
    parameters: NameSpace = field(default_factory=NameSpace)
    groups: NameSpace = field(default_factory=NameSpace)
    containers: dict[Path, Container] = field(default_factory=dict)
    definitions: dict[str, list[_Definition]] = field(default_factory=lambda: {name: [] for name in _KINDS})

    def refuse(self, element: Element, message: str, mend: str) -> None:
        """Note a problem at an element."""
        name = element.get("name")
        where = f'<{element.tag} name="{name}">' if name else f"<{element.tag}>"
        self.problems.add(where, element.line, message, mend)

    def walk(self, element: Element, path: Path, role: str) -> None:
        """Register every definition inside a container; recursion is as deep as components are nested."""
        for child in element.children:
            if child.tag in NOTES:
                continue
            if child.tag in _NOT_SUPPORTED:
                supported = "Remove it; fault trees, components, model data and common-cause groups are read."
                self.refuse(child, f"{_NOT_SUPPORTED[child.tag]} are not supported.", supported)
            elif child.tag not in _CONTENT[element.tag]:
                known = ", ".join(f"<{name}>" for name in _CONTENT[element.tag])
                self.refuse(child, f"<{child.tag}> has no place in <{element.tag}>.", f"What is read there: {known}.")
            elif child.tag == "model-data":
                self.walk(child, (), "public")
            elif child.tag in _KINDS:
                self._define(child, path, role)
            else:
                self._enter(child, path, role)

    def _enter(self, element: Element, path: Path, role: str) -> None:
        name = self._name(element)
        if name is None:
            return
        inner = (*path, name)
        own_role = self._role(element, role)
        if inner in self.containers:
            self.refuse(element, f"{'.'.join(inner)} is defined twice.", "Rename one of the two.")
        self.containers[inner] = Container(inner, own_role, self.label(element), self.attributes(element))
        self.walk(element, inner, own_role)

    def _define(self, element: Element, path: Path, role: str) -> None:
        name = self._name(element)
        if name is None:
            return
        kind = _KINDS[element.tag]
        own_role = self._role(element, role) if path else "public"
        space, noun = {"parameter": (self.parameters, "parameter"), "group": (self.groups, "common-cause group")}.get(
            kind, (self.events, "gate or event")
        )
        unique = space.add(name, path, own_role, kind)
        if unique is None:
            self.refuse(element, f"The name {name} is given to more than one {noun}.", "Rename one of them.")
            return
        placing = Placing(path, own_role, self.label(element), self.attributes(element), element.line)
        self.definitions[element.tag].append(_Definition(element, unique, path, placing))

    def _name(self, element: Element) -> str | None:
        name = element.get("name").strip()
        if NAME.match(name):
            return name
        self.refuse(element, f"{name!r} is not a name." if name else "The name is missing.", NAME_RULE)
        return None

    def _role(self, element: Element, inherited: str) -> str:
        role = element.get("role", inherited)
        if role not in ("public", "private"):
            self.refuse(element, f"The role {role!r} is not known.", 'Write "public" or "private".')
            return inherited
        return role

    def label(self, element: Element) -> str:
        """Text of an element's label, blanks and line ends made one blank."""
        labels = [child for child in element.children if child.tag == "label"]
        for label in labels[1:]:
            self.refuse(label, "There is a second label.", "Keep one.")
        for label in labels:
            if label.children:
                self.refuse(label, "A label holds text only.", "Remove the elements inside.")
        return " ".join(labels[0].text.split()) if labels else ""

    def attributes(self, element: Element) -> tuple[tuple[str, str, str], ...]:
        """The attributes of an element that are elements of their own: name, value, type."""
        items = [item for child in element.children if child.tag == "attributes" for item in child.children]
        for item in items:
            if item.tag != "attribute":
                self.refuse(item, f"<{item.tag}> is not an attribute.", 'Write <attribute name="..." value="..."/>.')
        return tuple((item.get("name"), item.get("value"), item.get("type")) for item in items)

    def only_child(self, element: Element, what: str, *, optional: bool = False) -> Element | None:
        """The one element inside that is no label."""
        inner = [child for child in element.children if child.tag not in NOTES]
        if len(inner) == 1:
            return inner[0]
        if inner or not optional:
            found = f"there are {len(inner)}" if inner else "there is none"
            self.refuse(element, f"One {what} is wanted here; {found}.", f"Put one {what} inside.")
        return None


def read_open_psa(data: bytes, *, file: str = "", limits: ReadLimits | None = None) -> Model:
    """Return the model in exchange XML; raises BadModel with every problem found, the first ones at most.

    file : name used in messages
    """
    root = parse_xml(data, file=file, limits=limits or ReadLimits())
    reader = _Reader(Problems(file))
    if root.tag != "opsa-mef":
        reader.refuse(root, f"The root element is <{root.tag}>.", "An exchange file starts with <opsa-mef>.")
        reader.problems.raise_any()
    reader.walk(root, (), "public")
    model = _assemble(reader, root)
    reader.problems.raise_any()
    check_model(model, file=file)
    return model


def _assemble(reader: _Reader, root: Element) -> Model:
    values = ValueReader(reader.events, reader.parameters, reader.refuse)
    gates, basics, houses, parameters = {}, {}, {}, {}
    for d in reader.definitions["define-gate"]:
        body = reader.only_child(d.element, "formula")
        if body is not None:
            gates[d.unique] = Gate(d.unique, values.formula(body, d.path), d.placing)
    for d in reader.definitions["define-basic-event"]:
        body = reader.only_child(d.element, "expression", optional=True)
        basics[d.unique] = BasicEvent(d.unique, None if body is None else values.expression(body, d.path), d.placing)
    for d in reader.definitions["define-house-event"]:
        houses[d.unique] = HouseEvent(d.unique, _house_value(reader, d.element), d.placing)
    for d in reader.definitions["define-parameter"]:
        body = reader.only_child(d.element, "expression")
        if body is not None:
            parameters[d.unique] = Parameter(
                d.unique, values.expression(body, d.path), _unit(reader, d.element), d.placing
            )
    groups = {
        d.unique: read_group(reader, values, d.element, d.unique, d.placing)
        for d in reader.definitions["define-CCF-group"]
    }
    name, label, attributes = root.get("name"), reader.label(root), reader.attributes(root)
    containers = tuple(reader.containers.values())
    return Model(name, label, containers, gates, basics, houses, parameters, groups, attributes)


def _house_value(reader: _Reader, element: Element) -> bool:
    body = reader.only_child(element, "constant", optional=True)
    if body is None:
        return False
    value = body.get("value").strip()
    if body.tag != "constant" or value not in ("true", "false"):
        reader.refuse(element, "A house event is true or false.", 'Write <constant value="true"/> or "false".')
    return value == "true"


def _unit(reader: _Reader, element: Element) -> str:
    unit = element.get("unit")
    if unit and unit not in UNITS:
        reader.refuse(element, f"The unit {unit!r} is not known.", f"Use one of {', '.join(UNITS)}.")
    return unit
