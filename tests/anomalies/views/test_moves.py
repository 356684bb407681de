"""The one door of all moves: shown, sent, refused with everything kept, merged, signed, done."""

from __future__ import annotations

import pytest

from anomalies.errors import Gap, Missing
from anomalies.models import Anomaly
from anomalies.services.anomalies import edit_anomaly
from anomalies.services.screening import assign_anomaly
from anomalies.services.sign_off import sign
from anomalies.web.forms import MoveForm
from anomalies.web.register import PAGES, move_form
from tests.anomalies.people import (
    board_member,
    make_constraint,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db

STORY = {
    "title": "Coolant wept",
    "place": "Airlock",
    "description": "Drops.",
    "occurred_at": "2024-03-05 09:30",
    "immediate_response": "",
    "activity": "",
}


@pytest.fixture
def anomaly():
    return make_reported(place="Airlock", description="Drops.")


@pytest.fixture
def client():
    return log_in(safety_engineer())


def url(record, move="dismiss"):
    return f"/records/{record.KIND}/{record.pk}/{move}/"


def change(anomaly, **changes):
    """Somebody else saves first."""
    edit_anomaly(anomaly_id=anomaly.pk, actor=board_member(), version=anomaly.reread().version, changes=changes)


def send(client, anomaly, version=1, **typed):
    return client.post(url(anomaly, "edit"), STORY | {"version": version} | typed)


def test_a_move_is_made_and_said_to_be_made(client, anomaly):
    assert client.get(url(anomaly)).status_code == 200
    answer = client.post(url(anomaly), {"reason": "No anomaly."})
    assert (answer.status_code, answer.headers["Location"]) == (302, anomaly.get_absolute_url())
    assert anomaly.reread().state == "dismissed"
    page = client.get(answer.headers["Location"]).content.decode()
    assert "The report was dismissed." in page
    assert f'data-draft-done="{safety_engineer().pk}:{url(anomaly)}"' in page


def test_htmx_gets_the_form_alone_and_is_sent_on_afterwards(client, anomaly):
    assert "<html" not in client.get(url(anomaly), headers=HTMX).content.decode()
    answer = client.post(url(anomaly), {"reason": "No anomaly."}, headers=HTMX)
    assert (answer.status_code, answer.headers["HX-Redirect"]) == (204, anomaly.get_absolute_url())


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_bad_input_is_marked_at_its_field(client, anomaly, headers):
    answer = client.post(url(anomaly), {"reason": "  "}, headers=headers)
    assert answer.status_code == 422
    assert "id_reason_error" in answer.content.decode()
    assert anomaly.reread().state == "reported"


@pytest.mark.parametrize("headers", [{}, HTMX])
def test_a_refusal_keeps_what_was_typed(client, anomaly, headers):
    make_constraint(anomaly)
    answer = client.post(url(anomaly), {"reason": "Not one at all."}, headers=headers)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "constraint" in page
    assert "Not one at all." in page


def test_a_move_out_of_the_wrong_state(client, anomaly):
    client.post(url(anomaly), {"reason": "No anomaly."})
    assert client.get(url(anomaly)).status_code == 409
    answer = client.post(url(anomaly), {"reason": "Typed at length."})
    assert answer.status_code == 409
    assert "Typed at length." in answer.content.decode()


@pytest.mark.parametrize("method", ["get", "post"])
def test_who_may_not_is_refused_and_who_may_not_see_finds_nothing(anomaly, method):
    for person in (viewer(), recorder(), board_member()):
        assert getattr(log_in(person), method)(url(anomaly), {"reason": "No."}).status_code == 403
    assert getattr(log_in(make_stranger()), method)(url(anomaly), {"reason": "No."}).status_code == 404
    assert Anomaly.objects.get().state == "reported"


@pytest.mark.parametrize("path", ["anomaly/1/fly/", "comet/1/dismiss/", "anomaly/999/dismiss/", "sign_off/1/dismiss/"])
def test_what_is_not_there(client, path):
    assert client.get(f"/records/{path}").status_code == 404


def test_a_key_leads_to_the_page(client, anomaly):
    assert client.get(f"/records/anomaly/{anomaly.pk}/").headers["Location"] == anomaly.get_absolute_url()
    constraint = make_constraint(anomaly)
    there = f"{anomaly.get_absolute_url()}#constraint-{constraint.pk}"
    assert client.get(f"/records/constraint/{constraint.pk}/").headers["Location"] == there


def test_an_expired_session_leads_to_the_log_in_and_back(anomaly):
    from django.test import Client

    assert Client().post(url(anomaly), {"reason": "No."}).headers["Location"] == f"/login/?next={url(anomaly)}"


def test_where_only_the_other_changed_a_field_theirs_is_taken_over(client, anomaly):
    change(anomaly, place="Node 2")
    answer = send(client, anomaly, title="Coolant sprayed")
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Nothing is lost" in page
    assert "edited the story" in page  # who, and when
    assert 'value="Node 2"' in page
    assert 'value="Coolant sprayed"' in page
    assert 'name="version" value="2"' in page
    assert "You both changed" not in page
    assert send(client, anomaly, version=2, title="Coolant sprayed", place="Node 2").status_code == 302
    now = anomaly.reread()
    assert (now.title, now.place, now.description) == ("Coolant sprayed", "Node 2", "Drops.")


@pytest.mark.parametrize(("use", "kept"), [("mine", "A spray."), ("theirs", "Drops, then a spray.")])
def test_where_both_changed_a_field_the_person_chooses(client, anomaly, use, kept):
    change(anomaly, description="Drops, then a spray.")
    page = send(client, anomaly, description="A spray.").content.decode()
    for text in ("You both changed: What was seen, in full", "Drops, then a spray.", "A spray."):
        assert text in page
    chosen = {"use_description": use, "theirs_description": "Drops, then a spray."}
    answer = send(client, anomaly, version=2, title="Coolant sprayed", description="A spray.", **chosen)
    assert answer.status_code == 302
    assert (anomaly.reread().description, anomaly.reread().title) == (kept, "Coolant sprayed")


def test_a_third_person_in_between_is_told_too(client, anomaly):
    change(anomaly, description="Drops, then a spray.")
    change(anomaly, description="Drops, then a spray, then ice.")
    answer = send(client, anomaly, version=2, description="A spray.", use_description="mine")
    assert answer.status_code == 409
    assert "then ice" in answer.content.decode()
    assert anomaly.reread().description == "Drops, then a spray, then ice."


def test_the_same_change_by_both_is_nothing_to_settle(client, anomaly):
    change(anomaly, place="Node 2")
    assert "You both changed" not in send(client, anomaly, place="Node 2").content.decode()


@pytest.mark.parametrize(("column", "theirs"), [("occurred_at", "2024-03-05T08:00:00Z"), ("activity_cut_short", True)])
def test_times_and_ticks_are_merged_too(client, anomaly, column, theirs):
    from datetime import datetime

    value = datetime.fromisoformat(theirs) if isinstance(theirs, str) else theirs
    change(anomaly, **{column: value})
    page = send(client, anomaly, title="Coolant sprayed").content.decode()
    assert "You both changed" not in page
    assert ('value="2024-03-05 08:00"' if isinstance(theirs, str) else "checked") in page


@pytest.mark.parametrize("version", ["", "x"])
def test_without_a_version_nothing_is_saved(client, anomaly, version):
    assert send(client, anomaly, version=version, title="New").status_code == 422
    assert anomaly.reread().title == "Coolant wept"


@pytest.fixture
def try_form():
    """Enters a form for one test."""
    entered = []

    def enter(form):
        entered.append(("anomaly", "try"))
        return move_form("anomaly", "try", label="Try", move="edit")(form)

    yield enter
    for key in entered:
        del PAGES[key]


def test_what_is_missing_is_shown_with_links(client, anomaly, try_form):
    constraint = make_constraint(anomaly)

    class TryForm(MoveForm[Anomaly]):
        def act(self):
            gaps = [Gap("A constraint is in force.", "constraint", constraint.pk)]
            raise Missing("It can't be closed yet.", gaps)

    try_form(TryForm)
    answer = client.post(url(anomaly, "try"))
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "can&#x27;t be closed yet" in page
    assert f'<a href="/records/constraint/{constraint.pk}/">A constraint is in force.</a>' in page


class SigningForm(MoveForm[Anomaly]):
    versioned = True
    signed = True

    def act(self):
        return (
            sign(
                self.record,
                actor=self.actor,
                proof=self.proof,
                seen=self.seen,
                meaning="Read.",
                permission="close_anomaly",
            )
            and self.record
        )


def test_a_signature_asks_for_the_password(client, try_form):
    anomaly = make_open()
    prove(safety_engineer())
    client = log_in(safety_engineer())
    try_form(SigningForm)
    wrong = client.post(url(anomaly, "try"), {"password": "not my password", "version": anomaly.version})
    page = wrong.content.decode()
    assert wrong.status_code == 422
    assert "isn&#x27;t your password" in page
    assert "not my password" not in page
    sent = {"password": PASSWORD, "version": anomaly.version}
    assert client.post(url(anomaly, "try"), sent).status_code == 302


def test_after_too_many_wrong_passwords_the_form_says_when_to_try_again(client, try_form):
    anomaly = make_open()
    address = url(anomaly, "try")
    prove(safety_engineer())
    client = log_in(safety_engineer())
    try_form(SigningForm)
    for _ in range(5):
        client.post(address, {"password": "guess", "version": anomaly.version})
    answer = client.post(address, {"password": PASSWORD, "version": anomaly.version})
    assert answer.status_code == 422
    assert "5 wrong passwords: none is looked at until" in answer.content.decode()


def test_what_changed_meanwhile_is_shown_before_it_is_signed(client, try_form):
    anomaly = make_open()
    prove(safety_engineer())
    client = log_in(safety_engineer())
    try_form(SigningForm)
    lead = make_person("board member", "other")
    assign_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), lead_id=lead.pk)
    answer = client.post(url(anomaly, "try"), {"password": PASSWORD, "version": anomaly.version})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "changed the lead" in page
    assert f'name="version" value="{anomaly.version + 1}"' in page
