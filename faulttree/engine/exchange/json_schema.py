"""The JSON Schema of the plain form, and its errors in words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import lru_cache
from importlib.resources import files
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

_NOUNS = {"object": "an object", "array": "a list", "string": "a text", "boolean": "true or false"}


@lru_cache(maxsize=1)
def load_schema() -> dict[str, Any]:
    """Return the schema that documents the plain JSON form."""
    text = files("faulttree.engine.exchange").joinpath("model.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


@lru_cache(maxsize=1)
def _outer_validator() -> Draft202012Validator:
    """Checks all but formulas and expressions, which are checked where they are read: quicker, and in clear words."""
    schema = load_schema()
    return Draft202012Validator({**schema, "$defs": {**schema["$defs"], "formula": True, "expression": True}})


def find_faults(data: object) -> Iterator[tuple[str, str, str]]:
    """Yield where, what and how to mend for everything outside formulas that the schema refuses."""
    seen: set[tuple[str, str]] = set()
    for error in _outer_validator().iter_errors(data):
        where = "/".join(map(str, error.absolute_path))
        message, mend = _describe(error)
        if (where, message) not in seen:
            seen.add((where, message))
            yield where, message, mend


def _describe(error: ValidationError) -> tuple[str, str]:
    found = json.dumps(error.instance)[:60] if error.validator not in ("required", "additionalProperties") else ""
    wanted = error.validator_value
    match error.validator:
        case "type":
            noun = _NOUNS.get(wanted, f"a {wanted}")
            return f"{found} is not {noun}.", f"Write {noun}."
        case "required":
            missing = ", ".join(name for name in wanted if name not in error.instance)
            return f"Missing here: {missing}.", f"Add {missing}."
        case "additionalProperties":
            known = list(error.schema["properties"])
            extra = ", ".join(repr(name) for name in error.instance if name not in known)
            return f"Not known here: {extra}.", f"Known are {', '.join(known)}."
        case "enum":
            return f"{found} is not known here.", f"Write one of {', '.join(map(str, wanted))}."
        case "pattern":
            return f"{found} is not written as it should be.", "Write a name, a dotted path, or a level from 1."
    return f"{error.message}", "See the schema of the form."
