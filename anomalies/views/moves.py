"""The one door for every move, and the way from a record's key to its page."""

from __future__ import annotations

from typing import Any, cast
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

import anomalies.forms  # noqa: F401  # enters the moves
from anomalies.models.base import Record, record_models
from anomalies.web.forms import MoveForm
from anomalies.web.register import MACHINES, NEW, PAGES, MovePage
from config.kit.htmx import page_or_fragment, wants_fragment
from config.kit.permissions import require
from config.kit.requests import PersonRequest

PAGE, PIECE = "anomalies/move/page.html", "anomalies/move/_piece.html"
NEW_PAGE = "anomalies/move/new.html"


@require_http_methods(["GET", "POST"])
def make_move(request: PersonRequest, kind: str, record_id: int, name: str) -> HttpResponse:
    """Show the form of a move, or make it: 403 to those who may not, 409 in a state that doesn't allow it."""
    page = PAGES.get((kind, name))
    if page is None:
        raise Http404
    record = find_record(request, kind, record_id)
    require(request.user, page.rule, record)
    if request.method == "GET":
        if page.move:
            MACHINES[kind].move(page.move, cast(Any, record).state)
        form = page.form(record=record, actor=request.user, initial=request.GET.dict())
        return _show(request, page, record, form, 200)
    form = page.form(request.POST, request.FILES, record=record, actor=request.user)
    result = form.perform()
    if result is None:
        return _show(request, page, record, form, form.status)
    return finish(request, form.done, form.goes_to(result))


@require_http_methods(["GET", "POST"])
def make_new(request: PersonRequest, kind: str) -> HttpResponse:
    """Show the form that makes a record, or make it."""
    page = NEW.get(kind)
    if page is None:
        raise Http404
    require(request.user, page.rule)
    record = find_model(kind)()
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = page.form(*sent, record=record, actor=request.user, initial=request.GET.dict())
    made = form.perform() if form.is_bound else None
    if made is not None:
        return finish(request, form.done, made.get_absolute_url())
    context = {"page": page, "form": form, "draft": draft_key(request)}
    return render(request, NEW_PAGE, context, status=form.status if form.is_bound else 200)


@require_GET
def show_record(request: PersonRequest, kind: str, record_id: int) -> HttpResponse:
    """Go to the page that shows a record."""
    record = find_record(request, kind, record_id)
    if not hasattr(record, "get_absolute_url"):
        raise Http404
    return redirect(record)


def find_record(request: PersonRequest, kind: str, record_id: int) -> Record:
    """Return the record if the person may see it, else answer 404."""
    model = find_model(kind)
    rows: Any = model._default_manager.all()
    if not hasattr(rows, "visible_to"):
        raise Http404
    return cast(Record, get_object_or_404(rows.visible_to(request.user), pk=record_id))


def find_model(kind: str) -> type[Record]:
    """Return the model of a kind, else answer 404."""
    model = next((each for each in record_models() if kind == each.KIND), None)
    if model is None:
        raise Http404
    return model


def finish(request: PersonRequest, said: str, address: str) -> HttpResponse:
    """Say that it was done, let the browser forget what was typed, and go on."""
    messages.success(request, said, extra_tags=draft_key(request))
    return go_to(request, address)


def draft_key(request: PersonRequest) -> str:
    """Under this name a browser keeps what somebody types into the form at this address."""
    return f"{request.user.pk}:{request.path}"


def go_to(request: PersonRequest, address: str) -> HttpResponse:
    """Go on to another page, also when htmx asked."""
    if wants_fragment(request):
        response = HttpResponse(status=204)
        response.headers["HX-Redirect"] = address
        if urlsplit(request.headers.get("HX-Current-URL", "")).path == urlsplit(address).path:
            response.headers["HX-Refresh"] = "true"  # to another place on the same page a browser only scrolls
        return response
    return HttpResponseRedirect(address)


def _show(request: PersonRequest, page: MovePage, record: Record, form: MoveForm[Any], status: int) -> HttpResponse:
    back = cast(Any, record).get_absolute_url()
    context = {"page": page, "record": record, "form": form, "back": back, "draft": draft_key(request)}
    return page_or_fragment(request, PAGE, PIECE, context, status=status)
