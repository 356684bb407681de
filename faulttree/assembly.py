"""The model of a tree as it is computed and drawn: values of the library filled in, transfers replaced.

A recipe holds all that goes into a model: the file, the values of the library it uses, and the same of each tree it
transfers to. Equal recipes give equal models, so the model is kept by its recipe.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import cast

from config.kit.errors import BadInput
from faulttree.engine.editing.assemble import Transferred, assemble
from faulttree.engine.editing.marks import TRANSFER, is_transfer, read_mark
from faulttree.engine.editing.shared import Key, Kind, SharedDefinition, find_shared, follow_shared, replace_shared
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.json_values import ValueReader
from faulttree.engine.model import BasicEvent, Model, Parameter
from faulttree.engine.problems import Problems
from faulttree.engine.validate import check_model
from faulttree.models import DataSet, SharedValue, Transfer, TreeRevision
from faulttree.sources import read_own_model


class BadAssembly(BadInput):
    """Trees or values that don't go together; every problem says which and what to do."""

    default_code = "not_assembled"

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        told = [str(problem) for problem in problems]
        super().__init__(" ".join(told), fields={"file": told})


@dataclass(frozen=True, slots=True)
class Value:
    """An item of the library in one data set; `expression` is JSON text."""

    kind: str
    name: str
    expression: str
    label: str = ""
    unit: str = ""

    @property
    def key(self) -> Key:
        """What the library knows it by."""
        return cast(Kind, self.kind), self.name


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that a model is made of; `transfers` has for each gate the gate over there and that tree's recipe."""

    key: str
    tree: str
    model: Model = field(compare=False, repr=False)
    values: tuple[Value, ...] = ()
    transfers: tuple[tuple[str, str, Recipe], ...] = ()


def read_model(revision: TreeRevision, data_set: DataSet | None = None) -> Model:
    """Return the model of a revision with the values of a data set, kept while it is in use.

    data_set : None leaves shared elements as they were saved. Raises BadAssembly.
    """
    return _make(_find_recipe(revision, _Library(data_set)))


def read_current(revision: TreeRevision) -> Model:
    """Return the model of a revision with the values that the library has now. Raises BadAssembly."""
    return read_model(revision, DataSet.objects.newest())


def read_changed_model(revision: TreeRevision, data_set: DataSet | None, changes: Mapping[Key, Value]) -> Model:
    """Return the model of a revision as it would be if the library had these values too. Raises BadAssembly."""
    return _make(_find_recipe(revision, _Library(data_set, changes)))


def hash_current(revision: TreeRevision) -> str:
    """Return what the values that a revision uses now have in common; empty where it uses none."""
    return hash_used(revision, DataSet.objects.newest())


def assemble_model(model: Model, key: str, tree: str, data_set: DataSet | None) -> Model:
    """Return a model that is no revision yet, assembled; `key` stands for it, and nothing else does.

    Raises BadAssembly, also for a transfer to a tree that isn't there.
    """
    targets = find_targets(model)
    return _make(_write_recipe(model, key, tree, targets, _Library(data_set)))


def fill_shared(model: Model, data_set: DataSet | None) -> Model:
    """Return a model in which shared elements have the values of a data set, as a file keeps them; the rest as it is.

    Elements that don't go together are left for whoever reads the model to refuse.
    """
    library = _Library(data_set)
    used = follow_shared(find_shared(model), library.definitions) if data_set else ()
    return replace_shared(model, {key: library.definitions[key] for key in used}) if used else model


def hash_used(revision: TreeRevision, data_set: DataSet | None) -> str:
    """Return what the values of the library that a revision uses have in common; empty where it uses none."""
    used = sorted({(v.kind, v.name, v.expression) for v in _walk_values(_find_recipe(revision, _Library(data_set)))})
    return hashlib.sha256(json.dumps(used).encode()).hexdigest() if used else ""


def list_used(revision: TreeRevision, data_set: DataSet | None) -> frozenset[Key]:
    """Return the items of the library that a revision uses, also by way of other items and of other trees."""
    found = _walk_values(_find_recipe(revision, _Library(data_set)))
    return frozenset((cast(Kind, value.kind), value.name) for value in found)


def list_missing(revision: TreeRevision, data_set: DataSet | None) -> list[str]:
    """Return the names that elements of a revision's own file give as items of the library, which aren't there."""
    library = _Library(data_set)
    return sorted({name for kind, name in find_shared(read_own_model(revision)) if (kind, name) not in library.values})


def find_targets(model: Model) -> dict[str, tuple[TreeRevision, str]]:
    """Return for each transfer of a model the revision and the gate it is to; raises BadAssembly naming the gate."""
    found: dict[str, tuple[TreeRevision, str]] = {}
    problems = []
    for gate in model.gates.values():
        mark = read_mark(gate.placing, TRANSFER)
        if not mark:
            continue
        tree, _, rest = mark.partition("/")
        number, _, top = rest.partition("/")
        revision = None
        if _is_key(tree) and _is_key(number):
            revision = TreeRevision.objects.filter(tree_id=int(tree), number=int(number)).select_related("tree").first()
        if revision is None or top not in read_own_model(revision).gates:
            message = f"The transfer “{mark}” leads to no gate of a tree that is here."
            mend = "Choose the tree and its gate anew, or take the attribute away."
            problems.append(Problem(message, mend, f"gate {gate.name}"))
        else:
            found[gate.name] = (revision, top)
    if problems:
        raise BadAssembly(tuple(problems))
    return found


class _Library:
    """The library in one data set, read when a model first asks for it."""

    def __init__(self, data_set: DataSet | None, changes: Mapping[Key, Value] | None = None) -> None:
        self._data_set, self._changes = data_set, changes or {}

    @cached_property
    def values(self) -> Mapping[Key, Value]:
        """Everything that is there."""
        kept = read_values(self._data_set.number) if self._data_set else {}
        return {**kept, **self._changes}

    @cached_property
    def definitions(self) -> Mapping[Key, SharedDefinition]:
        """The same, as the engine takes it."""
        return {key: read_definition(value) for key, value in self.values.items()}


def read_values(number: int) -> Mapping[Key, Value]:
    """Return the whole library as it is in the data set of a number."""
    rows = SharedValue.objects.at(number).select_related("item")
    found = (Value(row.item.kind, row.item.name, json.dumps(row.expression), row.label, row.unit) for row in rows)
    return {value.key: value for value in found}


def find_faults(changes: Mapping[Key, Value], number: int) -> list[str]:
    """Return what is wrong with the library of a data set once these values are in it, as whole sentences."""
    try:
        definitions = [read_definition(value) for value in {**read_values(number), **changes}.values()]
        check_model(
            Model(
                basic_events={d.name: BasicEvent(d.name, d.expression) for d in definitions if d.kind == "event"},
                parameters={d.name: Parameter(d.name, d.expression) for d in definitions if d.kind == "parameter"},
            )
        )
    except BadModel as refused:
        return [str(problem) for problem in refused.problems]
    return []


def read_definition(value: Value) -> SharedDefinition:
    """Return a value as the engine takes it."""
    problems = Problems("")
    expression = ValueReader(problems).expression(json.loads(value.expression), value.name)
    problems.raise_any()
    return SharedDefinition(cast(Kind, value.kind), value.name, expression, value.label, value.unit)


def _make(recipe: Recipe) -> Model:
    """Return the model of a recipe; one without values and transfers is what its file says."""
    return _assemble(recipe) if recipe.values or recipe.transfers else recipe.model


@lru_cache(maxsize=16)
def _assemble(recipe: Recipe) -> Model:
    try:
        library = {(one.kind, one.name): one for one in map(read_definition, recipe.values)}
        model = replace_shared(recipe.model, library)
        transfers = tuple(Transferred(gate, below.tree, _make(below), top) for gate, top, below in recipe.transfers)
        model = assemble(model, transfers, tree=recipe.tree)
        check_model(model)
    except BadModel as refused:
        raise BadAssembly(refused.problems) from None
    return model


def _find_recipe(revision: TreeRevision, library: _Library) -> Recipe:
    model = read_own_model(revision)
    targets: dict[str, tuple[TreeRevision, str]] = {}
    if any(is_transfer(gate) for gate in model.gates.values()):
        rows = Transfer.objects.filter(revision=revision).select_related("target__tree")
        targets = {row.gate: (row.target, row.top) for row in rows}
    return _write_recipe(model, revision.sha256, revision.tree.name, targets, library)


def _write_recipe(
    model: Model, key: str, tree: str, targets: Mapping[str, tuple[TreeRevision, str]], library: _Library
) -> Recipe:
    marked = find_shared(model)
    used = follow_shared(marked, library.definitions) if marked else ()
    transfers = tuple((gate, top, _find_recipe(revision, library)) for gate, (revision, top) in targets.items())
    return Recipe(key, tree, model, tuple(library.values[one] for one in used), transfers)


def _walk_values(recipe: Recipe) -> Iterator[Value]:
    yield from recipe.values
    for _, _, below in recipe.transfers:
        yield from _walk_values(below)


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10
