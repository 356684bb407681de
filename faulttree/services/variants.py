"""Writes of variants: named sets of overrides of a tree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction

from config.kit.errors import BadInput, Conflict
from config.kit.ledger import note_removal, note_write
from config.kit.permissions import require
from faulttree.bridge import (
    Overrides,
    Request,
    check_overrides,
    parse_overrides,
    read_current,
    say_overrides,
    write_overrides,
)
from faulttree.models import Run, Tree, TreeRevision, Variant
from faulttree.services.runs import DEFAULT_LIST_COUNT, request_run

NAME_NEEDED = "A variant needs a name. Say in a few words what is different."
NAME_TAKEN = "This tree has a variant of that name. Choose another name, or change that variant."
NOTHING_DIFFERENT = (
    "Nothing is different from the tree. Set an event, a switch or a parameter, or give another mission time."
)
NAME_LENGTH, NOTE_LENGTH = 120, 500


def add_variant(*, tree_id: int, actor: User, name: str, overrides: Any, note: str = "") -> Variant:
    """Add a variant to a tree; `overrides` is JSON as engine/overrides.py shows it.

    Raises BadInput naming the field: a name that is missing or taken, overrides that are empty, of another
    shape, or that the newest revision can't be computed with.
    """
    try:
        with transaction.atomic():
            tree = Tree.objects.select_for_update().get(pk=tree_id)
            require(actor, "variant.add", tree)
            name, note, said = _clean(tree, name, note, overrides)
            if tree.variants.filter(name=name).exists():
                raise _refuse("name", NAME_TAKEN, "name_taken")
            variant = Variant.objects.create(
                tree=tree, name=name, note=note, overrides=write_overrides(said), author=actor
            )
            note_write(variant, actor=actor, action="variant.add")
            return variant
    except IntegrityError:
        raise _refuse("name", NAME_TAKEN, "name_taken") from None


def change_variant(*, variant_id: int, actor: User, version: int, name: str, overrides: Any, note: str = "") -> Variant:
    """Put another name, note and overrides in place of those that the actor saw as `version`.

    The author is who saved last. Raises Conflict, which says what it holds now, when somebody saved in between.
    """
    try:
        with transaction.atomic():
            variant = (
                Variant.objects.select_for_update(of=("self",)).select_related("tree", "author").get(pk=variant_id)
            )
            require(actor, "variant.change", variant)
            name, note, said = _clean(variant.tree, name, note, overrides)
            if variant.version != version:
                raise Conflict(_say_conflict(variant, name, note, said), code="stale_variant")
            if variant.tree.variants.filter(name=name).exclude(pk=variant.pk).exists():
                raise _refuse("name", NAME_TAKEN, "name_taken")
            before = variant.content()
            variant.name, variant.note, variant.overrides = name, note, write_overrides(said)
            variant.author, variant.version = actor, version + 1
            variant.save()
            note_write(variant, actor=actor, action="variant.change", before=before)
            return variant
    except IntegrityError:
        raise _refuse("name", NAME_TAKEN, "name_taken") from None


def remove_variant(*, variant_id: int, actor: User) -> Tree:
    """Remove a variant; runs that were computed with its overrides stay. Returns its tree."""
    with transaction.atomic():
        variant = Variant.objects.select_for_update(of=("self",)).select_related("tree").get(pk=variant_id)
        require(actor, "variant.remove", variant)
        note_removal(variant, actor=actor, action="variant.remove")
        variant.delete()
        return variant.tree


def _clean(tree: Tree, name: str, note: str, overrides: Any) -> tuple[str, str, Overrides]:
    name, note = " ".join(name.split()), note.strip()
    if not name:
        raise _refuse("name", NAME_NEEDED, "name_needed")
    if len(name) > NAME_LENGTH:
        raise _refuse("name", f"The name has {len(name)} letters; {NAME_LENGTH} is the most.", "too_long")
    if len(note) > NOTE_LENGTH:
        raise _refuse("note", f"The note has {len(note)} letters; {NOTE_LENGTH} is the most.", "too_long")
    said = parse_overrides(overrides)
    if not said:
        raise _refuse("overrides", NOTHING_DIFFERENT, "nothing_different")
    newest: TreeRevision | None = tree.revisions.first()
    if newest is not None:
        check_overrides(read_current(newest), said)
    return name, note, said


def _refuse(field: str, message: str, code: str) -> BadInput:
    return BadInput(message, code=code, fields={field: [message]})


def _say_conflict(variant: Variant, name: str, note: str, said: Overrides) -> str:
    """Tell where what is kept by now and what was sent part."""
    who = variant.author.get_full_name() or variant.author.username
    kept = parse_overrides(variant.overrides)
    told = [
        f"The {field} is “{theirs}” now and “{ours}” here."
        for field, theirs, ours in (("name", variant.name, name), ("note", variant.note, note))
        if theirs != ours
    ]
    theirs, ours = say_overrides(kept), say_overrides(said)
    only_theirs = [phrase for phrase in theirs if phrase not in ours]
    only_ours = [phrase for phrase in ours if phrase not in theirs]
    if only_theirs:
        told.append(f"Only there: {'; '.join(only_theirs)}.")
    if only_ours:
        told.append(f"Only here: {'; '.join(only_ours)}.")
    if not told:
        told = ["It says what you sent."]
    return f"{who} saved this variant in the meantime. {' '.join(told)} Nothing of yours was saved."


def request_variant_runs(
    *, revision_id: int, actor: User, top: str, mission_time: float | None, variant_ids: Sequence[int], base: bool
) -> list[Run]:
    """Ask for a run of each of these variants with a revision, and of the tree as it stands where `base` says so.

    Raises BadInput where one can't be computed; then none is asked for.
    """
    with transaction.atomic():
        revision = TreeRevision.objects.without_source().select_related("tree").get(pk=revision_id)
        require(actor, "run.request", revision)
        chosen = revision.tree.variants.filter(pk__in=variant_ids)
        overrides = [*([Overrides()] if base else []), *(parse_overrides(variant.overrides) for variant in chosen)]
        return [
            request_run(revision_id=revision_id, actor=actor, request=compared_request(top, mission_time, each))
            for each in overrides
        ]


def compared_request(top: str, mission_time: float | None, overrides: Overrides) -> Request:
    """Return the request of a run that is compared with others."""
    return Request(top=top, mission_time=mission_time, list_count=DEFAULT_LIST_COUNT, overrides=overrides)
