"""The corrective action that asks for a revision."""

from __future__ import annotations

import pytest

from anomalies.models import ProcedureRevision
from anomalies.services.actions import drop_action
from anomalies.services.procedures import draft_revision, edit_revision
from config.kit.errors import BadInput
from tests.anomalies.actions import make_proposed
from tests.anomalies.people import board_member, make_open
from tests.anomalies.procedures import make_drafted, make_procedure, make_released, writer
from tests.anomalies.refusals import refused
from tests.anomalies.views.test_procedures import read
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def test_the_anomaly_follows_from_the_action():
    action, actor = make_proposed(kind="procedure"), writer()
    revision = draft_revision(procedure_id=make_procedure().pk, actor=actor, summary="x", action_id=action.pk)
    assert (revision.action, revision.anomaly) == (action, action.anomaly)


@pytest.mark.parametrize("which", ["none", "another kind", "dropped"])
def test_only_a_procedure_change_that_was_not_dropped_asks_for_one(which):
    action = make_proposed(kind="training" if which == "another kind" else "procedure")
    if which == "dropped":
        drop_action(action_id=action.pk, actor=board_member(), reason="Other.")
    procedure, actor = make_procedure(), writer()
    with refused(BadInput, code="wrong_action"):
        draft_revision(
            procedure_id=procedure.pk, actor=actor, summary="x", action_id=0 if which == "none" else action.pk
        )
    assert not ProcedureRevision.objects.exists()


def test_an_action_does_not_ask_for_another_anomaly():
    action, other = make_proposed(kind="procedure"), make_open()
    procedure, actor = make_procedure(), writer()
    with refused(BadInput, code="other_anomaly"):
        draft_revision(procedure_id=procedure.pk, actor=actor, summary="x", action_id=action.pk, anomaly_id=other.pk)


def test_the_action_can_be_named_later():
    action, revision, actor = make_proposed(kind="procedure"), make_drafted(), writer()
    edited = edit_revision(
        revision_id=revision.pk, actor=actor, version=revision.version, changes={"action_id": action.pk}
    )
    assert (edited.action_id, edited.anomaly_id) == (action.pk, action.anomaly_id)


def test_the_redline_names_the_action_and_the_anomaly():
    action, actor = make_proposed(kind="procedure"), writer()
    make_released(procedure := make_procedure(), "Push.")
    revision = draft_revision(procedure_id=procedure.pk, actor=actor, summary="x", action_id=action.pk)
    page = read(log_in(actor), f"{revision.get_absolute_url()}?show=redline")
    assert action.number in page
    assert action.anomaly.number in page


@pytest.mark.parametrize("sent", ["the same", None])
def test_what_is_left_out_of_an_edit_stays_so_that_action_and_anomaly_agree(sent):
    action, actor = make_proposed(kind="procedure"), writer()
    revision = draft_revision(procedure_id=make_procedure().pk, actor=actor, summary="x", action_id=action.pk)
    changes = {"anomaly_id": sent and action.anomaly_id}
    edited = edit_revision(revision_id=revision.pk, actor=actor, version=revision.version, changes=changes)
    assert (edited.action_id, edited.anomaly_id) == (action.pk, action.anomaly_id)


def test_an_edit_does_not_set_the_anomaly_against_the_action():
    action, actor = make_proposed(kind="procedure"), writer()
    revision = draft_revision(procedure_id=make_procedure().pk, actor=actor, summary="x", action_id=action.pk)
    other = make_open()
    with refused(BadInput, code="other_anomaly"):
        edit_revision(revision_id=revision.pk, actor=actor, version=revision.version, changes={"anomaly_id": other.pk})


def test_action_and_anomaly_can_both_be_taken_away():
    action, actor = make_proposed(kind="procedure"), writer()
    revision = draft_revision(procedure_id=make_procedure().pk, actor=actor, summary="x", action_id=action.pk)
    changes = {"action_id": None, "anomaly_id": None}
    edited = edit_revision(revision_id=revision.pk, actor=actor, version=revision.version, changes=changes)
    assert (edited.action_id, edited.anomaly_id) == (None, None)
