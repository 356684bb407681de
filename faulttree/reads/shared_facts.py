"""What the page of a run says of the library: its data set, and whether a newer one would change the run."""

from __future__ import annotations

from dataclasses import dataclass

from faulttree.assembly import hash_used, list_missing, list_used
from faulttree.models import DataSet, Run, TreeRevision


@dataclass(frozen=True, slots=True)
class SharedFacts:
    """uses : items that the tree uses now; newer : the newest data set, if it has other values for this tree."""

    uses: int = 0
    newer: DataSet | None = None
    missing: tuple[str, ...] = ()


def read_shared_facts(revision: TreeRevision, run: Run | None) -> SharedFacts:
    """Return what is to be said of a revision and one of its runs."""
    newest = DataSet.objects.newest()
    if newest is None:
        return SharedFacts()
    used = list_used(revision, newest)
    missing = tuple(list_missing(revision, run.data_set if run and run.data_set else newest))
    is_old = run is not None and bool(used) and hash_used(revision, newest) != hash_used(revision, run.data_set)
    return SharedFacts(len(used), newest if is_old else None, missing)
