"""What is written fits the schema of its format, held by a validating parser that shares no code with the writers.

Source: Open-PSA Model Exchange Format, as put into exchange.rng beside this file.
"""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings

from faulttree.engine.exchange.plain_json import write_json
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import Model
from tests.engine.exchange.documents import define_events, write_tree
from tests.engine.exchange.layered_models import layered_models
from tests.engine.exchange.schemas import PLAIN_JSON, find_faults
from tests.trees import ROOT, needs_trees, trees_folder

EXAMPLES = sorted((ROOT / "fixtures" / "trees").glob("*.xml"))
GOOD = write_tree(f'<define-gate name="g"><or><basic-event name="a"/></or></define-gate>{define_events("a")}')


@settings(max_examples=150, deadline=None)
@given(layered_models())
def test_any_model_is_written_as_the_schemas_ask(model: Model) -> None:
    assert find_faults(write_open_psa(model)) == []
    PLAIN_JSON.validate(json.loads(write_json(model)))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example_trees_are_written_as_the_schemas_ask(path) -> None:
    model = read_open_psa(path.read_bytes())
    assert find_faults(path.read_bytes()) == []
    assert find_faults(write_open_psa(model)) == []
    PLAIN_JSON.validate(json.loads(write_json(model)))


@needs_trees
def test_benchmark_trees_are_written_as_the_schema_asks() -> None:
    folder = trees_folder()
    assert folder is not None
    for path in sorted(folder.glob("*.xml")):
        assert find_faults(write_open_psa(read_open_psa(path.read_bytes()))) == [], path.name


@pytest.mark.parametrize(
    ("there", "instead"),
    [
        (b"<or>", b"<or><surprise/>"),
        (b'<define-gate name="g">', b'<define-gate name="g.h">'),
        (b'<define-gate name="g">', b'<define-gate name="g" role="hidden">'),
        (b'<define-gate name="g">', b"<define-gate>"),
        (b'<or><basic-event name="a"/></or>', b""),
        (b'<or><basic-event name="a"/></or>', b'<atleast><basic-event name="a"/></atleast>'),
        (b'<define-basic-event name="a"/>', b'<define-basic-event name="a"><float value="x"/></define-basic-event>'),
        (b"</opsa-mef>", b"<define-gate/></opsa-mef>"),
    ],
)
def test_the_schema_finds_what_is_wrong(there: bytes, instead: bytes) -> None:
    assert find_faults(GOOD) == []
    assert there in GOOD
    assert find_faults(GOOD.replace(there, instead, 1))
