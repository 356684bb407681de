"""Writes of drafts: begin, take a step, go back and forth, bring onto a newer revision, save, discard."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from config.kit.errors import BadInput, Conflict
from config.kit.permissions import require
from faulttree.assembly import fill_shared
from faulttree.documents import open_model, pack_model, read_step_model, start_model, write_source
from faulttree.engine.editing.complete import find_faults, find_lacks
from faulttree.engine.editing.done import Done
from faulttree.engine.editing.edits import apply_edit
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.editing.typed import complete_edit
from faulttree.engine.exchange.names import NAME, NAME_RULE
from faulttree.engine.model import Model
from faulttree.models import DataSet, DraftStep, Tree, TreeDraft, TreeRevision
from faulttree.services.splitting import split_off
from faulttree.services.trees import NAME_TAKEN, save_model

MOST_STEPS = 500
"""Steps that are kept for undoing; older ones are forgotten, the oldest kept one counts as the beginning."""

STALE = "The draft was changed in another window. It's shown as it is now; do your step again if it's still wanted."

UNCHANGED = "Nothing is different from the revision it began with. Change something, or discard the draft."


def start_tree(*, actor: User, name: str, label: str = "", kind: str = "or") -> TreeDraft:
    """A draft of a new tree is there, with a top gate; raises BadInput for a name that can't be used."""
    require(actor, "draft.open")
    name = name.strip()
    if not NAME.match(name):
        raise BadInput(f"“{name}” can't be a name. {NAME_RULE}", fields={"name": [NAME_RULE]})
    with transaction.atomic():
        if Tree.objects.filter(name=name).exists():
            raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]})
        draft = TreeDraft.objects.create(owner=actor, name=name, label=" ".join(label.split())[:300])
        model = start_model(draft.name, draft.label, kind)
        _keep(draft, 0, None, f"A new tree with the top event {next(iter(model.gates))}.", model)
    return draft


def open_draft(*, actor: User, tree_id: int) -> TreeDraft:
    """The person's draft of a tree is there: the one they have, or one that begins with the newest revision."""
    with transaction.atomic():
        tree = Tree.objects.select_for_update().get(pk=tree_id)
        require(actor, "draft.open", tree)
        known = TreeDraft.objects.filter(owner=actor, tree=tree).first()
        if known:
            return known
        base = tree.revisions.first()
        assert base is not None
        run = base.runs.without_result().first()
        hours = run.request.get("mission_time") if run else None
        draft = TreeDraft.objects.create(
            owner=actor, tree=tree, base=base, name=tree.name, label=tree.label, mission_time=hours
        )
        _keep(draft, 0, None, f"Revision {base.number} as it is.", open_model(base))
    return draft


def take_step(*, draft_id: int, actor: User, seen: int, edit: Mapping[str, Any]) -> tuple[TreeDraft, Done]:
    """The edit is made and kept as a step; returns the draft and what the edit gave.

    seen : number of the step that the person saw; another one is a Conflict
    Raises BadInput, naming the field, for an edit that can't be made; then nothing is changed.
    """
    with transaction.atomic():
        draft = _lock(draft_id, actor)
        _require_seen(draft, seen)
        done = try_edit(read_step_model(read_step(draft)), edit)
        draft.steps.filter(number__gt=draft.position).delete()
        draft.position += 1
        _keep(draft, draft.position, complete_edit(edit), done.words, done.model)
        draft.save(update_fields=["position", "changed"])
        _forget_oldest(draft)
    return draft, done


def try_edit(model: Model, edit: Mapping[str, Any]) -> Done:
    """Return what an edit would give; raises BadInput where it can't be made."""
    try:
        return apply_edit(model, complete_edit(edit))
    except EditRefused as refused:
        text = str(refused)
        raise BadInput(text, code="edit_refused", fields={refused.field: [text]} if refused.field else {}) from None


def foresee_faults(model: Model, edit: Mapping[str, Any]) -> list[str]:
    """Return what would be wrong after an edit that isn't wrong before; raises BadInput where it can't be made.

    What is only not done yet is no fault.
    """
    before, after = find_faults(model), find_faults(try_edit(model, edit).model)
    return [f"{fault.message} {fault.mend}" for fault in after if fault not in before]


def split_draft(
    *, draft_id: int, actor: User, seen: int, edit: Mapping[str, Any]
) -> tuple[TreeDraft, Done, TreeRevision]:
    """A gate of the draft and all below it is a tree of its own, saved now; in the draft it is a transfer to that.

    edit : {"gate": the gate, "name": what the new tree is called}
    Returns the draft, what the edit gave and the new tree's revision. Raises BadInput naming the field.
    """
    with transaction.atomic():
        draft = _lock(draft_id, actor)
        _require_seen(draft, seen)
        gate, name = str(edit.get("gate", "")), str(edit.get("name", "")).strip()
        model = read_step_model(read_step(draft))
        revision = split_off(actor=actor, model=model, gate=gate, name=name)
        place = {"tree": revision.tree_id, "revision": revision.number, "top": gate}
        draft, done = take_step(
            draft_id=draft_id, actor=actor, seen=seen, edit={"do": "transfer", "name": gate, **place}
        )
    return draft, done, revision


def go_back(*, draft_id: int, actor: User, seen: int) -> tuple[TreeDraft, str]:
    """The step before is shown again; returns the draft and what was undone."""
    return _go(draft_id, actor, seen, -1)


def go_forth(*, draft_id: int, actor: User, seen: int) -> tuple[TreeDraft, str]:
    """The step that was undone last is shown again; returns the draft and what was done again."""
    return _go(draft_id, actor, seen, 1)


def set_mission_time(*, draft_id: int, actor: User, hours: float | None) -> TreeDraft:
    """The live figures are taken at this mission time, hours."""
    if hours is not None and not 0.0 <= hours < 1e12:
        raise BadInput("The mission time is 0 hours or more.", fields={"mission_time": ["Give hours, 0 or more."]})
    with transaction.atomic():
        draft = _lock(draft_id, actor)
        draft.mission_time = hours
        draft.save(update_fields=["mission_time", "changed"])
    return draft


def save_draft(*, draft_id: int, actor: User, seen: int, note: str) -> TreeRevision:
    """What the draft shows is a revision of its tree, and the draft is gone.

    Raises BadInput where something is missing yet, and Conflict if the tree has a newer revision than the draft
    began with: bring the draft onto it first.
    """
    try:
        with transaction.atomic():
            draft = _lock(draft_id, actor)
            _require_seen(draft, seen)
            model = read_step_model(read_step(draft))
            lacks = find_lacks(model)
            if lacks:
                message = f"The tree isn't finished: {lacks[0].message} {lacks[0].mend}"
                raise BadInput(message, code="unfinished", fields={"note": [f"{e.message} {e.mend}" for e in lacks]})
            if draft.tree_id:
                tree = Tree.objects.select_for_update().get(pk=draft.tree_id)
                newest = tree.revisions.first()
                if newest and newest.pk == draft.base_id and model == open_model(newest):
                    raise BadInput(UNCHANGED, code="unchanged", fields={"note": [UNCHANGED]})
                if newest and newest.pk != draft.base_id:
                    raise Conflict(
                        f"{newest.author.get_full_name() or newest.author.username} saved revision {newest.number} in "
                        "the meantime. Bring your steps onto it, look at the result, then save.",
                        code="newer_revision",
                    )
            revision = save_model(
                actor=actor,
                tree_id=draft.tree_id,
                name=draft.name,
                label=draft.label,
                source=write_source(fill_shared(model, DataSet.objects.newest())),
                note=note,
            )
            draft.delete()
    except IntegrityError:
        raise BadInput(NAME_TAKEN, code="name_taken", fields={"name": [NAME_TAKEN]}) from None
    return revision


def bring_forward(*, draft_id: int, actor: User) -> tuple[TreeDraft, list[str]]:
    """The draft's steps are repeated on the newest revision; returns the steps that couldn't be, with the reason."""
    with transaction.atomic():
        draft = _lock(draft_id, actor)
        newest = draft.tree.revisions.first() if draft.tree else None
        if newest is None or newest.pk == draft.base_id:
            return draft, []
        steps = list(draft.steps.filter(number__gt=0, number__lte=draft.position, edit__isnull=False))
        draft.steps.all().delete()
        model, number, failed = open_model(newest), 0, []
        _keep(draft, 0, None, f"Revision {newest.number} as it is.", model)
        for step in steps:
            try:
                done = apply_edit(model, step.edit or {})
            except EditRefused as refused:
                failed.append(f"{step.words} {refused}")
                continue
            number, model = number + 1, done.model
            _keep(draft, number, step.edit, done.words, model)
        draft.base, draft.position = newest, number
        draft.save(update_fields=["base", "position", "changed"])
    return draft, failed


def discard_draft(*, draft_id: int, actor: User) -> None:
    """The draft is gone; the tree stays as it was last saved."""
    with transaction.atomic():
        _lock(draft_id, actor).delete()


def read_step(draft: TreeDraft) -> DraftStep:
    """Return the step that a draft shows."""
    return draft.steps.get(number=draft.position)


def _lock(draft_id: int, actor: User) -> TreeDraft:
    draft = TreeDraft.objects.select_for_update().get(pk=draft_id)
    require(actor, "draft.edit", draft)
    return draft


def _require_seen(draft: TreeDraft, seen: int) -> None:
    if seen != draft.position:
        raise Conflict(STALE, code="stale_draft")


def _go(draft_id: int, actor: User, seen: int, by: int) -> tuple[TreeDraft, str]:
    with transaction.atomic():
        draft = _lock(draft_id, actor)
        _require_seen(draft, seen)
        target = draft.steps.filter(number=draft.position + by).first()
        if target is None:
            raise Conflict("There is nothing to undo." if by < 0 else "There is nothing to do again.", code="no_step")
        words = draft.steps.get(number=draft.position).words if by < 0 else target.words
        draft.position += by
        draft.save(update_fields=["position", "changed"])
    return draft, words


def _keep(draft: TreeDraft, number: int, edit: dict[str, Any] | None, words: str, model: Model) -> DraftStep:
    return DraftStep.objects.create(
        draft=draft, number=number, edit=edit, words=words[:300], document=pack_model(model)
    )


def _forget_oldest(draft: TreeDraft) -> None:
    draft.steps.filter(number__lt=draft.position - MOST_STEPS).delete()
