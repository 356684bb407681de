"""Pages of procedures: the list, one procedure, a revision from its first step to release, redline, card, readers."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import Group

from anomalies.models import Procedure, ProcedureRevision
from anomalies.services.activities import add_crew
from anomalies.services.procedures import use_procedure
from anomalies.services.revision_steps import change_revision_step
from tests.anomalies.people import (
    activity_lead,
    make_open,
    make_stranger,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import (
    PASSWORD,
    add_step,
    make_approved,
    make_drafted,
    make_procedure,
    make_released,
    make_sortie,
    make_submitted,
    prove,
    writer,
)
from tests.anomalies.refusals import everything
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def client():
    return log_in(writer())


def send(client, record, move, **typed):
    answer = client.post(f"/records/{record.KIND}/{record.pk}/{move}/", typed)
    return answer.status_code, answer.content.decode()


def read(client, address):
    answer = client.get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def texts(revision):
    return [step.text for step in revision.reread().read_steps()]


def test_a_procedure_is_added_with_its_number(client):
    assert client.get("/procedures/new/").status_code == 200
    answer = client.post("/procedures/new/", {"title": "Mate the umbilical", "kind": "operation"})
    assert answer.headers["Location"] == "/procedures/P-001/"
    page = read(client, "/procedures/P-001/")
    assert "No revision yet" in page
    assert "/draft-revision/" in page


def test_a_fault_in_a_new_procedure_keeps_the_rest(client):
    answer = client.post("/procedures/new/", {"title": "", "kind": "card"})
    assert answer.status_code == 422
    assert '<option value="card" selected>' in answer.content.decode()
    assert not Procedure.objects.exists()


@pytest.mark.parametrize("method", ["get", "post"])
def test_who_may_not_add_one_is_refused(method):
    assert getattr(log_in(viewer()), method)("/procedures/new/", {"title": "X", "kind": "card"}).status_code == 403


def test_the_list_shows_what_is_in_force_and_what_is_being_changed(client):
    released, changed = make_released(), make_drafted(make_procedure(title="Vent the airlock"))
    page = read(client, "/procedures/")
    assert "Mate the umbilical" in page
    assert f"/procedures/{released.procedure.number}/revisions/1/" in page
    assert "Sortie 1" in page
    undecided = read(client, "/procedures/?show=undecided")
    assert changed.procedure.title in undecided
    assert "Mate the umbilical" not in undecided
    assert "Vent the airlock" in read(client, "/procedures/?words=vent")
    assert "No procedure fits" in read(client, "/procedures/?words=zeppelin")
    assert "<html" not in client.get("/procedures/", headers=HTMX).content.decode()
    table = b"".join(client.get("/procedures/export.csv?show=undecided").streaming_content).decode()
    assert "Vent the airlock" in table
    assert "Mate" not in table


def test_what_one_must_read_has_a_tab_of_its_own():
    revision, reader = make_released(), viewer()
    sortie = make_sortie(2)
    use_procedure(activity_id=sortie.pk, procedure_id=revision.procedure_id, actor=activity_lead())
    add_crew(activity_id=sortie.pk, person_id=reader.pk, role="outside", actor=activity_lead())
    client = log_in(reader)
    assert "Mate the umbilical" in read(client, "/procedures/?show=unread")
    page = read(client, revision.get_absolute_url())
    assert "not yet" in page
    assert send(client, revision, "acknowledge")[0] == 302
    page = read(client, revision.get_absolute_url())
    assert "You have read it" in page
    assert '/acknowledge/" hx-get' not in page
    assert "nothing for you to read" in read(client, "/procedures/?show=unread")


def test_who_may_not_see_procedures_finds_nothing():
    revision = make_drafted()
    client = log_in(make_stranger())
    assert client.get("/procedures/").status_code == 403
    for address in (revision.procedure.get_absolute_url(), revision.get_absolute_url()):
        assert client.get(address).status_code == 404
    assert log_in(viewer()).get("/procedures/P-999/").status_code == 404
    assert log_in(viewer()).get("/procedures/P-001/revisions/9/").status_code == 404


def test_a_viewer_reads_and_is_offered_no_edit():
    revision = make_drafted(None, "Push.")
    page = read(log_in(viewer()), revision.get_absolute_url())
    assert "Push." in page
    for move in ("change-step", "add-step", "submit", "edit"):
        assert f"/{move}/" not in page
        assert send(log_in(viewer()), revision, move)[0] == 403


def test_a_revision_names_what_caused_it(client):
    procedure, anomaly = make_procedure(), make_open()
    typed = {"summary": "The collar must click.", "anomaly": anomaly.number.lower()}
    assert send(client, procedure, "draft-revision", **typed)[0] == 302
    revision = ProcedureRevision.objects.get()
    assert revision.anomaly == anomaly
    assert anomaly.number in read(client, revision.get_absolute_url())
    assert send(client, procedure, "draft-revision", **typed)[0] == 409  # this one comes first
    status, page = send(client, revision, "edit", version=1, summary="Otherwise.", action="CA-1999-001")
    assert status == 422
    assert "no action with the number CA-1999-001" in page
    assert send(client, revision, "edit", version=1, summary="Otherwise.")[0] == 302
    assert (revision.reread().summary, revision.reread().anomaly) == ("Otherwise.", None)


def test_renaming_is_offered_until_somebody_signed_under_the_title(client):
    revision = make_drafted()
    procedure = revision.procedure
    assert '/rename/" hx-get' in read(client, procedure.get_absolute_url())
    assert send(client, procedure, "rename", version=1, title="Mate it")[0] == 302
    assert procedure.reread().title == "Mate it"
    submitted = make_submitted().procedure.get_absolute_url()
    assert '/rename/" hx-get' not in read(client, submitted)


def test_steps_are_written_one_by_one(client):
    revision = make_drafted(None, "Second.")
    (second,) = revision.read_steps()
    first = {"kind": "do", "text": "First.", "parent": "", "after": ""}
    assert send(client, revision, "add-step", version=revision.version, **first)[0] == 302
    last = {"kind": "check", "text": "Read the pressure.", "low": "55.0", "high": "70.0", "unit": "kPa"}
    assert send(client, revision, "add-step", version=revision.version + 1, after="last", **last)[0] == 302
    assert texts(revision) == ["First.", "Second.", "Read the pressure."]
    assert "55.0 to 70.0 kPa" in read(client, revision.get_absolute_url())
    warning = {"step": second.key, "kind": "warning", "text": "Above 90 kPa the hose bursts."}
    assert send(client, revision, "add-notice", version=revision.version + 2, **warning)[0] == 302
    page = read(client, revision.get_absolute_url())
    assert page.index("the hose bursts") < page.index("Second.")


def test_a_step_is_changed_moved_and_deleted(client):
    revision = make_drafted(None, "One.", "Two.", "Three.")
    one, two, three = revision.read_steps()
    address = f"/records/procedure_revision/{revision.pk}/change-step/?step={two.key}"
    assert "Two." in read(client, address)
    changed = {"step": two.key, "kind": "do", "text": "Two, slowly."}
    answer = client.post(
        f"/records/procedure_revision/{revision.pk}/change-step/", changed | {"version": revision.version}
    )
    assert answer.headers["Location"] == f"{revision.get_absolute_url()}#step-{two.key}"
    assert (
        send(client, revision, "move-step", version=revision.version + 1, step=one.key, to=f"after:{three.key}")[0]
        == 302
    )
    assert texts(revision) == ["Two, slowly.", "Three.", "One."]
    assert send(client, revision, "move-step", version=revision.version + 2, step=one.key, to="first:")[0] == 302
    assert send(client, revision, "delete-step", version=revision.version + 3, step=three.key)[0] == 302
    assert texts(revision) == ["One.", "Two, slowly."]


def test_a_step_goes_into_a_group(client):
    revision = make_drafted(None, "Push.")
    revision = add_step(revision, "Mate.", kind="group")
    push, group = revision.read_steps()
    sent = {"step": push.key, "to": f"first:{group.key}", "version": revision.version}
    assert send(client, revision, "move-step", **sent)[0] == 302
    assert [step.parent for step in revision.reread().read_steps()] == ["", group.key]


def test_a_warning_is_changed_and_removed(client):
    revision = make_drafted(None, "Push.")
    (push,) = revision.read_steps()
    warning = {"step": push.key, "kind": "note", "text": "Cold."}
    send(client, revision, "add-notice", version=revision.version, **warning)
    key = revision.reread().read_steps()[0].notices[0].key
    change = {"step": key, "kind": "caution", "text": "Very cold.", "version": revision.version + 1}
    assert send(client, revision, "change-notice", **change)[0] == 302
    notice = revision.reread().read_steps()[0].notices[0]
    assert (notice.kind, notice.text) == ("caution", "Very cold.")
    assert send(client, revision, "remove-notice", step=key, version=revision.version + 2)[0] == 302
    assert revision.reread().read_steps()[0].notices == ()


@pytest.mark.parametrize(
    ("field", "typed"), [("text", ""), ("low", "warm"), ("kind", "dance"), ("unit", "")], ids=lambda value: value or "-"
)
def test_a_fault_in_a_step_is_told_at_its_field(client, field, typed):
    revision = make_drafted(None, "Push.")
    (push,) = revision.read_steps()
    sent = {"kind": "check", "text": "Read it at length.", "low": "5", "unit": "kPa", "step": push.key} | {field: typed}
    status, page = send(client, revision, "change-step", version=revision.version, **sent)
    assert status == 422
    assert f"id_{field}_error" in page
    assert texts(revision) == ["Push."]


@pytest.mark.parametrize("move", ["change-step", "move-step", "delete-step", "add-notice", "change-notice"])
def test_a_step_that_is_gone_is_told(client, move):
    revision = make_drafted(None, "Push.")
    sent = {"step": "gone", "to": "first:", "kind": "do", "text": "Typed.", "version": revision.version}
    if move.endswith("notice"):
        sent["kind"] = "note"
    status, page = send(client, revision, move, **sent)
    assert status == 422
    assert "there (any more)" in page


def test_two_who_edit_the_same_step_merge_and_other_steps_are_in_nobodys_way(client):
    revision = make_drafted(None, "One.", "Two.")
    one, two = revision.read_steps()
    seen = revision.version
    change_revision_step(
        revision_id=revision.pk, actor=writer(), version=seen, key=one.key, changes={"text": "One, slowly."}
    )
    status, page = send(client, revision, "change-step", version=seen, step=two.key, kind="do", text="Two, fast.")
    assert status == 409
    assert "You both changed" not in page
    assert "Two, fast." in page
    status, page = send(client, revision, "change-step", version=seen, step=one.key, kind="do", text="One, fast.")
    assert status == 409
    assert "You both changed" in page
    assert "One, slowly." in page
    sent = {"version": seen + 1, "step": one.key, "kind": "do", "text": "One, fast.", "use_text": "mine"}
    assert send(client, revision, "change-step", **sent)[0] == 302
    assert texts(revision) == ["One, fast.", "Two."]


def test_a_revision_is_submitted_approved_and_released_by_three_people(client):
    revision = make_drafted(None, "Push.")
    assert send(client, revision, "submit", version=revision.version)[0] == 302
    page = read(client, revision.get_absolute_url())
    assert "/approve/" not in page  # its author
    assert "/change-step/" not in page
    prove(safety_engineer())
    engineer = log_in(safety_engineer())
    assert "/approve/" in read(engineer, revision.get_absolute_url())
    signed = {"version": revision.version + 1, "password": PASSWORD}
    assert send(engineer, revision, "approve", **signed | {"password": "wrong"})[0] == 422
    assert send(engineer, revision, "approve", **signed)[0] == 302
    prove(activity_lead())
    lead, sortie = log_in(activity_lead()), make_sortie(3)
    signed = {"version": revision.version + 2, "password": PASSWORD, "effective_from": sortie.pk}
    assert send(lead, revision, "release", **signed)[0] == 302
    page = read(client, revision.get_absolute_url())
    for text in ("Released", "Sortie 3", "Approved: P-001, revision 1, may be released."):
        assert text in page


def test_what_keeps_a_draft_from_being_submitted_is_named(client):
    revision = make_drafted(None, "Push.")
    revision = add_step(revision, "Empty group.", kind="group")
    status, page = send(client, revision, "submit", version=revision.version)
    assert status == 409
    assert "Step 2 is a group without steps." in page


def test_sending_back_and_withdrawing_say_why(client):
    submitted = make_submitted()
    assert send(client, submitted, "send-back", reason="A step is missing.")[0] == 302
    assert "A step is missing." in read(client, submitted.get_absolute_url())
    assert send(client, submitted, "withdraw", reason="")[0] == 422
    assert send(client, submitted, "withdraw", reason="Not needed.")[0] == 302
    assert "Not needed." in read(client, submitted.get_absolute_url())


def test_the_redline_shows_what_changed_word_by_word(client):
    procedure = make_released(None, "Push until the collar clicks.", "Pull.").procedure
    revision = make_drafted(procedure, "Report.")
    push, _, _ = revision.read_steps()
    change_revision_step(
        revision_id=revision.pk,
        actor=writer(),
        version=revision.version,
        key=push.key,
        changes={"text": "Push until the collar clicks twice."},
    )
    page = read(client, f"{revision.get_absolute_url()}?show=redline")
    assert "<ins> twice</ins>" in page
    assert "1 added, 0 removed, 1 changed, 0 moved" in page
    assert "Changes from revision 1" in page


def test_a_revision_is_compared_with_any_earlier_one(client):
    procedure = make_released(None, "Push.", *(f"Hold {number}." for number in range(8))).procedure
    make_released(procedure, "Report.")
    third = make_drafted(procedure, "Wait.")
    since_second = read(client, f"{third.get_absolute_url()}?show=redline")
    assert "1 added, 0 removed" in since_second
    since_first = read(client, f"{third.get_absolute_url()}?show=redline&before=1")
    assert "2 added, 0 removed" in since_first
    assert "Changes from revision 1" in since_first
    assert "8 steps that are the same" in since_first
    for wrong in ("3", "9", "x", "1 "):
        assert client.get(f"{third.get_absolute_url()}?show=redline&before={wrong}").status_code == 404


def test_a_refused_submission_leads_to_the_step(client):
    revision = add_step(make_drafted(), "Read the pressure.", kind="check")
    key = revision.read_steps()[-1].key
    status, page = send(client, revision, "submit", version=revision.version)
    assert status == 409
    assert f'href="/records/procedure_revision/{revision.pk}/#step-{key}"' in page
    assert page.count("doesn&#x27;t say what reading is expected") == 1
    assert f'id="step-{key}"' in read(client, revision.get_absolute_url())


def test_a_revision_is_acknowledged_once_by_whom_it_may_concern_or_not():
    revision, reader = make_released(), viewer()  # on no crew: reading it is no harm
    client = log_in(reader)
    assert send(client, revision, "acknowledge")[0] == 302
    assert send(client, revision, "acknowledge")[0] == 302
    assert revision.acknowledgements.count() == 1
    superseded = revision
    make_released(revision.procedure, "Report.")
    assert superseded.reread().state == "superseded"
    assert send(log_in(safety_engineer()), superseded, "acknowledge")[0] == 302  # it may still hold for somebody
    assert superseded.acknowledgements.count() == 2
    assert send(log_in(safety_engineer()), make_drafted(make_procedure()), "acknowledge")[0] == 409


def test_an_author_does_not_approve_their_own(client):
    revision = make_submitted()
    author = revision.author
    author.groups.add(Group.objects.get(name="verifier"))
    prove(author)
    own = log_in(author)
    before = everything()
    assert send(own, revision, "approve", version=revision.version, password=PASSWORD)[0] == 403
    assert everything() == before


def test_a_card_is_printed_and_says_if_it_must_not_be_used(client):
    procedure = make_procedure(kind="card", title="Coolant leak")
    revision = make_drafted(procedure, "Close the valve.")
    page = read(client, f"{revision.get_absolute_url()}card/")
    assert "Close the valve." in page
    assert "don't use the card" in page
    assert "1 of 34 lines" in read(client, revision.get_absolute_url())


def test_an_approved_revision_is_not_edited_any_more(client):
    revision = make_approved()
    (step,) = revision.read_steps()
    sent = {"version": revision.version, "step": step.key, "kind": "do", "text": "Typed at length."}
    status, page = send(client, revision, "change-step", **sent)
    assert status == 409
    assert "Typed at length." in page
