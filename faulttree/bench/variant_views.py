"""Pages of variants: compare, add, change, remove, ask for what isn't computed yet."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from config.kit.csv import write_csv
from config.kit.errors import BadInput, Conflict
from config.kit.permissions import require
from config.kit.requests import PersonRequest
from faulttree.bench.variant_form import VariantForm
from faulttree.bench.variant_page import VariantsPage, write_rows
from faulttree.models import Tree, TreeRevision, Variant
from faulttree.reads.exports import name_revision
from faulttree.services import variants


@require_GET
def show_variants(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Show the variants of a tree beside the tree as it stands."""
    return VariantsPage(request, _find_tree(request, tree_id)).render()


@require_GET
def export_variants(request: PersonRequest, tree_id: int) -> StreamingHttpResponse:
    """Hand out the comparison."""
    page = VariantsPage(request, _find_tree(request, tree_id))
    rows = write_rows(page)
    return write_csv(f"{name_revision(page.revision)}-variants", next(rows), rows)


@require_http_methods(["GET", "POST"])
def add_one(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Add a variant, or show the form."""
    tree = _find_tree(request, tree_id)
    require(request.user, "variant.add", tree)
    return _take_form(request, tree, None)


@require_http_methods(["GET", "POST"])
def change_one(request: PersonRequest, variant_id: int) -> HttpResponse:
    """Change a variant, or show the form."""
    variant = _find_variant(request, variant_id)
    require(request.user, "variant.change", variant)
    return _take_form(request, variant.tree, variant)


@require_POST
def remove_one(request: PersonRequest, variant_id: int) -> HttpResponse:
    """Remove a variant."""
    variant = _find_variant(request, variant_id)
    tree = variants.remove_variant(variant_id=variant.pk, actor=request.user)
    messages.success(request, f"The variant “{variant.name}” is removed.")
    return redirect("faulttree:variants", tree.pk)


@require_POST
def request_runs(request: PersonRequest, tree_id: int) -> HttpResponse:
    """Ask for runs of the rows that are named."""
    page = VariantsPage(request, _find_tree(request, tree_id))
    wanted = [row for row in page.open_rows if (str(row.variant.pk) if row.variant else "base") in _wanted(request)]
    variants.request_variant_runs(
        revision_id=page.revision.pk,
        actor=request.user,
        top=page.setting.top,
        mission_time=page.setting.mission_time,
        variant_ids=[row.variant.pk for row in wanted if row.variant],
        base=any(row.variant is None for row in wanted),
    )
    return redirect(f"{request.path.removesuffix('compute/')}?{page.query}#comparison")


def _wanted(request: PersonRequest) -> list[str]:
    return request.POST.getlist("row")


def _take_form(request: PersonRequest, tree: Tree, variant: Variant | None) -> HttpResponse:
    newest = get_object_or_404(TreeRevision.objects.filter(tree=tree).order_by("-number")[:1])
    form = VariantForm(newest, variant, request.POST if request.method == "POST" else None)
    conflict = ""
    if request.method == "POST" and "search" not in request.POST:
        try:
            if saved := _save(request, tree, variant, form):
                messages.success(request, f"The variant “{saved.name}” is saved.")
                return redirect(saved)
        except Conflict as stale:
            conflict = stale.message
            form.version = str(Variant.objects.get(pk=variant.pk).version) if variant else form.version
    status = 409 if conflict else 422 if form.errors else 200
    context = {"form": form, "tree": tree, "variant": variant, "conflict": conflict, "revision": newest}
    return render(request, "faulttree/variant/form.html", context, status=status)


def _save(request: PersonRequest, tree: Tree, variant: Variant | None, form: VariantForm) -> Variant | None:
    """Save what was typed; None where the form says what is wrong with it."""
    said: dict[str, Any] = {
        "name": form.name,
        "note": form.note,
        "overrides": form.read_overrides(),
        "actor": request.user,
    }
    if form.errors:
        return None
    try:
        if variant is None:
            return variants.add_variant(tree_id=tree.pk, **said)
        return variants.change_variant(variant_id=variant.pk, version=form.seen, **said)
    except BadInput as refused:
        form.add_refusal(refused)
        return None


def _find_tree(request: PersonRequest, tree_id: int) -> Tree:
    return get_object_or_404(Tree.objects.visible_to(request.user), pk=tree_id)


def _find_variant(request: PersonRequest, variant_id: int) -> Variant:
    return get_object_or_404(Variant.objects.visible_to(request.user).select_related("tree"), pk=variant_id)
