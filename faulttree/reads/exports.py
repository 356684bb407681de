"""What files hold that leave the service, and what they are called."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import chain
from typing import Any

from django.http import QueryDict
from django.shortcuts import get_object_or_404

from config.kit.addresses import read_key
from config.kit.downloads import name_file
from config.kit.errors import WrongState
from config.kit.permissions import Actor
from faulttree.drawing.graph import FaultGraph
from faulttree.models import Run, TreeRevision
from faulttree.reads.answers import Answer, read_answer
from faulttree.reads.tables import MEASURES, EventName, list_cut_sets, list_importance

Row = list[Any]

CUT_SETS_HEAD = ["number", "order", "probability", "share of the top event", "events", "titles"]
IMPORTANCE_HEAD = ["event", "title", "probability", *(measure.name for measure in MEASURES)]
NO_ANSWER = "This run has no answer yet. Wait until it is done, or look at why it ended."
NO_CUT_SETS = "This run gives no minimal cut sets; the notes of its answer say why. Ask for a run with a larger budget."
NO_IMPORTANCE = (
    "This run gives no importance measures: they need the exact solution, and a bracket has none. "
    "Ask for a run with a larger budget."
)


def name_revision(revision: TreeRevision) -> str:
    """Return how the files of a revision begin: suit-cooling-revision-2."""
    return f"{name_file(revision.tree.name, f'tree-{revision.tree_id}')}-revision-{revision.number}"


def name_run(run: Run) -> str:
    """Return how the files of a run begin."""
    return f"{name_revision(run.revision)}-run-{run.pk}"


def find_run_of(revision: TreeRevision, actor: Actor, params: QueryDict) -> Run | None:
    """Return the run that the query names, None for no name; raises Http404 unless it is one of the revision."""
    if "run" not in params:
        return None
    key = read_key({"run": str(params["run"])}, "run")
    run: Run = get_object_or_404(revision.runs.all().visible_to(actor), pk=key or 0)
    return run


def need_answer(run: Run) -> Answer:
    """Return the answer of a run; raises WrongState while there is none."""
    answer = read_answer(run)
    if answer is None:
        raise WrongState(NO_ANSWER, code="no_answer")
    return answer


def write_cut_sets(run: Run, graph: FaultGraph) -> Iterator[Row]:
    """Return the rows of the file: lines that begin with # say what it is and what it leaves out, then head and table.

    Raises WrongState where the run has no cut sets.
    """
    answer = need_answer(run)
    if not answer.data.get("cut_sets"):
        raise WrongState(NO_CUT_SETS, code="no_cut_sets")
    rows = (
        [
            row.number,
            row.order,
            row.probability,
            row.share,
            " ".join(event.name for event in row.events),
            _titles(row.events),
        ]
        for row in list_cut_sets(answer, graph, {})
    )
    facts = [*_facts(answer, "Minimal cut sets", graph), *_say_listed(answer)]
    return chain(_comments(facts), [CUT_SETS_HEAD], rows)


def write_importance(run: Run, graph: FaultGraph) -> Iterator[Row]:
    """Return the rows of the file, with its facts first; an infinite ratio is "inf", an empty cell doesn't apply.

    Raises WrongState where the run has no importance measures.
    """
    answer = need_answer(run)
    if not answer.data.get("importance"):
        raise WrongState(NO_IMPORTANCE, code="no_importance")
    facts = [
        *_facts(answer, "Importance of events", graph),
        ("inf", "an infinite ratio: nothing is left of the top event, or it couldn't occur"),
        ("empty cell", "the measure doesn't apply"),
    ]
    rows = (
        [row.event.name, row.event.label, _probability(graph, row.event.name), *map(_spell, row.values)]
        for row in list_importance(answer, graph, {})
    )
    return chain(_comments(facts), [IMPORTANCE_HEAD], rows)


def say_listed(answer: Answer) -> str:
    """Return how many of how many cut sets are listed, as a sentence."""
    cut_sets, request = answer.data["cut_sets"], answer.run.request
    count, listed = cut_sets["count"], len(answer.listed)
    if answer.all_are_listed:
        return f"All {count:,} minimal cut sets are listed." if count else "There is no minimal cut set."
    limits = [f"at most {request['list_count']:,}"] if listed == request["list_count"] else []
    limits += [f"of order {request['max_order']} and below"] if request.get("max_order") else []
    limits += [f"at or above {request['min_probability']:g}"] if request.get("min_probability") else []
    asked = f" (asked for: {', '.join(limits)})" if limits else ""
    if cut_sets.get("exact", True):
        return f"The {listed:,} likeliest of {count:,} minimal cut sets are listed{asked}; {count - listed:,} are not."
    return (
        f"{listed:,} of the {count:,} minimal cut sets that were kept are listed{asked}; "
        "how many there are in all is not known with a bracket."
    )


def _say_listed(answer: Answer) -> list[tuple[str, Any]]:
    cut_sets = answer.data["cut_sets"]
    counted = "minimal cut sets in all" if cut_sets.get("exact", True) else "minimal cut sets that were kept"
    return [(counted, cut_sets["count"]), ("listed here", len(answer.listed)), ("list", say_listed(answer))]


def _facts(answer: Answer, what: str, graph: FaultGraph) -> list[tuple[str, Any]]:
    run, data = answer.run, answer.data
    tree, top = run.revision.tree, data["top"]
    names = {"probability": "", "lower": ", at least", "upper": ", at most"}
    label = graph[top].label if top in graph else ""
    return [
        ("file", f"{what} of a fault tree"),
        ("tree", f"{tree.label} ({tree.name})" if tree.label else tree.name),
        ("revision", run.revision.number),
        ("run", run.pk),
        ("computed at", run.finished_at),
        ("top event", f"{label} ({top})" if label else top),
        *([("mission time, h", data["mission_time"])] if data["mission_time"] is not None else []),
        ("method", "exact" if answer.is_exact else "certified bracket, not exact"),
        *((f"top-event probability{end}", data[name]) for name, end in names.items() if data.get(name) is not None),
        *([("overrides", "not the tree as it stands; the notes name them")] if run.has_overrides else []),
        *(("note", note) for note in data["notes"]),
        ("caution", data["caution"]),
    ]


def _comments(facts: list[tuple[str, Any]]) -> Iterator[Row]:
    for name, value in facts:
        yield [f"# {name}", value]


def _names(events: tuple[EventName, ...]) -> str:
    return " ".join(event.name for event in events)


def _titles(events: tuple[EventName, ...]) -> str:
    return "; ".join(event.label or event.name for event in events)


def _probability(graph: FaultGraph, name: str) -> float | None:
    return graph[name].probability if name in graph else None


def _spell(value: float | None) -> float | str | None:
    return "inf" if value is not None and math.isinf(value) else value
