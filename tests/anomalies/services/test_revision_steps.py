"""Edits of a draft's steps: written, in the ledger, refused when stale."""

from __future__ import annotations

import pytest
from django.db import connection

from anomalies.errors import EditConflict
from anomalies.models import LedgerEntry
from anomalies.reads.history import read_history
from anomalies.reads.procedures import read_redline, read_steps_at
from anomalies.redline import draw_redline
from anomalies.services import revision_steps as service
from anomalies.services.ledger_proof import find_different_fields, prove_ledger
from anomalies.steps import Reading
from config.kit.errors import BadInput, NotAllowed, WrongState
from tests.anomalies.people import viewer
from tests.anomalies.procedures import make_drafted, make_procedure, make_released, make_submitted, writer
from tests.anomalies.refusals import refused
from tests.anomalies.tampering import execute

pytestmark = pytest.mark.django_db
LIMITS = {"expected": "", "unit": "kPa", "low": "55.0", "high": "70.0"}


def edit(revision, what, **more):
    """Make the edit at the version the database has now."""
    done = getattr(service, what)(revision_id=revision.pk, actor=writer(), version=revision.reread().version, **more)
    return done if isinstance(done, tuple) else (done, "")


def test_steps_are_added_nested_changed_moved_and_deleted():
    revision = make_drafted(None, "Prepare.", "Mate.")
    prepare, mate = [step.key for step in revision.read_steps()]
    _, read = edit(revision, "add_revision_step", kind="check", text=" Read it. ", parent=mate, reading=LIMITS)
    _, wipe = edit(revision, "add_revision_step", kind="do", text="Wipe.", after="")
    edit(revision, "move_revision_step", key=read, parent=prepare)
    edit(revision, "delete_revision_step", key=mate)
    edit(revision, "change_revision_step", key=prepare, changes={"kind": "group", "text": "Prepare it."})
    steps = revision.reread().read_steps()
    assert [(step.key, step.parent, step.kind, step.text) for step in steps] == [
        (wipe, "", "do", "Wipe."),
        (prepare, "", "group", "Prepare it."),
        (read, prepare, "check", "Read it."),
    ]
    assert steps[2].reading == Reading(unit="kPa", low="55.0", high="70.0")
    actions = [entry.action for entry in LedgerEntry.objects.of("procedure_revision", revision.pk)]
    assert actions[3:] == [f"procedure_revision.{verb}_step" for verb in ("add", "add", "move", "delete", "change")]
    assert prove_ledger().is_whole


def test_warnings_are_inserted_changed_and_removed():
    revision = make_drafted(None, "Mate.")
    key = revision.read_steps()[0].key
    _, warning = edit(revision, "insert_revision_notice", step_key=key, kind="warning", text="Cold.")
    edit(revision, "change_revision_notice", key=warning, kind="caution", text="Cold hose.")
    notice = revision.reread().read_steps()[0].notices[0]
    assert (notice.key, notice.kind, notice.text) == (warning, "caution", "Cold hose.")
    edit(revision, "remove_revision_notice", key=warning)
    assert revision.reread().read_steps()[0].notices == ()
    assert prove_ledger().is_whole


def test_the_ledger_holds_the_step_that_changed_and_no_other():
    revision = make_drafted(None, "Prepare.", "Mate.")
    key = revision.read_steps()[1].key
    edit(revision, "change_revision_step", key=key, changes={"text": "Mate it."})
    entry = LedgerEntry.objects.of("procedure_revision", revision.pk).last()
    assert set(entry.changes) == {f"step {key}", "version"}
    before, after = entry.changes[f"step {key}"]
    assert (before["text"], after["text"]) == ("Mate.", "Mate it.")


def test_steps_at_every_version_are_read_off_the_ledger():
    revision = make_drafted(None, "Prepare.", "Mate.")
    prepare, mate = [step.key for step in revision.read_steps()]
    kept = {revision.version: revision.read_steps()}
    for what, more in (
        ("insert_revision_notice", {"step_key": mate, "kind": "warning", "text": "Cold."}),
        ("move_revision_step", {"key": mate, "parent": "", "after": ""}),
        ("delete_revision_step", {"key": prepare}),
        ("delete_revision_step", {"key": mate}),
    ):
        edited, _ = edit(revision, what, **more)
        kept[edited.version] = edited.read_steps()
    for version, steps in kept.items():
        assert read_steps_at(revision, version) == steps
    assert read_steps_at(revision, 1) == ()
    changed = draw_redline(read_steps_at(revision, 4), read_steps_at(revision, 5)).count()
    assert changed == {"added": 0, "removed": 0, "changed": 0, "moved": 1}


def test_a_revisions_history_tells_steps_by_their_text():
    revision = make_drafted(None, "Prepare.", "Mate.")
    mate = revision.read_steps()[1].key
    edit(revision, "change_revision_step", key=mate, changes={"reading": LIMITS})
    edit(revision, "insert_revision_notice", step_key=mate, kind="warning", text="Cold.")
    edit(revision, "move_revision_step", key=mate, parent="", after="")
    events = read_history(revision)
    told = [sorted((change.label, change.before, change.after) for change in event.changes) for event in events]
    limits = "Reading: 55.0 to 70.0 kPa"
    assert told[1] == [("order of steps", "—", "Prepare."), ("step", "—", "Prepare.")]
    assert told[3] == [("step", "Mate.", f"Mate.\n{limits}")]
    assert told[4] == [("step", f"Mate.\n{limits}", f"Warning: Cold.\nMate.\n{limits}")]
    assert told[5] == [("order of steps", "Prepare. · Mate.", "Mate. · Prepare.")]


def test_an_edit_that_changes_nothing_writes_nothing():
    revision = make_drafted(None, "Mate.")
    key = revision.read_steps()[0].key
    entries = LedgerEntry.objects.count()
    edit(revision, "change_revision_step", key=key, changes={"text": "Mate. ", "reading": {"unit": " "}})
    edit(revision, "move_revision_step", key=key, parent="")
    assert (revision.reread().version, LedgerEntry.objects.count()) == (revision.version, entries)


def stale_edits(key):
    return {
        "add_revision_step": {"kind": "do", "text": "x"},
        "change_revision_step": {"key": key, "changes": {"text": "Mate gently."}},
        "move_revision_step": {"key": key, "parent": ""},
        "delete_revision_step": {"key": key},
        "insert_revision_notice": {"step_key": key, "kind": "note", "text": "x"},
        "change_revision_notice": {"key": "any", "kind": "note", "text": "x"},
        "remove_revision_notice": {"key": "any"},
    }


@pytest.mark.parametrize("what", stale_edits(""))
def test_an_edit_is_refused_stale_in_the_wrong_state_and_to_strangers(what):
    revision = make_drafted(None, "Mate.")
    key = revision.read_steps()[0].key
    given = {"revision_id": revision.pk, "version": revision.version} | stale_edits(key)[what]
    author, stranger = writer(), viewer()
    with refused(NotAllowed):
        getattr(service, what)(actor=stranger, **given)
    edit(revision, "change_revision_step", key=key, changes={"text": "Mate it."})
    with refused(EditConflict) as caught:
        getattr(service, what)(actor=author, **given)
    theirs = caught.value.theirs[f"step {key}"]
    assert (theirs["before"]["text"], theirs["after"]["text"]) == ("Mate.", "Mate it.")
    submitted = make_submitted()
    with refused(WrongState):
        getattr(service, what)(actor=author, **given | {"revision_id": submitted.pk, "version": submitted.version})


def test_a_clash_over_one_step_is_told_from_two_edits_of_different_steps():
    revision = make_drafted(None, "Prepare.", "Mate.")
    prepare, mate = [step.key for step in revision.read_steps()]
    stale = {"revision_id": revision.pk, "actor": writer(), "version": revision.version}
    edit(revision, "change_revision_step", key=mate, changes={"text": "Mate it."})
    with pytest.raises(EditConflict) as caught:
        service.change_revision_step(**stale, key=mate, changes={"text": "Mate gently."})
    assert caught.value.clashes == (f"step {mate}",)
    with pytest.raises(EditConflict) as caught:
        service.change_revision_step(**stale, key=prepare, changes={"text": "Prepare it."})
    assert caught.value.clashes == ()


@pytest.mark.parametrize(
    ("more", "fields"),
    [
        ({"text": ""}, {"text"}),
        ({"text": "nul\0"}, {"text"}),
        ({"kind": "pray"}, {"kind"}),
        ({"reading": {"low": "much"}}, {"low", "unit"}),
        ({"reading": {"low": 55}}, {"reading"}),
        ({"reading": {"colour": "red"}}, {"reading"}),
    ],
)
def test_a_step_that_cannot_be_used_names_its_fields(more, fields):
    revision, actor = make_drafted(), writer()
    given = {"kind": "check", "text": "Read."} | more
    with refused(BadInput) as caught:
        service.add_revision_step(revision_id=revision.pk, actor=actor, version=revision.version, **given)
    assert set(caught.value.fields) == fields


def test_a_step_keeps_its_key_through_revisions_and_the_redline_shows_what_changed():
    procedure = make_procedure()
    first = make_released(procedure, "Push.", "Pull.")
    push, pull = [step.key for step in first.read_steps()]
    second = make_drafted(procedure, "Report.")
    edit(second, "change_revision_step", key=pull, changes={"text": "Pull twice."})
    lines = {line.key: line for line in read_redline(second.reread(), first).lines}
    assert (lines[push].mark, lines[pull].mark) == ("same", "changed")
    assert read_redline(second.reread(), first).count() == {"added": 1, "removed": 0, "changed": 1, "moved": 0}
    assert read_redline(first, None).count()["added"] == 2


def test_a_step_changed_behind_the_service_is_found_and_named():
    revision = make_released(None, "Push.")
    key = revision.read_steps()[0].key
    steps = "steps::text" if connection.vendor == "postgresql" else "steps"
    back = "::jsonb" if connection.vendor == "postgresql" else ""
    execute(f"UPDATE anomalies_procedurerevision SET steps = REPLACE({steps}, 'Push.', 'Pull.'){back}")
    (fault,) = prove_ledger().record_faults
    assert (fault.code, fault.kind, fault.record_id) == ("record_changed", "procedure_revision", revision.pk)
    assert find_different_fields(revision.reread()) == [f"step {key}"]
