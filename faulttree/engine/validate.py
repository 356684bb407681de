"""Whether a model makes sense: all its faults at once, each with what to do about it."""

from __future__ import annotations

from faulttree.engine.checks.cycles import check_gate_cycles, check_parameter_cycles
from faulttree.engine.checks.groups import check_groups
from faulttree.engine.checks.structure import (
    check_event_references,
    check_formulas,
    check_names,
    check_parameter_references,
)
from faulttree.engine.checks.values import check_values
from faulttree.engine.errors import BadModel, Problem
from faulttree.engine.model import Model, references
from faulttree.engine.problems import Problems, suggest_name


def check_model(model: Model, *, file: str = "") -> None:
    """Raise BadModel with every problem of the model: names, references, cycles, counts, groups, numbers.

    file : name used in messages. At most MAX_PROBLEMS are listed; the last one says so when there are more.
    """
    problems = Problems(file)
    check_names(problems, model)
    check_event_references(problems, model)
    check_formulas(problems, model)
    check_gate_cycles(problems, model)
    check_groups(problems, model)
    defined = check_parameter_references(problems, model)
    if check_parameter_cycles(problems, model) and defined:
        check_values(problems, model)
    problems.raise_any()


def find_tops(model: Model) -> tuple[str, ...]:
    """Return the gates that no other gate uses, in the order of the source."""
    used = {name for gate in model.gates.values() for name in references(gate.formula)}
    return tuple(name for name in model.gates if name not in used)


def choose_top(model: Model, top: str | None = None) -> str:
    """Return the top event asked for, or the only one there is; raises BadModel when that is not clear."""
    if top is not None:
        if top in model.gates:
            return top
        mend = suggest_name(top, model.gates, otherwise="Name one of the gates.")
        raise BadModel(Problem(f"There is no gate {top}.", mend, "top"))
    tops = find_tops(model)
    if len(tops) == 1:
        return tops[0]
    if not model.gates:
        raise BadModel(Problem("The model has no gate.", "Define at least one gate.", "top"))
    if not tops:
        raise BadModel(Problem("Every gate is below another one.", "Break the circle.", "top"))
    raise BadModel(Problem(f"There are {len(tops)} top events: {', '.join(tops)}.", "Choose one of them.", "top"))
