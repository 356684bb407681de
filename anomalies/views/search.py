"""The search over everything."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from anomalies.models import SearchText
from anomalies.reads.search import name_kinds, read_hits
from anomalies.web.slices import read_slice
from config.kit.htmx import page_or_fragment
from config.kit.requests import PersonRequest


@require_GET
def search(request: PersonRequest) -> HttpResponse:
    """Show what holds all the words, the best match first."""
    words = request.GET.get("words", "").replace("\0", "").strip()[:200]
    kind = request.GET.get("kind", "")
    rows = SearchText.objects.visible_to(request.user).matching(words)
    kinds = name_kinds(rows) if words else []
    if kind in {each.kind for each in kinds}:
        rows = rows.filter(kind=kind)
    else:
        kind = ""
    found = read_slice(request, rows.best_first(words)) if words else None
    hits = read_hits(found.rows, words) if found else []
    context = {"words": words, "kind": kind, "kinds": kinds, "slice": found, "hits": hits}
    return page_or_fragment(request, "anomalies/search/page.html", "anomalies/search/_hits.html", context)
