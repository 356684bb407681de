"""The edits by name, from plain data: what a page or program sends, and what a draft keeps so as to repeat it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from faulttree.engine.editing import groups, kinds, marks, structure, values
from faulttree.engine.editing.done import Done
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.exchange.json_values import ValueReader
from faulttree.engine.model import Expression, Model
from faulttree.engine.problems import Problems

EDITS: dict[str, Callable[..., Done]] = {
    "add-gate": structure.add_gate,
    "add-event": structure.add_event,
    "add-house": structure.add_house,
    "use": structure.use_again,
    "move": structure.move,
    "copy": structure.copy,
    "wrap": structure.wrap,
    "negate": structure.negate,
    "shift": structure.shift,
    "remove": structure.remove,
    "retype": kinds.retype,
    "name": values.name_element,
    "value": values.set_value,
    "switch": values.switch,
    "parameter": values.set_parameter,
    "remove-parameter": values.remove_parameter,
    "group": groups.set_group,
    "remove-group": groups.remove_group,
    "title": marks.set_title,
    "share": marks.share,
    "unshare": marks.unshare,
    "transfer": marks.transfer,
}

_TEXT = frozenset(("under", "name", "label", "kind", "source", "events", "new", "unit", "item", "top"))
_WHOLE = frozenset(("low", "high", "at", "by", "tree", "revision"))
_FLAGS = frozenset(("value",))
_EXPRESSIONS = frozenset(("expression", "distribution"))
LONGEST_TEXT = 500


def apply_edit(model: Model, edit: Mapping[str, Any]) -> Done:
    """Apply {"do": name, argument: value, ...} to a flat model; raises EditRefused, and changes nothing.

    Expressions are as in our JSON form. Arguments that an edit doesn't know are refused by name.
    """
    does = EDITS.get(str(edit.get("do", "")))
    if does is None:
        raise EditRefused("This is no edit.", f"Use one of {', '.join(EDITS)}.", "do")
    arguments = {name: _read(name, value) for name, value in edit.items() if name != "do"}
    try:
        return does(model, **arguments)
    except TypeError as error:
        if "argument" not in str(error):
            raise
        raise EditRefused("An argument is missing or unknown.", str(error).split("() ", 1)[-1], "do") from None


def read_expression(value: Any, field: str = "expression") -> Expression:
    """Return an expression from our JSON form; raises EditRefused."""
    problems = Problems()
    found = ValueReader(problems).expression(value, field)
    if problems.found:
        raise EditRefused(problems.found[0].message, problems.found[0].mend, field)
    return found


def _read(name: str, value: Any) -> Any:
    if name in _EXPRESSIONS:
        return None if value is None else read_expression(value, name)
    if name in _WHOLE:
        if value is not None and (type(value) is not int or abs(value) > 10**9):
            raise EditRefused("This is no whole number.", "Give one.", name)
        return value
    if name in _FLAGS:
        return bool(value)
    if name == "members":
        if not isinstance(value, list) or not all(isinstance(member, str) for member in value):
            raise EditRefused("The members are not a list of names.", "Give the names of basic events.", name)
        return value
    if name == "factors":
        if not isinstance(value, dict) or not all(str(level).isdecimal() for level in value):
            raise EditRefused("The factors are not given by level.", "Give a number for each level.", name)
        return {int(level): read_expression(factor, name) for level, factor in value.items() if len(level) < 6}
    if name not in _TEXT:
        raise EditRefused(f"There is no argument {name}.", "Leave it out.", "do")
    if value is None and name == "label":
        return None
    if not isinstance(value, str) or len(value) > LONGEST_TEXT:
        raise EditRefused(f"This is no text of at most {LONGEST_TEXT} letters.", "Shorten it.", name)
    bad = next((letter for letter in value if ord(letter) < 32 and letter not in "\t\n\r"), None)
    if bad is not None:
        raise EditRefused("The text holds a control character.", "Remove it.", name)
    return value
