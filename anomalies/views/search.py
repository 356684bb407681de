"""The search over everything."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from anomalies.models import SearchText
from anomalies.reads.search import HEADER, NAMES, name_kinds, read_hits, write_row
from anomalies.web.slices import read_slice
from config.kit.addresses import read_choice, read_text
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.requests import PersonRequest
from faulttree.facade import search_trees

OFFERED, TREES_OFFERED = 8, 3


@require_GET
def search(request: PersonRequest) -> HttpResponse:
    """Show what holds all the words, the best match first."""
    words, kind = _asked(request)
    rows = SearchText.objects.visible_to(request.user).matching(words)
    kinds = name_kinds(rows) if words else []
    rows = rows.filter(kind=kind) if kind else rows
    found = read_slice(request, rows.best_first(words)) if words else None
    hits = read_hits(found.rows, words) if found else []
    trees = list(search_trees(request.user, words)[:6]) if words and not kind else []
    context = {"words": words, "kind": kind, "kinds": kinds, "trees": trees, "slice": found, "hits": hits}
    return page_or_fragment(request, "anomalies/search/page.html", "anomalies/search/_hits.html", context)


@require_GET
def offer_hits(request: PersonRequest) -> HttpResponse:
    """Offer the best matches as options of the palette; nothing without words."""
    words, _ = _asked(request)
    rows = SearchText.objects.visible_to(request.user).matching(words).best_first(words)[:OFFERED] if words else []
    trees = search_trees(request.user, words)[:TREES_OFFERED] if words else []
    context = {"hits": read_hits(rows, words), "trees": trees}
    return render(request, "anomalies/search/_options.html", context)


@require_GET
def export_hits(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out everything that was found, in the order in which it was recorded."""
    words, kind = _asked(request)
    rows = SearchText.objects.visible_to(request.user).matching(words).select_related("anomaly").order_by("pk")
    rows = rows.filter(kind=kind) if kind else rows
    return write_csv("search", HEADER, map(write_row, rows.iterator(500)))


def _asked(request: PersonRequest) -> tuple[str, str]:
    """Return the words, and the kind if it's one that can be searched."""
    query = request.GET.dict()
    return read_text(query), read_choice(query, "kind", NAMES)
