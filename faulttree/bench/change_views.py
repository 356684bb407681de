"""The page of what is different between two revisions of a tree."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.requests import PersonRequest
from faulttree.bench.tree_views import find_revision
from faulttree.reads.compared import read_comparison


@require_GET
def show_changes(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Show what is new in a revision against another one of the tree; without a choice, the one before."""
    revision = find_revision(request, tree_id, number)
    found = read_comparison(revision, request.GET.get("against", ""))
    context = {
        "comparison": found,
        "revision": revision,
        "tree": revision.tree,
        "page": paginate(request, found.changes, size=100),
        "query": f"against={found.against.number}&" if found.against else "",
    }
    return page_or_fragment(request, "faulttree/changes/detail.html", "faulttree/changes/_found.html", context)
