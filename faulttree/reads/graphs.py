"""The tree as it is drawn and named, of a revision or of a run."""

from __future__ import annotations

from faulttree.bridge import Overrides, parse_overrides, read_changed, read_graph, read_model
from faulttree.drawing.graph import FaultGraph
from faulttree.models import DataSet, Run, TreeRevision


def read_revision_graph(revision: TreeRevision, run: Run | None = None) -> FaultGraph:
    """Return the tree at the mission time of the run and with its overrides."""
    if run is None:
        return read_graph(read_model(revision, DataSet.objects.newest()), None)
    overrides = parse_overrides(run.request.get("overrides", {}))
    return read_graph_with(revision, overrides, run.request["mission_time"], data_set=run.data_set)


def read_graph_with(
    revision: TreeRevision, overrides: Overrides, mission_time: float | None = None, *, data_set: DataSet | None
) -> FaultGraph:
    """Return the tree with overrides, whose mission time goes before the other, and the values of a data set."""
    hours = mission_time if overrides.mission_time is None else overrides.mission_time
    return read_graph(read_changed(read_model(revision, data_set), overrides), hours)


def read_run_graph(run: Run) -> FaultGraph:
    """Return the tree of a run, at its mission time."""
    return read_revision_graph(run.revision, run)
