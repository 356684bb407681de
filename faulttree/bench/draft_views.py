"""Pages of drafts: begin one, take steps, go back and forth, save."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from config.kit.errors import BadInput, Conflict, DomainError
from config.kit.permissions import require
from config.kit.requests import PersonRequest
from faulttree.bench.draft_forms import NewTreeForm, SaveForm, read_body
from faulttree.bench.draft_page import DraftPage, View
from faulttree.documents import read_step_model
from faulttree.models import Tree, TreeDraft
from faulttree.services import drafts
from faulttree.services.runs import request_default_run


@require_http_methods(["GET", "POST"])
def new_tree(request: PersonRequest) -> HttpResponse:
    """Begin a tree in the bench."""
    require(request.user, "draft.open")
    form = NewTreeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(drafts.start_tree(actor=request.user, **form.cleaned_data))
        except BadInput as refused:
            for name, errors in refused.fields.items():
                form.add_error(name, errors)
    mine = TreeDraft.objects.visible_to(request.user).select_related("tree")
    context = {"form": form, "drafts": mine}
    return render(request, "faulttree/draft/new.html", context, status=422 if form.errors else 200)


@require_POST
def open_one(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Go to the person's draft of a tree; it begins with the newest revision."""
    tree = get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)
    return redirect(drafts.open_draft(actor=request.user, tree_id=tree.pk))


@require_GET
def show_draft(request: PersonRequest, draft_id: int) -> HttpResponse:
    """Show the bench."""
    return DraftPage(request, _find(request, draft_id), request.GET).render()


@require_GET
def show_pieces(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Show the panel for another chosen element; with `all`, every piece; with `parameter`, its form."""
    page = DraftPage(request, _find(request, draft_id), request.GET)
    if "parameter" in request.GET:
        form = page.parameter_form(request.GET["parameter"])
        return JsonResponse({"step": page.draft.position, "pieces": {"parameter": form}})
    pieces = page.pieces() if "all" in request.GET else page.pieces("chosen")
    return JsonResponse({"step": page.draft.position, "pieces": pieces})


@require_POST
def take_step(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Make an edit; answers with every piece of the page that may have changed."""
    draft, body = _find(request, draft_id), read_body(request.body)
    draft, done = drafts.take_step(draft_id=draft.pk, actor=request.user, seen=body.seen, edit=body.edit)
    return _answer(request, draft, body.view, done.words, View(done.chosen or body.chosen, done.under))


@require_POST
def check_step(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Say what an edit would meet, without making it."""
    draft, body = _find(request, draft_id), read_body(request.body)
    require(request.user, "draft.edit", draft)
    try:
        faults = drafts.foresee_faults(read_step_model(drafts.read_step(draft)), body.edit)
    except BadInput as refused:
        return JsonResponse(refused.as_dict())
    return JsonResponse({"code": "", "message": "", "fields": {"": faults} if faults else {}})


@require_POST
def split(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Make a branch a tree of its own."""
    draft, body = _find(request, draft_id), read_body(request.body)
    draft, done, made = drafts.split_draft(draft_id=draft.pk, actor=request.user, seen=body.seen, edit=body.edit)
    words = f"The tree {made.tree.name} is saved. {done.words}"
    return _answer(request, draft, body.view, words, View(done.chosen or body.chosen, done.under))


@require_POST
def undo(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Go back one step."""
    draft, body = _find(request, draft_id), read_body(request.body)
    draft, words = drafts.go_back(draft_id=draft.pk, actor=request.user, seen=body.seen)
    return _answer(request, draft, body.view, f"Undone: {words}", View(body.chosen, body.under))


@require_POST
def redo(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Go forth one step."""
    draft, body = _find(request, draft_id), read_body(request.body)
    draft, words = drafts.go_forth(draft_id=draft.pk, actor=request.user, seen=body.seen)
    return _answer(request, draft, body.view, f"Done again: {words}", View(body.chosen, body.under))


@require_POST
def set_time(request: PersonRequest, draft_id: int) -> JsonResponse:
    """Take the live figures at another mission time."""
    draft, body = _find(request, draft_id), read_body(request.body)
    draft = drafts.set_mission_time(draft_id=draft.pk, actor=request.user, hours=body.hours)
    words = "No mission time is set." if body.hours is None else f"Figures are at {body.hours:g} h now."
    return _answer(request, draft, body.view, words, View(body.chosen, body.under))


@require_POST
def save(request: PersonRequest, draft_id: int) -> HttpResponse:
    """Make the draft a revision and go to it."""
    draft = _find(request, draft_id)
    form = SaveForm(request.POST)
    if not form.is_valid():
        return _refuse_save(request, draft, " ".join(str(error) for errors in form.errors.values() for error in errors))
    data = form.cleaned_data
    try:
        revision = drafts.save_draft(draft_id=draft.pk, actor=request.user, seen=data["seen"], note=data["note"])
    except (BadInput, Conflict) as refused:
        return _refuse_save(request, draft, refused.message, refused)
    request_default_run(revision_id=revision.pk, actor=request.user)
    messages.success(request, f"{revision.tree} is saved as revision {revision.number}.")
    return redirect(revision)


@require_POST
def discard(request: PersonRequest, draft_id: int) -> HttpResponse:
    """Throw the draft away."""
    draft = _find(request, draft_id)
    tree = draft.tree
    drafts.discard_draft(draft_id=draft.pk, actor=request.user)
    messages.success(request, "The draft is discarded.")
    return redirect(tree or "faulttree:trees")


@require_POST
def bring_forward(request: PersonRequest, draft_id: int) -> HttpResponse:
    """Repeat the draft's steps on the newest revision."""
    draft, failed = drafts.bring_forward(draft_id=_find(request, draft_id).pk, actor=request.user)
    for words in failed:
        messages.warning(request, f"Could not be repeated: {words}")
    messages.success(request, "Your steps stand on the newest revision now. Look at the result, then save.")
    return redirect(draft)


def _find(request: PersonRequest, draft_id: int) -> TreeDraft:
    visible = TreeDraft.objects.visible_to(request.user).select_related("tree", "base")
    return get_object_or_404(visible, pk=draft_id)


def _answer(request: PersonRequest, draft: TreeDraft, view: str, words: str, chosen: View) -> JsonResponse:
    page = DraftPage(request, draft, QueryDict(view.removeprefix("?")), chosen)
    data: dict[str, Any] = {"step": draft.position, "words": words, "pieces": page.pieces()}
    return JsonResponse({**data, "chosen": page.view.chosen, "under": page.chosen.under})


def _refuse_save(
    request: PersonRequest, draft: TreeDraft, words: str, refused: DomainError | None = None
) -> HttpResponse:
    page = DraftPage(request, draft, request.GET)
    page.refusal, page.note = words, request.POST.get("note", "")
    page.is_behind = refused is not None and refused.code == "newer_revision"
    return page.render(status=refused.status if refused else 422)
