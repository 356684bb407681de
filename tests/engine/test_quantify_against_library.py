"""Random trees too large to enumerate, against a general-purpose decision-diagram library (CUDD through `dd`)."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from faulttree.engine.model import Combination, Connective, Formula, Model, Number, Reference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from tests.engine.models import combine, make_model, top_of

cudd = pytest.importorskip("dd.cudd", reason="the library dd was installed without its CUDD part")

EVENTS = 24


def _random_tree(seed: int, *, coherent: bool) -> Model:
    """A tree of 24 events and 16 gates that share events and gates."""
    chance = random.Random(seed)
    events = {f"e{i}": 10 ** chance.uniform(-4, -0.2) for i in range(EVENTS)}
    kinds = ["and", "or", "or", "atleast"] + ([] if coherent else ["xor", "not", "nand", "imply"])
    gates: dict[str, Formula] = {}
    unused = list(events)
    chance.shuffle(unused)
    for g in range(16):
        kind = chance.choice(kinds)
        count = {"not": 1, "imply": 2}.get(kind, chance.randint(2, 4))
        pool = [*unused[:3], *list(gates)[-4:], chance.choice(list(events))]
        arguments = [pool[chance.randrange(len(pool))] for _ in range(count)]
        unused = [name for name in unused if name not in arguments]
        gates[f"g{g}"] = combine(kind, *arguments, low=chance.randint(1, count) if kind == "atleast" else None)
    gates["top"] = combine("or", *list(gates)[-5:])
    return make_model(gates, events)


class Library:
    """The same function as a diagram of the library, with its own traversal for figures."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.p: Mapping[str, float] = {name: _number(model, name) for name in model.basic_events}
        self.manager = cudd.BDD()
        self.manager.declare(*self.p)
        self.edges: dict[str, Any] = {name: self.manager.var(name) for name in self.p}
        for name, gate in model.gates.items():
            self.edges[name] = self.build(gate.formula)

    def build(self, formula: Formula) -> Any:
        if isinstance(formula, Reference):
            return self.edges[formula.name]
        assert isinstance(formula, Combination)
        parts = [self.build(argument) for argument in formula.arguments]
        match formula.connective:
            case Connective.NOT:
                return ~parts[0]
            case Connective.IMPLY:
                return ~parts[0] | parts[1]
            case Connective.ATLEAST:
                return self._at_least(formula.low or 0, parts)
        operations = {Connective.AND: "and", Connective.NAND: "and", Connective.OR: "or", Connective.XOR: "xor"}
        result = parts[0]
        for part in parts[1:]:
            result = self.manager.apply(operations[formula.connective], result, part)
        return ~result if formula.connective == Connective.NAND else result

    def _at_least(self, k: int, parts: list[Any]) -> Any:
        if k <= 0:
            return self.manager.true
        if len(parts) < k:
            return self.manager.false
        return self.manager.ite(parts[0], self._at_least(k - 1, parts[1:]), self._at_least(k, parts[1:]))

    def probability(self, edge: Any) -> float:
        known: dict[int, float] = {}

        def visit(u: Any) -> float:
            if u in (self.manager.true, self.manager.false):
                return float(u == self.manager.true)
            if int(u) not in known:
                v = u.var
                low, high = self.manager.let({v: False}, u), self.manager.let({v: True}, u)
                known[int(u)] = (1.0 - self.p[v]) * visit(low) + self.p[v] * visit(high)
            return known[int(u)]

        return visit(edge)

    def given(self, edge: Any, name: str, value: bool) -> float:
        return self.probability(self.manager.let({name: value}, edge))


def _number(model: Model, name: str) -> float:
    expression = model.basic_events[name].expression
    assert isinstance(expression, Number)
    return expression.value


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_probability_and_conditional_probabilities(seed: int, coherent: bool) -> None:
    model = _random_tree(seed, coherent=coherent)
    library = Library(model)
    top = library.edges["top"]
    result = quantify(model, Request(top="top", list_count=0))
    whole = library.probability(top)
    assert result.probability == pytest.approx(whole, rel=1e-9, abs=1e-14)
    for name, measures in result.importance.items():
        one, zero = library.given(top, name, True), library.given(top, name, False)
        assert measures.birnbaum == pytest.approx(one - zero, rel=1e-7, abs=1e-12)
        if whole > 1e-12:
            assert measures.risk_achievement_worth == pytest.approx(one / whole, rel=1e-7)
            assert measures.diagnostic == pytest.approx(library.p[name] * one / whole, rel=1e-7, abs=1e-12)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_cut_sets_are_minimal_and_together_are_the_function(seed: int) -> None:
    model = _random_tree(seed, coherent=True)
    library = Library(model)
    top = library.edges["top"]
    result = quantify(model, Request(top="top", list_count=3_000))
    assert result.cut_sets is not None
    if result.cut_sets.count > 3_000:
        return
    union = library.manager.false
    for cut in result.cut_sets.listed:
        product = library.manager.cube(dict.fromkeys(cut.events, True))
        assert product & ~top == library.manager.false
        for event in cut.events:
            smaller = library.manager.cube(dict.fromkeys((n for n in cut.events if n != event), True))
            assert smaller & ~top != library.manager.false
        union |= product
    assert union == top


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.booleans())
def test_posterior_with_evidence_on_gates_and_events(seed: int, coherent: bool) -> None:
    model = _random_tree(seed, coherent=coherent)
    library = Library(model)
    chance = random.Random(seed)
    evidence = {f"g{chance.randrange(16)}": chance.random() < 0.7, f"e{chance.randrange(EVENTS)}": False}
    joint = library.edges[top_of(model)]
    for name, value in evidence.items():
        joint = joint & (library.edges[name] if value else ~library.edges[name])
    whole = library.probability(joint)
    if whole < 1e-12:
        return
    diagnosis = quantify(model, Request(top="top", evidence=evidence, list_count=0)).diagnosis
    assert diagnosis is not None
    assert diagnosis.evidence_probability == pytest.approx(whole, rel=1e-8)
    for name, posterior in diagnosis.posterior.items():
        expected = library.p[name] * library.given(joint, name, True) / whole
        assert posterior == pytest.approx(expected, rel=1e-6, abs=1e-9)
