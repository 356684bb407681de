"""Pages of trees: the list, the upload, one revision."""

from __future__ import annotations

from itertools import islice

from django.contrib import messages
from django.http import HttpResponse, QueryDict, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from config.kit.addresses import read_text
from config.kit.csv import write_csv
from config.kit.downloads import send_download
from config.kit.errors import BadInput
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest
from faulttree.bench.forms import ImportForm, UploadForm
from faulttree.bench.page import BenchPage
from faulttree.bridge import UnreadableModel
from faulttree.models import Run, Tree, TreeRevision
from faulttree.reads.exports import name_revision
from faulttree.reads.trees import HEADER, find_trees, read_rows, write_row
from faulttree.services.runs import request_default_run
from faulttree.services.trees import KEPT_AS_XML, import_tree, revise_tree
from faulttree.states import RunState


@require_GET
def list_trees(request: PersonRequest) -> HttpResponse:
    """Show all trees, or those that hold the words."""
    require(request.user, "tree.view")
    words = read_text(request.GET.dict())
    page = paginate(request, find_trees(request.user, words), size=30)
    query = QueryDict(mutable=True)
    query.update({"words": words} if words else {})
    context = {
        "page": page,
        "rows": read_rows(list(page)),
        "words": words,
        "query": f"{query.urlencode()}&" if words else "",
        "may_import": allows(request.user, "tree.import"),
    }
    return page_or_fragment(request, "faulttree/tree/list.html", "faulttree/tree/_table.html", context)


@require_GET
def export_trees(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out all trees, or those that hold the words."""
    require(request.user, "tree.view")
    words = read_text(request.GET.dict())
    found = find_trees(request.user, words).iterator(100)
    pieces = iter(lambda: list(islice(found, 100)), [])
    return write_csv("trees", HEADER, (write_row(row) for piece in pieces for row in read_rows(piece)))


@require_http_methods(["GET", "POST"])
def import_file(request: PersonRequest) -> HttpResponse:
    """Make a tree from a file, or show the form with everything that is wrong with it."""
    require(request.user, "tree.import")
    form = ImportForm(request.POST, request.FILES) if request.method == "POST" else ImportForm()
    return _take_file(request, form, None)


@require_http_methods(["GET", "POST"])
def revise(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Add a revision to a tree from a file."""
    tree = get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)
    require(request.user, "tree.revise", tree)
    form = UploadForm(request.POST, request.FILES) if request.method == "POST" else UploadForm()
    return _take_file(request, form, tree)


def _take_file(request: PersonRequest, form: UploadForm, tree: Tree | None) -> HttpResponse:
    problems: tuple[object, ...] = ()
    if request.method == "POST" and form.is_valid():
        try:
            revision = _store(request, form, tree)
        except UnreadableModel as refused:
            problems = refused.problems
            form.add_error("file", refused.message)
        except BadInput as refused:
            for name, errors in refused.fields.items() or [("file", [refused.message])]:
                form.add_error(name, errors)
        else:
            request_default_run(revision_id=revision.pk, actor=request.user)
            messages.success(request, f"{revision.tree} is here as revision {revision.number}.{_say_kept(revision)}")
            return redirect(revision)
    context = {"form": form, "tree": tree, "problems": problems}
    return render(request, "faulttree/tree/form.html", context, status=422 if form.errors else 200)


def _say_kept(revision: TreeRevision) -> str:
    """Tell the person that the file of the revision isn't the one that was sent."""
    if not revision.file_name.endswith(KEPT_AS_XML):
        return ""
    return " The JSON was written as exchange XML, and that is the file of this revision."


def _store(request: PersonRequest, form: UploadForm, tree: Tree | None) -> TreeRevision:
    data = form.cleaned_data
    given = {"actor": request.user, "source": data["file"].read(), "file_name": data["file"].name, "note": data["note"]}
    if tree is not None:
        return revise_tree(tree_id=tree.pk, **given)
    return import_tree(name=data["name"], label=data["label"], **given)


@require_GET
def show_tree(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Show the newest revision."""
    tree = get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)
    newest = get_object_or_404(tree.revisions.without_source()[:1])
    return _show(request, newest)


@require_GET
def show_revision(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Show one revision with its newest answer."""
    return _show(request, find_revision(request, tree_id, number))


def find_revision(request: PersonRequest, tree_id: int, number: int) -> TreeRevision:
    """Return the revision if the person may see it, else answer 404."""
    visible = TreeRevision.objects.visible_to(request.user).select_related("tree", "author", "tree__owner")
    return get_object_or_404(visible, tree_id=tree_id, number=number)


def _show(request: PersonRequest, revision: TreeRevision) -> HttpResponse:
    newest = Run.objects.filter(revision=revision).without_overrides().select_related("requested_by")
    run = newest.exclude(state__in=(RunState.FAILED, RunState.CANCELLED)).first() or newest.first()
    return BenchPage(request, revision, run, None).render()


@require_GET
def download_source(request: PersonRequest, tree_id: int, number: int) -> HttpResponse:
    """Hand out the file as it came."""
    revision = find_revision(request, tree_id, number)
    name = f"{name_revision(revision)}-source.xml"
    return send_download(bytes(revision.source), name=name, media_type="application/xml")
