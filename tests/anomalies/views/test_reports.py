"""The quick form and drafts."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from anomalies.models import Anomaly
from anomalies.services.activities import add_activity_hardware, start_activity
from anomalies.services.anomalies import discard_anomaly, edit_anomaly, submit_anomaly
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    make_activity,
    make_draft,
    make_item,
    make_person,
    make_reported,
    make_stranger,
    recorder,
    viewer,
)
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db

NEW = "/log/new/"
SEEN = {"title": "Coolant wept", "occurred_at": "2024-03-05 09:30"}


@pytest.fixture
def client():
    return log_in(recorder())


def test_a_sentence_and_a_time_are_enough_to_report(client):
    answer = client.post(NEW, SEEN | {"then": "report"})
    anomaly = Anomaly.objects.get()
    assert answer.headers["Location"] == f"/log/{anomaly.number}/"
    assert (anomaly.state, anomaly.occurred_at, anomaly.recorded_by) == ("reported", SEEN_AT, recorder())
    assert "Reported: it has its number" in client.get(answer.headers["Location"]).content.decode()


def test_everything_the_form_asks_is_kept(client):
    activity, items = make_activity(), [make_item("B"), make_item("C")]
    client.post(
        NEW,
        SEEN
        | {
            "description": "A drop every ten seconds.",
            "place": "Airlock",
            "activity": activity.pk,
            "activity_cut_short": "on",
            "immediate_response": "Closed the valve.",
            "hardware": [item.pk for item in items],
            "then": "report",
        },
    )
    anomaly = Anomaly.objects.get()
    assert anomaly.description == "A drop every ten seconds."
    assert (anomaly.place, anomaly.activity, anomaly.activity_cut_short) == ("Airlock", activity, True)
    assert anomaly.immediate_response == "Closed the valve."
    assert [concern.item for concern in anomaly.hardware_concerned.all()] == items


def test_the_form_begins_with_now_and_what_is_under_way(client):
    make_activity(title="Planned only", planned_start=timezone.now(), planned_end=timezone.now() + timedelta(hours=1))
    under_way = make_activity(title="Under way")
    start_activity(activity_id=under_way.pk, actor=activity_lead(), at=SEEN_AT)
    page = client.get(NEW).content.decode()
    assert f"{timezone.now():%Y-%m-%d %H:}" in page
    assert f'<option value="{under_way.pk}" selected>' in page


def test_the_mission_clock_is_taken_where_there_is_one(client, settings):
    settings.MISSION_EPOCH = SEEN_AT - timedelta(days=12, hours=4)
    client.post(NEW, SEEN | {"occurred_at": "T+012/04:00:00", "then": "report"})
    assert Anomaly.objects.get().occurred_at == SEEN_AT


@pytest.mark.parametrize(
    ("field", "typed"),
    [("title", ""), ("occurred_at", "yesterday"), ("occurred_at", "2924-01-01 00:00"), ("activity", "999")],
)
def test_a_fault_is_told_at_its_field_and_nothing_is_lost(client, field, typed):
    sent = SEEN | {"description": "A drop every ten seconds.", "then": "report"} | {field: typed}
    answer = client.post(NEW, sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"id_{field}_error" in page
    assert "A drop every ten seconds." in page
    assert not Anomaly.objects.exists()


def test_hardware_is_found_without_script_and_ticks_are_kept(client):
    hose, suit = make_item("B-17"), make_item("S-2", "SUIT-4")
    answer = client.post(NEW, SEEN | {"hardware": [suit.pk], "hardware_words": "b-17", "hardware_look": "1"})
    page = answer.content.decode()
    assert f'name="hardware" value="{suit.pk}" checked' in page
    assert f'name="hardware" value="{hose.pk}">' in page
    assert 'value="Coolant wept"' in page
    assert not Anomaly.objects.exists()


def test_hardware_is_found_as_one_types(client):
    hose, suit = make_item("B-17"), make_item("S-2", "SUIT-4")
    page = client.get("/log/new/hardware/", {"hardware_words": "umb b-17", "hardware": suit.pk}, headers=HTMX)
    assert f'value="{hose.pk}">' in page.content.decode()
    assert f'value="{suit.pk}" checked' in page.content.decode()
    nothing = client.get("/log/new/hardware/", {"hardware_words": "zeppelin"}, headers=HTMX).content.decode()
    assert "No hardware holds “zeppelin”" in nothing
    assert (
        str(hose.type.name) not in log_in(make_stranger()).get("/log/new/hardware/?hardware_words=b").content.decode()
    )


def test_the_hardware_of_the_activity_is_offered_first(client):
    activity, used, other = make_activity(), make_item("B"), make_item("Z")
    add_activity_hardware(activity_id=activity.pk, item_id=used.pk, actor=activity_lead())
    page = client.post(NEW, SEEN | {"title": "", "activity": activity.pk}).content.decode()
    assert f'name="hardware" value="{used.pk}"' in page
    assert f'name="hardware" value="{other.pk}"' not in page


@pytest.mark.parametrize("keys", [["x"], ["9" * 30], ["99999"]])
def test_hardware_that_is_not_there_is_refused(client, keys):
    assert client.post(NEW, SEEN | {"hardware": keys, "then": "report"}).status_code == 422
    assert not Anomaly.objects.exists()


def test_a_draft_is_kept_gone_on_with_and_reported(client):
    kept, dropped, added = make_item("B"), make_item("C"), make_item("D")
    answer = client.post(NEW, SEEN | {"hardware": [kept.pk, dropped.pk], "then": "draft"})
    draft = Anomaly.objects.get()
    assert answer.headers["Location"] == f"/log/draft/{draft.pk}/"
    page = client.get(answer.headers["Location"]).content.decode()
    assert 'value="Coolant wept"' in page
    assert "Your drafts" in client.get(NEW).content.decode()
    sent = SEEN | {"title": "Coolant sprayed", "version": draft.version, "hardware": [kept.pk, added.pk]}
    answer = client.post(f"/log/draft/{draft.pk}/", sent | {"then": "report"})
    anomaly = draft.reread()
    assert answer.headers["Location"] == f"/log/{anomaly.number}/"
    assert (anomaly.title, anomaly.state) == ("Coolant sprayed", "reported")
    listed = anomaly.hardware_concerned.filter(active=True)
    assert [concern.item for concern in listed] == [kept, added]
    assert client.get(f"/log/draft/{draft.pk}/").headers["Location"] == f"/log/{anomaly.number}/"


def test_enter_in_a_field_only_keeps_a_draft(client):
    client.post(NEW, SEEN)
    assert Anomaly.objects.get().state == "draft"


def test_a_draft_edited_elsewhere_is_merged(client):
    draft = make_draft(description="Drops.")
    edit_anomaly(anomaly_id=draft.pk, actor=recorder(), version=1, changes={"place": "Node 2"})
    sent = SEEN | {"description": "A spray.", "version": 1, "then": "draft"}
    answer = client.post(f"/log/draft/{draft.pk}/", sent)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "A spray." in page
    assert 'value="Node 2"' in page
    assert draft.reread().description == "Drops."


def test_a_draft_that_was_reported_elsewhere_comes_back_with_what_was_typed(client):
    draft = make_draft()
    page = log_in(recorder())
    submit_anomaly(anomaly_id=draft.pk, actor=recorder())
    answer = page.post(f"/log/draft/{draft.pk}/", SEEN | {"version": 1, "description": "Typed at length."})
    assert answer.status_code == 302  # its dossier is where to go on


def test_a_draft_is_discarded(client):
    draft = make_draft()
    assert client.get(f"/records/anomaly/{draft.pk}/discard/").status_code == 200
    assert client.post(f"/records/anomaly/{draft.pk}/discard/").headers["Location"] == f"/log/draft/{draft.pk}/"
    assert "discarded it" in client.get(f"/log/draft/{draft.pk}/").content.decode()


def test_a_draft_is_its_recorders_alone():
    draft = make_draft()
    other = make_person("recorder", "other")
    for person in (other, viewer(), make_stranger()):
        assert log_in(person).get(f"/log/draft/{draft.pk}/").status_code == 404
        assert log_in(person).post(f"/log/draft/{draft.pk}/", SEEN).status_code == 404
    discard_anomaly(anomaly_id=draft.pk, actor=recorder())
    assert log_in(other).get(f"/log/draft/{draft.pk}/").status_code == 404


@pytest.mark.parametrize("method", ["get", "post"])
def test_who_may_not_report_is_refused(method):
    assert getattr(log_in(viewer()), method)(NEW, SEEN).status_code == 403
    assert not Anomaly.objects.exists()


def test_an_expired_session_leads_back_to_the_form():
    from django.test import Client

    assert Client().post(NEW, SEEN).headers["Location"] == f"/login/?next={NEW}"


def test_what_the_browser_kept_is_forgotten_once_it_is_saved(client):
    make_reported()
    answer = client.post(NEW, SEEN | {"then": "report"})
    page = client.get(answer.headers["Location"]).content.decode()
    assert f'data-draft-done="{recorder().pk}:{NEW}"' in page
