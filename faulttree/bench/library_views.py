"""Pages of the library: the list, an item with its history, a new item, the data sets."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from config.kit.addresses import read_text
from config.kit.csv import write_csv
from config.kit.errors import BadInput, Conflict
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest
from faulttree.bench.library_form import ItemForm
from faulttree.models import DataSet, SharedItem, SharedValue
from faulttree.reads.movement import CAUTION, Moved, count_users, find_movement, find_users
from faulttree.reads.shared import HEADER, find_items, say_value, write_row
from faulttree.services import library


@require_GET
def list_items(request: PersonRequest) -> HttpResponse:
    """Show the items that are asked for."""
    require(request.user, "tree.view")
    words, kind, source = (read_text(request.GET.dict(), name) for name in ("words", "kind", "source"))
    rows = find_items(request.user, words=words, kind=kind, source=source, counts=count_users())
    kept = QueryDict(mutable=True)
    kept.update({name: text for name, text in (("words", words), ("kind", kind), ("source", source)) if text})
    context = {
        "page": paginate(request, rows, size=50),
        "words": words,
        "kind": kind,
        "source": source,
        "query": f"{kept.urlencode()}&" if kept else "",
        "kinds": SharedItem.Kind.choices,
        "sources": SharedValue.Source.choices,
        "newest": DataSet.objects.newest(),
        "may_change": allows(request.user, "library.change"),
    }
    return render(request, "faulttree/shared/list.html", context)


@require_GET
def export_items(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out the library as it is now."""
    require(request.user, "tree.view")
    rows = find_items(request.user, counts=count_users())
    return write_csv("library", HEADER, (write_row(row) for row in rows))


@require_GET
def list_data_sets(request: PersonRequest) -> HttpResponse:
    """Show what each data set changed."""
    require(request.user, "tree.view")
    sets = DataSet.objects.select_related("author").prefetch_related("values__item")
    page = paginate(request, sets, size=30)
    rows = [(one, [(v, say_value(v.expression)) for v in one.values.all()]) for one in page]
    return render(request, "faulttree/shared/data_sets.html", {"page": page, "rows": rows})


@require_http_methods(["GET", "POST"])
def add_item(request: PersonRequest) -> HttpResponse:
    """Add an item, or show the form with what it would move."""
    require(request.user, "library.change")
    data = request.POST if request.method == "POST" else None
    kind = "parameter" if request.GET.get("kind") == "parameter" else "event"
    form = ItemForm(None, data, kind)
    return _take(request, form, None)


@require_http_methods(["GET", "POST"])
def show_item(request: PersonRequest, item_id: int) -> HttpResponse:
    """Show an item; take another value for it."""
    item = get_object_or_404(SharedItem.objects.visible_to(request.user), pk=item_id)
    if request.method == "POST":
        require(request.user, "library.change", item)
    value = item.values.select_related("data_set", "item")[:1].get()
    return _take(request, ItemForm(value, request.POST if request.method == "POST" else None), item)


@require_POST
def retire_item(request: PersonRequest, item_id: int) -> HttpResponse:
    """Offer an item no more, or again."""
    item = get_object_or_404(SharedItem.objects.visible_to(request.user), pk=item_id)
    seen = request.POST.get("seen", "")
    require(request.user, "library.change", item)
    if not (seen.isascii() and seen.isdigit() and len(seen) < 10):
        raise BadInput("It isn't said which value was seen. Load the page again.", code="bad_message")
    made = library.retire(actor=request.user, item_id=item.pk, seen=int(seen), back="back" in request.POST)
    messages.success(request, f"{made.note} That is data set {made.number}.")
    return redirect(item)


def _take(request: PersonRequest, form: ItemForm, item: SharedItem | None) -> HttpResponse:
    moved: list[Moved] | None = None
    conflict = ""
    if request.method == "POST":
        try:
            if "save" in request.POST:
                saved = _save(request, form, item)
                if saved:
                    return redirect(saved)
            elif "preview" in request.POST:
                moved = _preview(form)
        except BadInput as refused:
            form.add_refusal(refused)
        except Conflict as stale:
            conflict = stale.message
            newest = DataSet.objects.newest()
            form.seen = str(newest.number) if newest else "0"
    return _render(request, form, item, moved, conflict)


def _preview(form: ItemForm) -> list[Moved] | None:
    sent = form.read()
    if sent is None:
        return None
    kind, name = form.fields["kind"], form.fields["name"]
    sent = library.check_sent(kind=kind, name=name, sent=sent, note=form.fields["note"])
    value = library.as_value(kind, name, sent)
    return find_movement({value.key: value})


def _save(request: PersonRequest, form: ItemForm, item: SharedItem | None) -> SharedItem | None:
    sent = form.read()
    if sent is None:
        return None
    note = form.fields["note"]
    if item is None:
        value = library.add_item(
            actor=request.user, kind=form.fields["kind"], name=form.fields["name"], sent=sent, note=note
        )
        messages.success(request, f"{value.item.name} is in the library from data set {value.data_set.number} on.")
        return value.item
    made = library.change_value(actor=request.user, item_id=item.pk, sent=sent, seen=int(form.seen), note=note)
    messages.success(
        request, f"Data set {made.number} is there. New runs use it; those that are done stay as they are."
    )
    return item


def _render(
    request: PersonRequest, form: ItemForm, item: SharedItem | None, moved: list[Moved] | None, conflict: str
) -> HttpResponse:
    values = item.values.select_related("data_set__author") if item else SharedValue.objects.none()
    context = {
        "form": form,
        "item": item,
        "history": [(value, say_value(value.expression)) for value in values],
        "users": find_users({(item.kind, item.name)}) if item else [],  # type: ignore[arg-type]
        "moved": moved,
        "conflict": conflict,
        "caution": CAUTION,
        "may_change": allows(request.user, "library.change"),
    }
    status = 409 if conflict else 422 if form.errors else 200
    return render(request, "faulttree/shared/detail.html", context, status=status)
