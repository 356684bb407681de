"""Addresses of the files of a tree page, and what printing would take."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from django.http import QueryDict
from django.urls import reverse

from faulttree.drawing.graph import FaultGraph
from faulttree.models import TreeRevision
from faulttree.reads.answers import Answer
from faulttree.reads.papers import Outlook, look_ahead
from faulttree.reads.sheets import EXTRAS, STATE

PAPERS = {"a4": "A4", "letter": "Letter"}


@dataclass(frozen=True)
class ExportMenu:
    """The files of a revision with an answer, as the page shows them with this query."""

    revision: TreeRevision
    answer: Answer | None
    graph: FaultGraph
    top: str
    params: QueryDict

    @cached_property
    def picture(self) -> str:
        """The diagram as it is shown."""
        query = QueryDict(mutable=True)
        for name in (*STATE, *EXTRAS):
            query.setlist(name, self.params.getlist(name))
        return self._address("export_svg", query)

    @cached_property
    def whole_picture(self) -> str:
        """The whole tree."""
        return self._address("export_svg", _query(whole="1"))

    @cached_property
    def outlook(self) -> Outlook:
        """What printing the whole tree would take."""
        return look_ahead(self.graph, self.top)

    @cached_property
    def reports(self) -> list[tuple[str, str]]:
        """The report for each size of paper."""
        return [(name, self._address("export_pdf", _query(paper=size))) for size, name in PAPERS.items()]

    @cached_property
    def branch_report(self) -> str:
        """The report of the branch that is shown; empty where that is the whole tree, or too large."""
        root = self.params.get("focus", self.top)
        is_branch = root != self.top and root in self.graph and self.graph[root].is_gate
        if not is_branch or look_ahead(self.graph, root).refusal:
            return ""
        return self._address("export_pdf", _query(focus=root))

    def _address(self, name: str, query: QueryDict) -> str:
        if self.answer:
            query["run"] = str(self.answer.run.pk)
        path = reverse(f"faulttree:{name}", args=[self.revision.tree_id, self.revision.number])
        return f"{path}?{query.urlencode()}"


def _query(**given: str) -> QueryDict:
    query = QueryDict(mutable=True)
    query.update(given)
    return query
