"""What exchange XML says is what the model holds."""

from __future__ import annotations

import pytest

from faulttree.engine.model import (
    Call,
    Combination,
    Connective,
    Container,
    MissionTime,
    Number,
    ParameterReference,
    Reference,
    Truth,
    references,
)
from faulttree.engine.validate import find_tops
from tests.engine.exchange.documents import define_events, read_tree
from tests.engine.models import both, either

T = MissionTime()


def _formula(body: str) -> object:
    return read_tree(f'{define_events("a", "b", "c")}<define-gate name="g">{body}</define-gate>').gates["g"].formula


A, B, C = (f'<basic-event name="{name}"/>' for name in "abc")


@pytest.mark.parametrize("connective", ["and", "or", "xor", "iff", "nand", "nor"])
def test_connectives_of_any_number_of_arguments(connective: str) -> None:
    expected = Combination(Connective(connective), (Reference("a"), Reference("b"), Reference("c")))
    assert _formula(f"<{connective}>{A}{B}{C}</{connective}>") == expected


def test_connectives_with_counts() -> None:
    arguments = (Reference("a"), Reference("b"), Reference("c"))
    assert _formula(f'<atleast min="2">{A}{B}{C}</atleast>') == Combination(Connective.ATLEAST, arguments, 2)
    cardinality = _formula(f'<cardinality min="0" max="2">{A}{B}{C}</cardinality>')
    assert cardinality == Combination(Connective.CARDINALITY, arguments, 0, 2)


def test_nested_formulas_negation_and_implication() -> None:
    formula = _formula(f"<or><and>{A}<not>{B}</not></and><imply>{B}{C}</imply></or>")
    assert formula == either(both("a", "-b"), Combination(Connective.IMPLY, (Reference("b"), Reference("c"))))


def test_pass_through_gates_and_constants() -> None:
    assert _formula(A) == Reference("a")
    assert _formula('<constant value="true"/>') == Truth(True)


def test_typed_and_general_references_mean_the_same() -> None:
    typed = _formula(f'<or>{A}<event name="b"/><event name="c" type="basic-event"/></or>')
    assert typed == either("a", "b", "c")


def test_a_house_event_is_false_unless_said_otherwise() -> None:
    model = read_tree(
        '<define-house-event name="h"/><define-house-event name="i"><constant value="true"/></define-house-event>'
    )
    assert {name: house.value for name, house in model.house_events.items()} == {"h": False, "i": True}


def test_an_event_without_expression_is_read() -> None:
    assert read_tree(define_events("e")).basic_events["e"].expression is None


def test_labels_attributes_units_and_lines() -> None:
    model = read_tree(
        '<define-parameter name="p" unit="hours-1">\n<label> rate\n of  pumps </label>'
        '<attributes><attribute name="source" value="bench" type="text"/></attributes>\n<float value="1e-5"/>'
        "</define-parameter>"
    )
    parameter = model.parameters["p"]
    assert (parameter.unit, parameter.placing.label, parameter.placing.line) == ("hours-1", "rate of pumps", 3)
    assert parameter.placing.attributes == (("source", "bench", "text"),)


def _expression(body: str) -> object:
    guard = (
        f"<ite><gt><system-mission-time/><float value='0'/></gt>{body}<float value='0'/></ite>"  # so none is checked
    )
    model = read_tree(
        f'<define-parameter name="p"><float value="0.5"/></define-parameter>'
        f'<define-basic-event name="e">{guard}</define-basic-event>'
    )
    guarded = model.basic_events["e"].expression
    assert isinstance(guarded, Call)
    return guarded.arguments[1]


ONE, TWO = '<float value="1"/>', '<int value="2"/>'


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<float value=" 1.5e-3 "/>', Number(1.5e-3)),
        ('<int value="3"/>', Number(3.0)),
        ('<bool value="true"/>', Number(1.0)),
        ('<bool value="false"/>', Number(0.0)),
        ('<parameter name="p"/>', ParameterReference("p")),
        ("<system-mission-time/>", T),
        ("<pi/>", Call("pi")),
        (f"<neg>{ONE}</neg>", Call("neg", (Number(1.0),))),
        (f"<sub>{ONE}{TWO}</sub>", Call("sub", (Number(1.0), Number(2.0)))),
        (f"<mean>{ONE}{TWO}{TWO}</mean>", Call("mean", (Number(1.0), Number(2.0), Number(2.0)))),
        (
            f"<exponential>{ONE}<system-mission-time/></exponential>",
            Call("exponential", (Number(1.0), T)),
        ),
        (f"<GLM>{ONE}{ONE}{TWO}{TWO}</GLM>", Call("GLM", (Number(1.0), Number(1.0), Number(2.0), Number(2.0)))),
        (
            f"<Weibull>{ONE}{ONE}{TWO}{TWO}</Weibull>",
            Call("Weibull", (Number(1.0), Number(1.0), Number(2.0), Number(2.0))),
        ),
        (f"<periodic-test>{ONE * 4}</periodic-test>", Call("periodic-test", (Number(1.0),) * 4)),
        (f"<periodic-test>{ONE * 5}</periodic-test>", Call("periodic-test", (Number(1.0),) * 5)),
        (f"<lognormal-deviate>{ONE}{TWO}</lognormal-deviate>", Call("lognormal-deviate", (Number(1.0), Number(2.0)))),
        (f"<lognormal-deviate>{ONE * 3}</lognormal-deviate>", Call("lognormal-deviate", (Number(1.0),) * 3)),
        (
            f"<histogram>{ONE}<bin>{TWO}{ONE}</bin><bin>{TWO}{TWO}</bin></histogram>",
            Call("histogram", (Number(1.0), Number(2.0), Number(1.0), Number(2.0), Number(2.0))),
        ),
        (
            f"<switch><case>{ONE}{TWO}</case>{ONE}</switch>",
            Call("switch", (Number(1.0), Number(2.0), Number(1.0))),
        ),
    ],
)
def test_expressions(body: str, expected: object) -> None:
    assert _expression(body) == expected


def test_common_cause_groups() -> None:
    """Both forms of the factors; source of the example: Open-PSA Model Exchange Format, meta-logical layer."""
    model = read_tree(
        define_events("a", "b", "c", "d")
        + f'<define-CCF-group name="one" model="beta-factor"><members>{A}{B}</members>'
        + '<distribution><float value="1e-3"/></distribution><factor><float value="0.1"/></factor></define-CCF-group>',
        outside=f'<define-CCF-group name="two" model="MGL"><members>{C}<basic-event name="d"/></members>'
        '<distribution><float value="1e-3"/></distribution>'
        '<factors><factor level="2"><float value="0.2"/></factor></factors></define-CCF-group>',
    )
    one, two = model.common_cause_groups["one"], model.common_cause_groups["two"]
    assert (one.model, one.members, one.factors) == ("beta-factor", ("a", "b"), ((2, Number(0.1)),))
    assert (two.members, two.factors, two.placing.path) == (("c", "d"), ((2, Number(0.2)),), ())


def test_levels_of_factors_are_counted_where_not_given_and_sorted_where_given() -> None:
    group = '<define-CCF-group name="{}" model="alpha-factor"><members>{}</members>'
    group += '<distribution><float value="1e-3"/></distribution><factors>{}</factors></define-CCF-group>'
    counted = '<factor><float value="0.9"/></factor><factor><float value="0.1"/></factor>'
    given = '<factor level="2"><float value="0.1"/></factor><factor level="1"><float value="0.9"/></factor>'
    model = read_tree(
        define_events("a", "b", "c", "d")
        + group.format("x", A + B, counted)
        + group.format("y", C + '<basic-event name="d"/>', given)
    )
    for name in "xy":
        assert model.common_cause_groups[name].factors == ((1, Number(0.9)), (2, Number(0.1)))


SCOPES = """
<define-basic-event name="pump"/>
<define-basic-event name="shared"/>
<define-gate name="top"><or><gate name="t.left.out"/><gate name="out"/><basic-event name="pump"/></or></define-gate>
<define-component name="left" role="private">
  <define-basic-event name="pump"/>
  <define-gate name="out">
    <and><basic-event name="pump"/><basic-event name="shared"/><event name="t.pump"/></and>
  </define-gate>
</define-component>
<define-component name="right">
  <define-basic-event name="pump" role="private"/>
  <define-component name="inner"><define-basic-event name="seal"/></define-component>
  <define-gate name="out"><and><basic-event name="pump"/><basic-event name="inner.seal"/></and></define-gate>
</define-component>
"""


def test_public_and_private_names_and_dotted_paths() -> None:
    model = read_tree(SCOPES)
    assert set(model.basic_events) == {"pump", "shared", "t.left.pump", "t.right.pump", "seal"}
    assert set(model.gates) == {"top", "t.left.out", "out"}
    assert list(references(model.gates["top"].formula)) == ["t.left.out", "out", "pump"]
    assert list(references(model.gates["t.left.out"].formula)) == ["t.left.pump", "shared", "pump"]
    assert list(references(model.gates["out"].formula)) == ["t.right.pump", "seal"]
    assert find_tops(model) == ("top",)
    assert model.containers == (
        Container(("t",)),
        Container(("t", "left"), "private"),
        Container(("t", "right")),
        Container(("t", "right", "inner")),
    )


def test_a_private_name_is_not_known_outside_by_itself() -> None:
    body = '<define-component name="c" role="private"><define-basic-event name="e"/></define-component>'
    assert read_tree(body + '<define-gate name="g"><event name="t.c.e"/></define-gate>').gates
    assert read_tree(body + '<define-gate name="g"><event name="c.e"/></define-gate>').gates


def test_a_component_structured_tree_shares_its_events() -> None:
    """The tree of the standard's chapter on components; source: Open-PSA Model Exchange Format, fault-tree layer."""
    parts = "".join(
        f'<define-component name="part{i}"><define-gate name="G{i}"><and><basic-event name="BE1"/>'
        f'<basic-event name="BE{i + 1}"/></and></define-gate></define-component>'
        for i in (1, 2, 3)
    )
    top = '<define-gate name="TOP"><or><gate name="G1"/><gate name="G2"/><gate name="G3"/></or></define-gate>'
    values = {"BE1": 1.2e-3, "BE2": 2.4e-3, "BE3": 5.2e-3, "BE4": 1.6e-3}
    data = "".join(
        f'<define-basic-event name="{name}"><float value="{value}"/></define-basic-event>'
        for name, value in values.items()
    )
    model = read_tree(top + parts, data)
    assert find_tops(model) == ("TOP",)
    assert list(references(model.gates["G2"].formula)) == ["BE1", "BE3"]


def test_five_thousand_gates_in_a_chain_are_read() -> None:
    chain = "".join(
        f'<define-gate name="g{i}"><or><gate name="g{i + 1}"/><basic-event name="e"/></or></define-gate>'
        for i in range(5_000)
    )
    model = read_tree(chain + '<define-gate name="g5000"><basic-event name="e"/></define-gate>' + define_events("e"))
    assert len(model.gates) == 5_001
    assert find_tops(model) == ("g0",)
