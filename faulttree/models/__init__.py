"""Records of the app: trees with their revisions, and runs."""

from faulttree.models.run import Run
from faulttree.models.tree import Tree, TreeRevision

__all__ = ["Run", "Tree", "TreeRevision"]
