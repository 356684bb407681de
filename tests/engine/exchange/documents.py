"""Small exchange documents for tests, and what a reader says about bad ones."""

from __future__ import annotations

import json
from typing import Any

import pytest

from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.exchange.limits import ReadLimits
from faulttree.engine.exchange.plain_json import read_json
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.model import Model

LIMITS = ReadLimits()


def write_tree(body: str, data: str = "", *, outside: str = "") -> bytes:
    """Exchange XML with the fault tree t; its body begins on line 3."""
    model_data = f"<model-data>\n{data}\n</model-data>" if data else ""
    text = (
        f'<opsa-mef>\n<define-fault-tree name="t">\n{body}\n</define-fault-tree>\n{model_data}\n{outside}\n</opsa-mef>'
    )
    return text.encode()


def define_events(*names: str) -> str:
    """Basic events without probability."""
    return "\n".join(f'<define-basic-event name="{name}"/>' for name in names)


def read_tree(body: str, data: str = "", *, outside: str = "") -> Model:
    """The model of `write_tree`."""
    return read_open_psa(write_tree(body, data, outside=outside), file="t.xml")


def refuse_xml(source: bytes, limits: ReadLimits = LIMITS) -> tuple[Problem, ...]:
    """Problems for which exchange XML is refused; each is one line and names the file."""
    with pytest.raises(BadModel) as refused:
        read_open_psa(source, file="t.xml", limits=limits)
    return _checked(refused.value, "t.xml")


def refuse_tree(body: str, data: str = "", *, outside: str = "") -> tuple[Problem, ...]:
    """Problems of the model of `write_tree`."""
    return refuse_xml(write_tree(body, data, outside=outside))


def refuse_json(document: Any, limits: ReadLimits = LIMITS) -> tuple[Problem, ...]:
    """Problems for which plain JSON is refused; bytes are taken as they are."""
    source = document if isinstance(document, bytes) else json.dumps(document).encode()
    with pytest.raises(BadModel) as refused:
        read_json(source, file="t.json", limits=limits)
    return _checked(refused.value, "t.json")


def _checked(refused: BadModel, file: str) -> tuple[Problem, ...]:
    for problem in refused.problems:
        assert problem.file == file
        assert problem.message
        assert problem.mend
        assert "\n" not in str(problem)
    assert refused.problems
    return refused.problems
