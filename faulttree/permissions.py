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
    SAFETY_ENGINEER: ("view_tree", "add_tree", "add_treerevision", "add_run", "cancel_run"),
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
