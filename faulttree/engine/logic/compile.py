"""From a model to a netlist: resolve names, set house events, unfold formulas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from faulttree.engine.logic.build import NetBuilder
from faulttree.engine.logic.netlist import FALSE, TRUE, Literal, Netlist
from faulttree.engine.model import Combination, Connective, Formula, Model, Reference, Truth, references


def order_gates(model: Model, tops: Iterable[str]) -> list[str]:
    """Names of the gates below the tops, arguments before users; the model must have no cycle."""
    order: list[str] = []
    seen: set[str] = set()
    for top in tops:
        if top in seen or top not in model.gates:
            continue
        seen.add(top)
        stack = [(top, references(model.gates[top].formula))]
        while stack:
            name, below = stack[-1]
            for child in below:
                if child in model.gates and child not in seen:
                    seen.add(child)
                    stack.append((child, references(model.gates[child].formula)))
                    break
            else:
                order.append(name)
                stack.pop()
    return order


def compile_model(model: Model, top: str, evidence: Mapping[str, bool] | None = None) -> Netlist:
    """Return the netlist of a top event, or of "top and evidence" when evidence is given.

    Common-cause groups must be expanded and the model checked before. Variables are the basic
    events below the top and the evidence, in the order a depth-first walk meets them.

    evidence : event or gate name -> True (occurred) or False (did not occur)
    """
    facts = dict(evidence or {})
    gate_order = order_gates(model, [top, *facts])
    builder = NetBuilder(_variables(model, [*facts, *gate_order]))
    literal: dict[str, Literal] = {name: 2 * i for i, name in enumerate(builder.variables)}
    literal.update((name, TRUE if event.value else FALSE) for name, event in model.house_events.items())
    for name in gate_order:
        literal[name] = _literal_of(builder, model.gates[name].formula, literal)
    root = builder.both(
        [literal[top], *(literal[name] if is_true else literal[name] ^ 1 for name, is_true in facts.items())]
    )
    return builder.finish(root)


def _variables(model: Model, names: Iterable[str]) -> list[str]:
    found: dict[str, None] = {}
    for name in names:
        if name in model.basic_events:
            found[name] = None
        elif name in model.gates:
            found.update((n, None) for n in references(model.gates[name].formula) if n in model.basic_events)
    return list(found)


def _literal_of(builder: NetBuilder, formula: Formula, known: Mapping[str, Literal]) -> Literal:
    """Literal of a formula; recursion is as deep as one formula is nested, which readers limit."""
    if isinstance(formula, Reference):
        return known[formula.name]
    if isinstance(formula, Truth):
        return TRUE if formula.value else FALSE
    arguments = [_literal_of(builder, argument, known) for argument in formula.arguments]
    return _combine(builder, formula, arguments)


def _combine(builder: NetBuilder, formula: Combination, arguments: list[Literal]) -> Literal:
    match formula.connective:
        case Connective.AND:
            return builder.both(arguments)
        case Connective.OR:
            return builder.either(arguments)
        case Connective.NOT:
            return arguments[0] ^ 1
        case Connective.XOR:
            return builder.odd(arguments)
        case Connective.IFF:
            return builder.odd(arguments) ^ (1 - len(arguments) % 2)
        case Connective.NAND:
            return builder.both(arguments) ^ 1
        case Connective.NOR:
            return builder.either(arguments) ^ 1
        case Connective.IMPLY:
            return builder.either([arguments[0] ^ 1, arguments[1]])
        case Connective.ATLEAST:
            assert formula.low is not None
            return builder.at_least(formula.low, arguments)
        case Connective.CARDINALITY:
            assert formula.low is not None
            assert formula.high is not None
            enough = builder.at_least(formula.low, arguments)
            return builder.both([enough, builder.at_least(formula.high + 1, arguments) ^ 1])
