"""Models of several trees put together, and values of the library filled in."""

from __future__ import annotations

import pytest

from faulttree.engine.editing.assemble import Transferred, assemble, find_torn_groups, take_branch
from faulttree.engine.editing.marks import LIBRARY, TRANSFER, with_mark
from faulttree.engine.editing.shared import SharedDefinition, find_shared, follow_shared, replace_shared
from faulttree.engine.errors import BadModel
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.model import BasicEvent, Call, Gate, Model, Number, Parameter, ParameterReference, Placing, Truth
from faulttree.engine.quantify import quantify
from faulttree.engine.validate import check_model

MAIN = """<opsa-mef><define-fault-tree name="main">
<define-gate name="top"><or><gate name="power"/><basic-event name="a"/></or></define-gate>
<define-gate name="power"><attributes><attribute name="transfer" value="2/1/lost"/></attributes>
  <constant value="false"/></define-gate>
<define-basic-event name="a"><float value="0.1"/></define-basic-event>
</define-fault-tree></opsa-mef>"""
OTHER = """<opsa-mef><define-fault-tree name="supply">
<define-gate name="lost"><and><gate name="top"/><basic-event name="b"/></and></define-gate>
<define-gate name="top"><or><basic-event name="a"/><basic-event name="c"/></or></define-gate>
<define-basic-event name="a"><float value="0.1"/></define-basic-event>
<define-basic-event name="b"><float value="0.2"/></define-basic-event>
<define-basic-event name="c"><float value="0.3"/></define-basic-event>
</define-fault-tree></opsa-mef>"""


def put_together(main=MAIN, other=OTHER):
    there = Transferred("power", "supply", read_open_psa(other.encode()), "lost")
    return assemble(read_open_psa(main.encode()), (there,), tree="main")


def test_a_transfer_counts_as_the_branch_it_stands_for():
    model = put_together()
    check_model(model)
    # a or (b and (a or c)) = a or (b and c), by hand
    assert quantify(model).probability == pytest.approx(1 - 0.9 * (1 - 0.2 * 0.3), rel=1e-12)
    assert set(model.gates) == {"top", "power", "lost", "top-in-supply"}
    assert not any(name == TRANSFER for gate in model.gates.values() for name, _, _ in gate.placing.attributes)


def test_a_gate_above_a_renamed_one_is_another_too_and_one_that_is_alike_is_the_same():
    main = MAIN.replace(
        "</define-fault-tree>",
        '<define-gate name="lost"><and><gate name="top"/><basic-event name="b"/></and></define-gate>'
        '<define-gate name="alike"><or><basic-event name="b"/></or></define-gate>'
        '<define-basic-event name="b"><float value="0.2"/></define-basic-event></define-fault-tree>',
    )
    other = OTHER.replace('<basic-event name="b"/></and>', '<basic-event name="b"/><gate name="alike"/></and>').replace(
        "</define-fault-tree>",
        '<define-gate name="alike"><or><basic-event name="b"/></or></define-gate></define-fault-tree>',
    )
    model = put_together(main, other)
    assert {"lost", "lost-in-supply", "top-in-supply", "alike"} <= set(model.gates)
    assert "alike-in-supply" not in model.gates
    check_model(model)


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ('"a"><float value="0.1"/>', '"a"><float value="0.2"/>', "Basic event a"),
        ('name="c"', 'name="power"', "power is a gate"),
    ],
)
def test_one_name_with_two_meanings_is_refused_with_both_trees_and_a_mend(old, new, named):
    other = OTHER.replace(old, new)
    with pytest.raises(BadModel) as refused:
        put_together(other=other)
    text = str(refused.value)
    assert named in text
    assert "main" in text
    assert "supply" in text
    assert "ename" in text


def test_a_group_of_one_tree_only_is_refused():
    group = (
        '<define-CCF-group name="g" model="beta-factor"><members><basic-event name="a"/><basic-event name="c"/>'
        '</members><distribution><float value="0.1"/></distribution><factors><factor level="2"><float value="0.1"/>'
        "</factor></factors></define-CCF-group></define-fault-tree>"
    )
    other = OTHER.replace("</define-fault-tree>", group)
    other = other.replace('<define-basic-event name="a"><float value="0.1"/>', '<define-basic-event name="a">')
    other = other.replace('<define-basic-event name="c"><float value="0.3"/>', '<define-basic-event name="c">')
    with pytest.raises(BadModel, match="a"):
        put_together(other=other)
    assert find_torn_groups(read_open_psa(other.encode()), "top") == []
    split = other.replace('<or><basic-event name="a"/><basic-event name="c"/></or>', '<or><basic-event name="a"/></or>')
    split = split.replace('<and><gate name="top"/>', '<and><gate name="top"/><basic-event name="c"/>')
    assert find_torn_groups(read_open_psa(split.encode()), "top") == ["g"]


def test_a_branch_has_what_it_needs_and_nothing_else():
    branch = take_branch(read_open_psa(OTHER.encode()), "top")
    assert set(branch.gates) == {"top"}
    assert set(branch.basic_events) == {"a", "c"}


def shared_model() -> Model:
    marked = with_mark(Placing(), LIBRARY, "valve")
    return Model(
        gates={"top": Gate("top", Truth(True))},
        basic_events={"v": BasicEvent("v", Number(0.5), marked), "w": BasicEvent("w", ParameterReference("rate"))},
        parameters={
            "rate": Parameter("rate", Number(0.25)),
            "own": Parameter("own", Number(0.1), placing=with_mark(Placing(), LIBRARY, "wear")),
        },
    )


LIBRARY_NOW = {
    ("event", "valve"): SharedDefinition(
        "event", "valve", Call("mul", (ParameterReference("rate"), ParameterReference("wear")))
    ),
    ("parameter", "rate"): SharedDefinition("parameter", "rate", ParameterReference("wear")),
    ("parameter", "wear"): SharedDefinition("parameter", "wear", Number(0.125), unit="hours-1"),
    ("parameter", "other"): SharedDefinition("parameter", "other", Number(9.0)),
}


def test_shared_elements_are_worth_what_the_library_says_and_own_names_are_left_alone():
    model = replace_shared(shared_model(), LIBRARY_NOW)
    assert model.parameters["rate"].expression == Number(0.25)  # the tree's own, only called alike
    assert model.basic_events["v"].expression == Call("mul", (ParameterReference("rate-2"), ParameterReference("own")))
    assert model.parameters["rate-2"].expression == ParameterReference("own")
    assert (model.parameters["own"].expression, model.parameters["own"].unit) == (Number(0.125), "hours-1")
    assert model.basic_events["w"].expression == ParameterReference("rate")


def test_what_is_used_is_followed_and_what_is_not_there_stays():
    used = follow_shared(find_shared(shared_model()), LIBRARY_NOW)
    assert used == (("event", "valve"), ("parameter", "rate"), ("parameter", "wear"))
    assert replace_shared(shared_model(), {}) == shared_model()
