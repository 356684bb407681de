"""Procedures, revisions and steps through the JSON API: from the first step to release, with the same refusals."""

from __future__ import annotations

import pytest

from anomalies.services.activities import add_crew
from anomalies.services.procedures import use_procedure
from anomalies.services.revision_steps import change_revision_step
from tests.anomalies.people import activity_lead, make_open, make_stranger, safety_engineer, viewer
from tests.anomalies.procedures import (
    PASSWORD,
    add_step,
    make_drafted,
    make_procedure,
    make_released,
    make_sortie,
    prove,
    writer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
LIST = "/api/v1/procedures/"


def of(revision, move=""):
    return f"{LIST}{revision.procedure.number}/revisions/{revision.number}/{f'{move}/' if move else ''}"


def send(client, address, method="post", /, **data):
    return getattr(client, method)(address, data, content_type="application/json")


@pytest.fixture
def client():
    return log_in(writer())


def test_a_procedure_is_added_renamed_and_listed(client):
    made = send(client, LIST, title="Mate the umbilical", kind="operation")
    assert (made.status_code, made.json()["number"]) == (201, "P-001")
    assert send(client, LIST, title="", kind="dance").json()["fields"].keys() == {"title", "kind"}
    renamed = send(client, f"{LIST}P-001/", "patch", version=1, title="Mate it")
    assert renamed.json()["title"] == "Mate it"
    assert send(client, f"{LIST}P-001/", "patch", version=1, title="Again").status_code == 409
    make_procedure(title="Vent", kind="contingency")
    assert [row["title"] for row in client.get(f"{LIST}?words=vent").json()["results"]] == ["Vent"]
    assert client.get(f"{LIST}?kind=operation").json()["count"] == 1
    assert client.get(f"{LIST}?show=everything").status_code == 400


def test_a_revision_goes_from_its_first_step_to_release(client):
    procedure, anomaly = make_procedure(), make_open()
    address = f"{LIST}{procedure.number}/revisions/"
    made = send(client, address, summary="The collar must click.", anomaly_id=anomaly.pk).json()
    assert (made["number"], made["anomaly"], made["steps"]) == (1, anomaly.number, [])
    here = f"{address}1/"
    step = {"kind": "check", "text": "Read the pressure.", "reading": {"low": "55.0", "unit": "kPa"}}
    with_step = send(client, f"{here}steps/", version=1, **step).json()
    (added,) = with_step["steps"]
    assert (added["number"], added["reading"]["low"]) == ("1", "55.0")
    warned = send(client, f"{here}steps/{added['key']}/notices/", version=2, kind="warning", text="It bursts.").json()
    notice = warned["steps"][0]["notices"][0]
    changed = send(client, f"{here}notices/{notice['key']}/change/", version=3, kind="caution", text="It leaks.").json()
    assert changed["steps"][0]["notices"][0]["kind"] == "caution"
    assert send(client, f"{here}notices/{notice['key']}/remove/", version=4).json()["steps"][0]["notices"] == []
    assert send(client, f"{here}submit/", version=4).status_code == 409
    assert send(client, f"{here}submit/", version=5).json()["state"] == "submitted"
    engineer, lead, sortie = safety_engineer(), activity_lead(), make_sortie(3)
    prove(engineer), prove(lead)
    assert send(client, f"{here}approve/", version=6, password=PASSWORD).status_code == 403  # its author
    assert send(log_in(engineer), f"{here}approve/", version=6, password="wrong").json()["code"] == "wrong_password"
    approved = send(log_in(engineer), f"{here}approve/", version=6, password=PASSWORD).json()
    assert (approved["state"], approved["approver"]) == ("approved", engineer.username)
    signed = {"version": 7, "password": PASSWORD, "effective_from_id": sortie.pk}
    released = send(log_in(lead), f"{here}release/", **signed).json()
    assert (released["state"], released["effective_from"]) == ("released", sortie.pk)
    (row,) = client.get(address).json()["results"]
    assert "steps" not in row
    assert row["state"] == "released"


def test_steps_are_moved_changed_and_deleted(client):
    revision = make_drafted(None, "One.", "Two.", "Three.")
    one, two, three = revision.read_steps()
    seen = revision.version
    moved = send(client, of(revision, f"steps/{three.key}/move"), version=seen, after="").json()
    assert [step["text"] for step in moved["steps"]] == ["Three.", "One.", "Two."]
    changed = send(client, of(revision, f"steps/{two.key}/change"), version=seen + 1, text="Two, slowly.").json()
    assert changed["steps"][2]["text"] == "Two, slowly."
    left = send(client, of(revision, f"steps/{one.key}/delete"), version=seen + 2).json()
    assert [step["text"] for step in left["steps"]] == ["Three.", "Two, slowly."]
    gone = send(client, of(revision, f"steps/{one.key}/delete"), version=seen + 3)
    assert (gone.status_code, gone.json()["code"]) == (400, "no_such_step")


def test_an_edit_that_came_too_late_names_the_step(client):
    revision = make_drafted(None, "One.")
    (one,) = revision.read_steps()
    given = {"revision_id": revision.pk, "actor": writer(), "version": revision.version, "key": one.key}
    change_revision_step(**given, changes={"text": "One, slowly."})
    answer = send(client, of(revision, f"steps/{one.key}/change"), version=revision.version, text="One, fast.")
    assert answer.status_code == 409
    assert answer.json()["theirs"][f"step {one.key}"]["after"]["text"] == "One, slowly."


def test_what_a_revision_changes_is_told_word_by_word(client):
    released = make_released(None, "Push until the collar clicks.")
    revision = make_drafted(released.procedure, "Report.")
    redline = client.get(of(revision, "redline")).json()
    assert (redline["base"], redline["counts"]["added"]) == (1, 1)
    assert [line["mark"] for line in redline["lines"]] == ["same", "added"]


def test_who_must_read_it_and_has(client):
    revision, reader = make_released(), viewer()
    sortie = make_sortie(2)
    use_procedure(activity_id=sortie.pk, procedure_id=revision.procedure_id, actor=activity_lead())
    add_crew(activity_id=sortie.pk, person_id=reader.pk, role="outside", actor=activity_lead())
    expected = {"person": reader.username, "role": "outside", "activity": sortie.pk, "read_at": None}
    assert client.get(of(revision, "readers")).json() == [expected]
    assert send(log_in(reader), of(revision, "acknowledge")).status_code == 200
    assert client.get(of(revision, "readers")).json()[0]["read_at"]


@pytest.mark.parametrize(
    "move", ["", "submit", "approve", "withdraw", "steps", "steps/x/change", "steps/x/notices", "notices/x/remove"]
)
def test_readers_change_nothing_and_strangers_find_nothing(move):
    revision = make_drafted()
    method = "post" if move else "patch"
    assert send(log_in(viewer()), of(revision, move), method).status_code == 403
    assert send(log_in(make_stranger()), of(revision, move), method).status_code == 404
    assert log_in(make_stranger()).get(LIST).status_code == 403


def test_what_causes_it_can_be_corrected(client):
    revision, anomaly = make_drafted(), make_open()
    seen = revision.version
    changed = send(client, of(revision), "patch", version=seen, anomaly_id=anomaly.pk, summary="Otherwise.").json()
    assert (changed["anomaly"], changed["summary"]) == (anomaly.number, "Otherwise.")
    assert "anomaly_id" in send(client, of(revision), "patch", version=seen + 1, anomaly_id=999).json()["fields"]


def test_a_redline_with_any_earlier_revision(client):
    procedure = make_released(None, "Push.").procedure
    make_released(procedure, "Report.")
    third = make_drafted(procedure, "Wait.")
    here = of(third, "redline")
    first, second = client.get(f"{here}?before=1").json(), client.get(here).json()
    assert (first["base"], first["counts"]["added"]) == (1, 2)
    assert (second["base"], second["counts"]["added"]) == (2, 1)
    assert client.get(f"{here}?before=3").status_code == 404
    assert client.get(f"{here}?before=x").json()["fields"].keys() == {"before"}


def test_reading_twice_is_on_record_once():
    revision = make_released()
    reader = log_in(viewer())
    answers = [send(reader, of(revision, "acknowledge")).status_code for _ in range(2)]
    assert answers == [200, 200]
    assert revision.acknowledgements.count() == 1


def test_what_keeps_a_revision_from_being_submitted_is_named_with_its_place(client):
    revision = add_step(make_drafted(), "Read the pressure.", kind="check")
    key = revision.read_steps()[-1].key
    answer = send(client, of(revision, "submit"), version=revision.version)
    assert (answer.status_code, answer.json()["code"]) == (409, "incomplete")
    assert answer.json()["fields"].keys() == {f"step {key}"}
    assert [gap["place"] for gap in answer.json()["missing"]] == [f"step-{key}"]
