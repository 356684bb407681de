"""Read the Open-PSA Model Exchange Format into a Model; every fault is collected, none is guessed away."""

from __future__ import annotations

from dataclasses import dataclass, field

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.names import NAME, NameSpace, Path
from faulttree.engine.exchange.read_values import ValueReader
from faulttree.engine.exchange.source import Element, children, line_of, parse_xml, tag
from faulttree.engine.model import (
    BasicEvent,
    CommonCauseGroup,
    Container,
    Gate,
    HouseEvent,
    Model,
    Number,
    Parameter,
    Placing,
)
from faulttree.engine.validate import MAX_PROBLEMS, check_model

_DEFINITIONS = {
    "define-gate": "event",
    "define-basic-event": "event",
    "define-house-event": "event",
    "define-parameter": "parameter",
    "define-CCF-group": "group",
}
_NOT_SUPPORTED = {
    "define-event-tree": "Event trees",
    "define-initiating-event": "Initiating events",
    "define-functional-event": "Functional events",
    "define-sequence": "Sequences",
    "define-consequence-group": "Consequence groups",
    "define-rule": "Rules",
    "define-alignment": "Alignments",
    "define-substitution": "Substitutions",
    "define-extern-library": "External libraries",
    "define-extern-function": "External functions",
    "include": "Includes of other files",
}
_UNITS = frozenset(("", "bool", "int", "float", "hours", "hours-1", "years", "years-1", "fit", "demands"))
_CCF_MODELS = ("beta-factor", "MGL", "alpha-factor", "phi-factor")
_NOTES = ("label", "attributes")


@dataclass
class _Definition:
    """One define-... element with its place, before what it refers to is resolved."""

    element: Element
    unique: str
    path: Path
    placing: Placing


@dataclass
class _Reader:
    file: str
    problems: list[Problem] = field(default_factory=list)
    events: NameSpace = field(default_factory=NameSpace)
    parameters: NameSpace = field(default_factory=NameSpace)
    groups: NameSpace = field(default_factory=NameSpace)
    containers: list[Container] = field(default_factory=list)
    definitions: dict[str, list[_Definition]] = field(default_factory=lambda: {name: [] for name in _DEFINITIONS})

    def refuse(self, element: Element, message: str, mend: str) -> None:
        """Note a problem at an element."""
        name = element.get("name")
        where = f"<{tag(element)}" + (f' name="{name}">' if name else ">")
        self.problems.append(Problem(message, mend, where, self.file, line_of(element)))
        if len(self.problems) >= MAX_PROBLEMS:
            raise BadModel(*self.problems)

    def walk(self, element: Element, path: Path, role: str) -> None:
        """Register every definition inside a container."""
        for child in children(element):
            name = tag(child)
            if name in ("define-fault-tree", "define-component"):
                self._enter(child, path, role)
            elif name == "model-data":
                self.walk(child, (), "public")
            elif name in _DEFINITIONS:
                self._define(child, path, role)
            elif name in _NOT_SUPPORTED:
                self.refuse(child, f"{_NOT_SUPPORTED[name]} are not supported.", "Remove this element.")
            elif name not in _NOTES:
                self.refuse(child, f"<{name}> is not known here.", "Remove it or correct its name.")

    def _enter(self, element: Element, path: Path, role: str) -> None:
        name = self._name(element)
        if name is None:
            return
        inner = (*path, name)
        own_role = self._role(element, role)
        if any(container.path == inner for container in self.containers):
            self.refuse(element, f"{'.'.join(inner)} is defined twice.", "Rename one of the two.")
        self.containers.append(Container(inner, own_role, _label(element), _attributes(element)))
        self.walk(element, inner, own_role)

    def _define(self, element: Element, path: Path, role: str) -> None:
        name = self._name(element)
        if name is None:
            return
        kind = _DEFINITIONS[tag(element)]
        own_role = self._role(element, role) if path else "public"
        unique = {"event": self.events, "parameter": self.parameters, "group": self.groups}[kind].add(
            name, path, own_role
        )
        if unique is None:
            self.refuse(element, f"The name {name} is given to two {kind}s.", "Rename one of the two.")
            return
        placing = Placing(path, own_role, _label(element), _attributes(element), line_of(element))
        self.definitions[tag(element)].append(_Definition(element, unique, path, placing))

    def _name(self, element: Element) -> str | None:
        name = element.get("name", "").strip()
        if NAME.match(name):
            return name
        message = f"{name!r} is not a name." if name else "The name is missing."
        self.refuse(element, message, "Use a letter, then letters, digits, hyphens or underscores; no dot, no blank.")
        return None

    def _role(self, element: Element, inherited: str) -> str:
        role = element.get("role", inherited)
        if role not in ("public", "private"):
            self.refuse(element, f"The role {role!r} is not known.", 'Write "public" or "private".')
            return inherited
        return role


def read_open_psa(data: bytes, *, file: str = "", limits: ReadLimits | None = None) -> Model:
    """Return the model in exchange XML; raises BadModel with every problem found, the first ones at most.

    file : name used in messages
    """
    root = parse_xml(data, file=file, limits=limits or ReadLimits())
    reader = _Reader(file)
    if tag(root) != "opsa-mef":
        reader.refuse(root, f"The root element is <{tag(root)}>.", "An exchange file starts with <opsa-mef>.")
        raise BadModel(*reader.problems)
    reader.walk(root, (), "public")
    model = _assemble(reader, root)
    if reader.problems:
        raise BadModel(*reader.problems)
    check_model(model, file=file)
    return model


def _assemble(reader: _Reader, root: Element) -> Model:
    values = ValueReader(reader.events, reader.parameters, reader.refuse)
    gates, basics, houses, parameters = {}, {}, {}, {}
    for d in reader.definitions["define-gate"]:
        body = _only_child(reader, d.element, "a formula")
        if body is not None:
            gates[d.unique] = Gate(d.unique, values.formula(body, d.path), d.placing)
    for d in reader.definitions["define-basic-event"]:
        body = _only_child(reader, d.element, "an expression", optional=True)
        basics[d.unique] = BasicEvent(d.unique, None if body is None else values.expression(body, d.path), d.placing)
    for d in reader.definitions["define-house-event"]:
        houses[d.unique] = HouseEvent(d.unique, _house_value(reader, d.element), d.placing)
    for d in reader.definitions["define-parameter"]:
        body = _only_child(reader, d.element, "an expression")
        unit = d.element.get("unit", "")
        if unit not in _UNITS:
            reader.refuse(
                d.element, f"The unit {unit!r} is not known.", "Use one of " + ", ".join(sorted(_UNITS - {""})) + "."
            )
        if body is not None:
            parameters[d.unique] = Parameter(d.unique, values.expression(body, d.path), unit, d.placing)
    groups = {d.unique: _read_group(reader, values, d) for d in reader.definitions["define-CCF-group"]}
    return Model(
        root.get("name", ""), _label(root), tuple(reader.containers), gates, basics, houses, parameters, groups
    )


def _only_child(reader: _Reader, element: Element, what: str, *, optional: bool = False) -> Element | None:
    inner = [child for child in children(element) if tag(child) not in _NOTES]
    if len(inner) == 1:
        return inner[0]
    if not inner and optional:
        return None
    found = "none" if not inner else f"{len(inner)}"
    reader.refuse(element, f"{what.capitalize()} is wanted here; there is {found}.", f"Put {what} inside.")
    return None


def _house_value(reader: _Reader, element: Element) -> bool:
    body = _only_child(reader, element, "a constant", optional=True)
    if body is None:
        return False
    value = body.get("value", "").strip()
    if tag(body) != "constant" or value not in ("true", "false"):
        reader.refuse(element, "A house event is true or false.", 'Write <constant value="true"/> or "false".')
    return value == "true"


def _read_group(reader: _Reader, values: ValueReader, d: _Definition) -> CommonCauseGroup:
    kind = d.element.get("model", "")
    if kind not in _CCF_MODELS:
        reader.refuse(
            d.element, f"The common-cause model {kind!r} is not known.", "Use " + ", ".join(_CCF_MODELS) + "."
        )
    parts = {tag(child): child for child in children(d.element) if tag(child) not in _NOTES}
    for name in ("members", "distribution"):
        if name not in parts:
            reader.refuse(d.element, f"<{name}> is missing.", f"Add <{name}> to the group.")
    members = _members(reader, parts.get("members"), d.path)
    body = _only_child(reader, parts["distribution"], "an expression") if "distribution" in parts else None
    distribution = values.expression(body, d.path) if body is not None else Number(0.0)
    factors = []
    container = parts.get("factors", d.element)
    for position, factor in enumerate(child for child in children(container) if tag(child) == "factor"):
        inner = _only_child(reader, factor, "an expression")
        if inner is not None:
            default = position + (1 if kind in ("alpha-factor", "phi-factor") else 2)
            level = _level(reader, factor, default if kind != "beta-factor" else max(2, len(members)))
            factors.append((level, values.expression(inner, d.path)))
    return CommonCauseGroup(
        d.unique, kind, members, distribution, tuple(sorted(factors, key=lambda f: f[0])), d.placing
    )


def _members(reader: _Reader, element: Element | None, path: Path) -> tuple[str, ...]:
    names = []
    for child in children(element) if element is not None else ():
        name = child.get("name", "")
        unique = reader.events.find(name, path)
        if unique is None:
            reader.refuse(child, f"The member {name} is not defined.", reader.events.suggest(name))
        else:
            names.append(unique)
    return tuple(names)


def _level(reader: _Reader, element: Element, default: int) -> int:
    text = element.get("level")
    if text is None:
        return default
    if not text.strip().isdecimal() or len(text) > 6:
        reader.refuse(element, f"The level {text!r} is not a whole number.", "Write how many members fail together.")
        return default
    return int(text)


def _label(element: Element) -> str:
    for child in children(element):
        if tag(child) == "label":
            return " ".join("".join(str(text) for text in child.itertext()).split())
    return ""


def _attributes(element: Element) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (item.get("name", ""), item.get("value", ""), item.get("type", ""))
        for child in children(element)
        if tag(child) == "attributes"
        for item in children(child)
    )
