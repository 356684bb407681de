"""Records of the app: trees with their revisions, drafts, the library, variants, and runs."""

from faulttree.models.draft import DraftStep, TreeDraft
from faulttree.models.library import DataSet, SharedItem, SharedValue
from faulttree.models.run import Run, RunPart
from faulttree.models.tree import Transfer, Tree, TreeRevision
from faulttree.models.variant import Variant

__all__ = [
    "DataSet",
    "DraftStep",
    "Run",
    "RunPart",
    "SharedItem",
    "SharedValue",
    "Transfer",
    "Tree",
    "TreeDraft",
    "TreeRevision",
    "Variant",
]
