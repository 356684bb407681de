"""Who may do what to trees and runs. Rules ask for Django permissions; roles are groups that hold some of them."""

from __future__ import annotations

from typing import Any

from config.kit.permissions import rule

VIEWER = "viewer"
SAFETY_ENGINEER = "safety engineer"

ROLES: dict[str, tuple[str, ...]] = {
    VIEWER: ("view_tree",),
    **dict.fromkeys(
        ("board member", "verifier", "action owner", "activity lead", "recorder", "administrator"), ("view_tree",)
    ),
    SAFETY_ENGINEER: (
        *("view_tree", "add_tree", "add_treerevision", "add_treedraft", "add_run", "cancel_run"),
        *("add_dataset", "add_variant", "change_variant", "delete_variant"),
    ),
}
"""Each role of this app with its permissions, by code name."""


@rule("tree.view")
def may_view(actor: Any, tree: Any) -> bool:
    """Anybody with a role."""
    return bool(actor.has_perm("faulttree.view_tree"))


@rule("tree.import")
def may_import(actor: Any, tree: Any) -> bool:
    """Safety engineers."""
    return bool(actor.has_perm("faulttree.add_tree"))


@rule("tree.revise")
def may_revise(actor: Any, tree: Any) -> bool:
    """Safety engineers, also on another's tree: the revision names its author."""
    return bool(actor.has_perm("faulttree.add_treerevision"))


@rule("run.request")
def may_request_run(actor: Any, revision: Any) -> bool:
    """Safety engineers."""
    return bool(actor.has_perm("faulttree.add_run"))


@rule("run.cancel")
def may_cancel_run(actor: Any, run: Any) -> bool:
    """Safety engineers, also another's run: equal requests share one."""
    return bool(actor.has_perm("faulttree.cancel_run"))


@rule("draft.open")
def may_open_draft(actor: Any, tree: Any) -> bool:
    """Safety engineers: each has a draft of their own."""
    return bool(actor.has_perm("faulttree.add_treedraft"))


@rule("draft.edit")
def may_edit_draft(actor: Any, draft: Any) -> bool:
    """The one whose draft it is, while a safety engineer; asked of no draft, whoever may have one."""
    is_own = draft is None or draft.owner_id == actor.pk
    return is_own and bool(actor.has_perm("faulttree.add_treedraft"))


@rule("library.change")
def may_change_library(actor: Any, item: Any) -> bool:
    """Safety engineers: every value names its source and its author."""
    return bool(actor.has_perm("faulttree.add_dataset"))


@rule("variant.add")
def may_add_variant(actor: Any, tree: Any) -> bool:
    """Safety engineers."""
    return bool(actor.has_perm("faulttree.add_variant"))


@rule("variant.change")
def may_change_variant(actor: Any, variant: Any) -> bool:
    """Safety engineers, also another's."""
    return bool(actor.has_perm("faulttree.change_variant"))


@rule("variant.remove")
def may_remove_variant(actor: Any, variant: Any) -> bool:
    """Safety engineers, also another's."""
    return bool(actor.has_perm("faulttree.delete_variant"))
