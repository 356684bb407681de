"""New procedures, drafts of their revisions, and which activity uses which."""

from __future__ import annotations

import pytest

from anomalies.errors import EditConflict
from anomalies.models import LedgerEntry, ProcedureRevision, ProcedureUse
from anomalies.services.activities import complete_activity, start_activity
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import (
    add_procedure,
    draft_revision,
    drop_procedure,
    edit_revision,
    rename_procedure,
    use_procedure,
)
from anomalies.services.revision_moves import submit_revision, withdraw_revision
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.people import activity_lead, make_draft, make_reported, viewer
from tests.anomalies.procedures import (
    make_drafted,
    make_procedure,
    make_released,
    make_sortie,
    make_submitted,
    writer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def test_procedures_and_cards_are_numbered_apart():
    procedures = [make_procedure(kind=kind) for kind in ("operation", "card", "contingency", "card")]
    assert [procedure.number for procedure in procedures] == ["P-001", "Q-001", "P-002", "Q-002"]
    assert [procedure.is_card for procedure in procedures] == [False, True, False, True]
    assert LedgerEntry.objects.filter(action="procedure.add").count() == 4


def test_a_procedure_is_added_only_by_those_who_write_them():
    actor = viewer()
    with refused(NotAllowed):
        add_procedure(actor=actor, title="Mate the umbilical", kind="operation")


@pytest.mark.parametrize(("changes", "field"), [({"title": " "}, "title"), ({"kind": "poem"}, "kind")])
def test_a_procedure_that_cannot_be_used_names_the_field(changes, field):
    actor = writer()
    with refused(BadInput) as caught:
        add_procedure(actor=actor, **{"title": "Mate the umbilical", "kind": "operation"} | changes)
    assert set(caught.value.fields) == {field}


def test_a_title_is_corrected_until_a_revision_is_submitted():
    procedure = make_procedure()
    renamed = rename_procedure(procedure_id=procedure.pk, actor=writer(), version=1, title="Mate umbilical B")
    assert (renamed.title, renamed.version) == ("Mate umbilical B", 2)
    again = rename_procedure(procedure_id=procedure.pk, actor=writer(), version=2, title="Mate umbilical B")
    assert again.version == 2
    actor = viewer()
    with refused(NotAllowed):
        rename_procedure(procedure_id=procedure.pk, actor=actor, version=2, title="x")
    with refused(EditConflict) as caught:
        rename_procedure(procedure_id=procedure.pk, actor=writer(), version=1, title="Mate it")
    assert caught.value.clashes == ("title",)
    revision = make_submitted(procedure)
    withdraw_revision(revision_id=revision.pk, actor=writer(), reason="Not needed.")
    with refused(Refused, code="title_stays"):
        rename_procedure(procedure_id=procedure.pk, actor=writer(), version=2, title="Mate it")


def test_the_first_revision_is_empty_and_names_what_caused_it():
    procedure, anomaly = make_procedure(), make_reported()
    revision = draft_revision(procedure_id=procedure.pk, actor=writer(), summary="It wept.", anomaly_id=anomaly.pk)
    assert (revision.number, revision.base, revision.steps, revision.state) == (1, None, [], "drafted")
    assert (revision.author, revision.anomaly) == (writer(), anomaly)
    assert list(anomaly.procedure_revisions.all()) == [revision]
    assert LedgerEntry.objects.of("procedure_revision", revision.pk).get().action == "procedure_revision.draft"


def test_the_next_revision_starts_from_the_latest_ever_released():
    procedure = make_procedure()
    first = make_released(procedure, "Push.", "Pull.")
    abandoned = make_drafted(procedure, "Sing.")
    withdraw_revision(revision_id=abandoned.pk, actor=writer(), reason="No.")
    third = draft_revision(procedure_id=procedure.pk, actor=writer(), summary="Twist.")
    assert (third.number, third.base, third.steps) == (3, first, first.steps)
    assert [step.text for step in third.read_steps()] == ["Push.", "Pull."]


def test_two_revisions_are_not_worked_on_at_once():
    revision = make_drafted()
    with refused(Refused, code="revision_undecided", match="Revision 1 is drafted"):
        draft_revision(procedure_id=revision.procedure_id, actor=writer(), summary="Another.")


def test_a_draft_is_made_only_by_those_who_write():
    procedure, actor = make_procedure(), viewer()
    with refused(NotAllowed):
        draft_revision(procedure_id=procedure.pk, actor=actor, summary="x")


@pytest.mark.parametrize("which", ["none", "a draft"])
def test_what_caused_a_revision_is_an_anomaly_that_is_reported(which):
    procedure = make_procedure()
    anomaly_id = make_draft().pk if which == "a draft" else 0
    actor = writer()
    with refused(BadInput, code="unknown_anomaly"):
        draft_revision(procedure_id=procedure.pk, actor=actor, summary="x", anomaly_id=anomaly_id)


def test_a_revision_says_what_it_changes():
    procedure, actor = make_procedure(), writer()
    with refused(BadInput) as caught:
        draft_revision(procedure_id=procedure.pk, actor=actor, summary="  ")
    assert set(caught.value.fields) == {"summary"}


def test_summary_and_cause_are_edited_while_drafted():
    revision, anomaly, unseen = make_drafted(), make_reported(), make_draft()
    changes = {"summary": "The latch must hold.", "anomaly_id": anomaly.pk}
    given = {"revision_id": revision.pk, "actor": writer()}
    edited = edit_revision(**given, version=revision.version, changes=changes)
    assert (edited.summary, edited.anomaly_id, edited.version) == (*changes.values(), revision.version + 1)
    with refused(EditConflict):
        edit_revision(**given, version=revision.version, changes={"summary": "x"})
    with refused(BadInput, code="unknown_anomaly"):
        edit_revision(**given, version=edited.version, changes={"anomaly_id": unseen.pk})
    with refused(BadInput) as caught:
        edit_revision(**given, version=edited.version, changes={"state": "released"})
    assert set(caught.value.fields) == {"state"}
    submitted = submit_revision(**given, version=edited.version)
    with refused(WrongState):
        edit_revision(**given, version=submitted.version, changes={"summary": "x"})


def test_an_activity_uses_a_procedure_until_it_is_dropped():
    sortie, procedure, lead = make_sortie(1), make_procedure(), activity_lead()
    keys = {"activity_id": sortie.pk, "procedure_id": procedure.pk, "actor": lead}
    use = use_procedure(**keys, role="lead")
    assert use_procedure(**keys, role="lead") == use
    drop_procedure(**keys, role="lead")
    assert not ProcedureUse.objects.to_come().exists()
    assert use_procedure(**keys, role="lead") == use
    assert [entry.action for entry in LedgerEntry.objects.of("procedure_use", use.pk)] == [
        "activity.use_procedure",
        "activity.drop_procedure",
        "activity.use_procedure",
    ]
    assert prove_ledger().is_whole


def test_the_list_of_procedures_is_the_activity_leads():
    sortie, procedure, actor = make_sortie(1), make_procedure(), writer()
    with refused(NotAllowed):
        use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=actor)
    with refused(NotAllowed):
        drop_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=actor)
    with refused(BadInput) as caught:
        use_procedure(activity_id=sortie.pk, procedure_id=0, actor=activity_lead())
    assert set(caught.value.fields) == {"procedure_id"}


def test_the_list_is_closed_when_the_activity_is_over():
    sortie, procedure, lead = make_sortie(1), make_procedure(), activity_lead()
    start_activity(activity_id=sortie.pk, actor=lead)
    complete_activity(activity_id=sortie.pk, actor=lead)
    with refused(WrongState):
        use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=lead)


def test_only_those_who_may_see_procedures_see_them(django_user_model):
    revision = make_drafted()
    stranger = django_user_model.objects.create_user("stranger")
    for queryset in (type(revision.procedure).objects, ProcedureRevision.objects):
        assert queryset.all().visible_to(viewer()).count() == 1
        assert queryset.all().visible_to(stranger).count() == 0
