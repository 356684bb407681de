"""The diagram as a file: as it is shown on the page, or the whole tree, with what the picture leaves out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from django.http import QueryDict

from config.kit.figures import write_plain
from faulttree.drawing.folding import count_folded, fold
from faulttree.drawing.graph import FaultGraph
from faulttree.drawing.layout import plan
from faulttree.drawing.shades import Change
from faulttree.drawing.standalone import draw_alone
from faulttree.drawing.svg import Drawing
from faulttree.engine.report import CAUTION
from faulttree.models import Run, TreeRevision
from faulttree.reads.answers import Answer, read_answer
from faulttree.reads.change_marks import read_changes
from faulttree.reads.graphs import read_revision_graph
from faulttree.reads.shading import Shading, read_shading
from faulttree.reads.sheets import Extras, find_lit, read_drawing

MOST = 3_000
"""Boxes in the picture of a whole tree; a larger one keeps gates folded, and says so."""


def draw_picture(revision: TreeRevision, run: Run | None, params: QueryDict) -> bytes:
    """Return the SVG file that the query asks for: `whole` is the whole tree, else what the page shows with it."""
    graph, answer = read_revision_graph(revision, run), read_answer(run)
    top = choose_top(revision, run, graph)
    shading: Shading | None = None
    if params.get("whole", "") in ("1", "true", "True"):
        sheet = fold(graph, top, room=MOST, most=MOST)
        drawing = Drawing(graph, sheet, plan(sheet), None, (), write_plain)
    else:
        shading = read_shading(answer, graph, params.get("shade", ""))
        extras = Extras(shading.shades if shading else {}, _read_marks(revision, params))
        drawing = read_drawing(graph, top, answer, params, extras=extras)
    facts = [*_facts(revision, run, answer, drawing, params), *_say_extras(shading, drawing)]
    return draw_alone(drawing, name=f"Fault tree of {revision.tree}", facts=facts, caution=CAUTION)


def _read_marks(revision: TreeRevision, params: QueryDict) -> Mapping[str, Change]:
    changes = read_changes(revision) if params.get("changes") == "1" else None
    return changes.marks if changes else {}


def _say_extras(shading: Shading | None, drawing: Drawing) -> Iterator[str]:
    """What tints and marks stand for; the file has no legend beside it."""
    if shading:
        steps = "; ".join(step.words for step in shading.steps)
        yield f"Events are tinted by {shading.name}, the darker the more: {steps}."
    if drawing.changes:
        yield "A plus marks what is new in this revision, a triangle what is changed."


def choose_top(revision: TreeRevision, run: Run | None, graph: FaultGraph) -> str:
    """Return the top event of the run, else the first of the tree."""
    asked = run.request["top"] if run else ""
    return asked if asked in graph else str(revision.tops[0])


def say_answer(answer: Answer) -> str:
    """Return the top-event probability with how it was got, as a sentence."""
    data = answer.data
    at = f" at {data['mission_time']:g} h" if data["mission_time"] is not None else ""
    if answer.is_exact:
        return f"Probability of the top event{at}: {write_plain(data['probability'], 6)}, exact."
    ends = f"{write_plain(data['lower'], 5)} to {write_plain(data['upper'], 5)}"
    return f"Probability of the top event{at}: {ends}, a certified bracket, not exact."


def _facts(
    revision: TreeRevision, run: Run | None, answer: Answer | None, drawing: Drawing, params: QueryDict
) -> Iterator[str]:
    tree, root = revision.tree, drawing.sheet.root.node
    name = f"{tree.label} ({tree.name})" if tree.label else tree.name
    branch = f"branch {root.label or root.name} · " if root.name not in revision.tops else ""
    yield f"{name} · {branch}revision {revision.number} of {revision.created:%Y-%m-%d %H:%M} UTC"
    if run and answer:
        yield f"Run {run.pk}. {say_answer(answer)}"
        if run.has_overrides:
            yield "Not the tree as it stands: computed with overrides, which the notes of the answer name."
    else:
        yield "No answer: the tree as drawn, not computed."
    folded = count_folded(drawing.sheet)
    if folded:
        yield f"Not all is drawn: {folded:,} gate{'s' if folded > 1 else ''} folded; numbers tell how much lies below."
    number = find_lit(answer, params)[0] if drawing.lit else None
    if number:
        yield f"Cut set {number} of the run's list is lit."
