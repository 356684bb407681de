"""What is written is exchange XML that means the model; what can't be said is refused."""

from __future__ import annotations

import pytest

from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.exchange.write_xml import write_open_psa
from faulttree.engine.model import (
    BasicEvent,
    Call,
    Container,
    Gate,
    Model,
    Number,
    Placing,
    Reference,
)
from tests.engine.exchange.documents import read_tree
from tests.engine.models import combine, either, make_model


def test_a_small_model_is_written_plainly() -> None:
    model = read_tree(
        '<define-gate name="g"><label>a &amp; b</label><or><event name="e"/></or></define-gate>',
        '<define-basic-event name="e"><float value="1.5e-3"/></define-basic-event>',
    )
    assert write_open_psa(model).decode() == (
        "<?xml version='1.0' encoding='UTF-8'?>\n"
        "<opsa-mef>\n"
        '  <define-fault-tree name="t">\n'
        '    <define-gate name="g">\n'
        "      <label>a &amp; b</label>\n"
        "      <or>\n"
        '        <basic-event name="e"/>\n'
        "      </or>\n"
        "    </define-gate>\n"
        "  </define-fault-tree>\n"
        "  <model-data>\n"
        '    <define-basic-event name="e">\n'
        '      <float value="0.0015"/>\n'
        "    </define-basic-event>\n"
        "  </model-data>\n"
        "</opsa-mef>\n"
    )


def test_bins_and_cases_are_written_as_the_standard_has_them() -> None:
    histogram = Call("histogram", tuple(map(Number, (0.0, 1.0, 0.1, 2.0, 0.2))))
    switch = Call("switch", tuple(map(Number, (1.0, 0.3, 0.4))))
    source = write_open_psa(make_model({}, {"h": histogram, "s": switch})).decode()
    text = "".join(source.split())
    start, rest = '<floatvalue="0.0"/>', '<floatvalue="1.0"/><floatvalue="0.1"/>'
    assert f"<histogram>{start}<bin>{rest}</bin><bin>" in text
    assert '<switch><case><floatvalue="1.0"/><floatvalue="0.3"/></case><floatvalue="0.4"/></switch>' in text


@pytest.mark.parametrize(
    ("name", "containers", "tree"),
    [
        ("", (), "fault-tree-1"),
        ("pumps", (), "pumps"),
        ("no name", (), "fault-tree-1"),
        ("pumps", (Container(("pumps",)), Container(("fault-tree-1",))), "fault-tree-2"),
    ],
)
def test_gates_without_a_fault_tree_get_one_of_their_own(
    name: str, containers: tuple[Container, ...], tree: str
) -> None:
    plain = make_model({"g": either("e"), "top": either("g", "h")}, {"e": 0.1}, {"h": True})
    model = Model(name, "", containers, plain.gates, plain.basic_events, plain.house_events)
    again = read_open_psa(write_open_psa(model))
    assert {gate.placing.path for gate in again.gates.values()} == {(tree,)}
    assert {name: gate.formula for name, gate in again.gates.items()} == {
        name: gate.formula for name, gate in model.gates.items()
    }
    assert again.basic_events == model.basic_events


def test_counts_are_written() -> None:
    formulas = {"g": combine("atleast", "a", "b", low=1), "h": combine("cardinality", "a", "b", low=0, high=1)}
    model = make_model(formulas, {"a": 0.1, "b": 0.2})
    again = read_open_psa(write_open_psa(model))
    assert {name: gate.formula for name, gate in again.gates.items()} == formulas


def test_numbers_keep_every_digit() -> None:
    values = {"a": 1.0 / 3.0, "b": 5e-324, "c": 0.1 + 0.2, "d": 1.7976931348623157e-308}
    again = read_open_psa(write_open_psa(make_model({}, values)))
    assert {name: event.expression for name, event in again.basic_events.items()} == {
        name: Number(value) for name, value in values.items()
    }


def _refuse(model: Model) -> str:
    with pytest.raises(BadModel) as refused:
        write_open_psa(model)
    return str(refused.value)


def test_a_name_that_is_no_xml_name_is_refused() -> None:
    assert "'not a name' is not a name." in _refuse(make_model({}, {"not a name": 0.1}))
    assert "'1st' is not a name." in _refuse(Model(containers=(Container(("1st",)),)))


def test_a_name_that_does_not_fit_its_place_is_refused() -> None:
    placing = Placing(("t",), "private")
    said = _refuse(Model(containers=(Container(("t",)),), basic_events={"e": BasicEvent("e", None, placing)}))
    assert said.startswith("basic-event e: The name does not fit a private basic-event of t.")


def test_a_character_that_xml_has_not_is_refused() -> None:
    said = _refuse(Model(label="bell \x07"))
    assert said.startswith("the model: The text 'bell \\x07' holds the character '\\x07', which XML can't hold.")


def test_a_reference_that_a_nearer_name_hides_is_refused() -> None:
    model = Model(
        containers=(Container(("t",)),),
        gates={"g": Gate("g", Reference("e"), Placing(("t",)))},
        basic_events={"e": BasicEvent("e"), "t.e": BasicEvent("t.e", None, Placing(("t",), "private"))},
    )
    said = _refuse(model)
    assert said.startswith("Gate g: It refers to e, which is not defined or which a name nearer to it hides.")


def test_a_public_name_hidden_by_a_nearer_one_is_written_as_its_path() -> None:
    model = Model(
        containers=(Container(("s",)), Container(("t",))),
        gates={"g": Gate("g", Reference("e"), Placing(("t",)))},
        basic_events={
            "e": BasicEvent("e", None, Placing(("s",))),
            "t.e": BasicEvent("t.e", None, Placing(("t",), "private")),
        },
    )
    source = write_open_psa(model)
    assert b'<basic-event name="s.e"/>' in source
    assert read_open_psa(source) == model
