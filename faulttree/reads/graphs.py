"""The tree as it is drawn and named, of a revision or of a run."""

from __future__ import annotations

from faulttree.bridge import read_graph, read_model
from faulttree.drawing.graph import FaultGraph
from faulttree.models import Run, TreeRevision


def read_revision_graph(revision: TreeRevision, run: Run | None = None) -> FaultGraph:
    """Return the tree at the mission time of the run."""
    return read_graph(read_model(revision), run.request["mission_time"] if run else None)


def read_run_graph(run: Run) -> FaultGraph:
    """Return the tree of a run, at its mission time."""
    return read_revision_graph(run.revision, run)
