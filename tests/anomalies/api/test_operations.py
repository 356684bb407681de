"""Activities, hardware, people and what every record has, through the JSON API."""

from __future__ import annotations

import pytest

from tests.anomalies.people import (
    activity_lead,
    make_activity,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_person,
    make_stranger,
    make_type,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
API = "/api/v1"
PLAN = {"kind": "sortie", "title": "Sortie 9"}
PLAN |= {"planned_start": "2024-05-01T08:00:00Z", "planned_end": "2024-05-01T14:00:00Z"}


def send(client, address, method="post", /, **data):
    return getattr(client, method)(f"{API}/{address}", data, content_type="application/json")


@pytest.fixture
def client():
    return log_in(activity_lead())


def test_an_activity_is_planned_edited_started_and_ended(client):
    made = send(client, "activities/", **PLAN, lead_id=activity_lead().pk, tasks=["Look"])
    assert made.status_code == 201
    here = f"activities/{made.json()['id']}/"
    assert client.get(f"{API}/{here}").json() == made.json()
    assert made.json()["moves"] == ["edit", "start", "scrub"]
    edited = send(client, here, "patch", version=1, title="Sortie 10")
    assert (edited.json()["title"], edited.json()["tasks"]) == ("Sortie 10", ["Look"])
    assert send(client, here, "patch", version=1, title="Sortie 11").json()["code"] == "edit_conflict"
    assert send(client, f"{here}start/").json()["state"] == "under_way"
    assert send(client, f"{here}start/").status_code == 409
    assert send(client, f"{here}end-early/").json()["fields"].keys() == {"reason"}
    assert send(client, f"{here}end-early/", reason="A leak.").json()["state"] == "ended_early"
    assert client.get(f"{API}/activities/?state=ended_early").json()["count"] == 1
    assert client.get(f"{API}/activities/?starts_after=2024-05-02T00:00:00Z").json()["count"] == 0


def test_the_lists_of_an_activity(client):
    activity, item, person = make_activity(), make_item(), viewer()
    here = f"activities/{activity.pk}/"
    crew = {"person_id": person.pk, "role": "EV1"}
    assert send(client, f"{here}add-crew/", **crew).json()["crew"] == [{**crew, "person": "viewer"}]
    assert send(client, f"{here}remove-crew/", **crew).json()["crew"] == []
    assert send(client, f"{here}add-hardware/", item_id=item.pk).json()["hardware"] == [item.pk]
    assert send(client, f"{here}remove-hardware/", item_id=item.pk).json()["hardware"] == []
    assert send(client, f"{here}add-hardware/", item_id=999).json()["fields"].keys() == {"item_id"}
    assert send(client, f"{here}add-procedure/", procedure_id=999).json()["fields"].keys() == {"procedure_id"}


@pytest.mark.parametrize("move", ["", "start/", "scrub/", "add-crew/", "add-hardware/"])
def test_readers_change_no_activity_and_strangers_find_none(move):
    here = f"activities/{make_activity().pk}/{move}"
    method = "post" if move else "patch"
    assert send(log_in(viewer()), here, method).status_code == 403
    assert send(log_in(make_stranger()), here, method).status_code == 404


def test_hardware_is_added_installed_and_removed(client):
    kind = send(client, "hardware-types/", part_number="SUIT-1", name="Suit").json()
    assert "part_number" in send(client, "hardware-types/", part_number="SUIT-1", name="Suit").json()["fields"]
    suit = send(client, "hardware/", type_id=kind["id"], serial_number="S1").json()
    item = make_item()
    here = f"hardware/{item.pk}/"
    assert send(client, f"{here}install/", parent_id=999).json()["fields"].keys() == {"parent_id"}
    assert (
        send(client, f"{here}install/", parent_id=suit["id"], position="Left").json()["installed_in_id"] == suit["id"]
    )
    assert client.get(f"{API}/hardware/?installed_in={suit['id']}").json()["results"][0]["id"] == item.pk
    assert send(client, f"{here}remove/", location="Locker", reason="Worn.").json()["location"] == "Locker"
    installation = client.get(f"{API}/installations/?item={item.pk}").json()["results"][0]
    assert (installation["state"], installation["position"]) == ("removed", "Left")
    assert send(client, f"{here}quarantine/", reason="Leak.").json()["moves"] == ["edit", "remove", "release", "retire"]
    assert send(client, here, "patch", version=4, location="Airlock").json()["location"] == "Airlock"
    assert client.get(f"{API}/hardware-types/{kind['id']}/").json() == kind


@pytest.mark.parametrize("move", ["", "install/", "remove/", "quarantine/", "release/", "retire/"])
def test_readers_change_no_hardware_and_strangers_find_none(move):
    here = f"hardware/{make_item().pk}/{move}"
    method = "post" if move else "patch"
    assert send(log_in(viewer()), here, method).status_code == 403
    assert send(log_in(make_stranger()), here, method).status_code == 404


def test_what_is_not_listed_for_strangers():
    stranger = log_in(make_stranger())
    for name in (
        "activities",
        "hardware",
        "hardware-types",
        "installations",
        "people",
        "findings",
        "causes",
        "actions",
    ):
        assert stranger.get(f"{API}/{name}/").status_code == 403, name
    assert stranger.get(f"{API}/hardware-types/{make_type().pk}/").status_code == 404


def test_people_are_found_by_role_and_by_what_they_may_do(client):
    person = make_person("verifier")
    found = client.get(f"{API}/people/?may=verify an action").json()["results"]
    assert found == [{"id": person.pk, "username": "verifier", "name": "verifier", "roles": ["verifier"]}]
    assert client.get(f"{API}/people/?role=verifier").json()["results"] == found
    assert client.get(f"{API}/people/?username=nobody").json()["count"] == 0


def test_the_history_and_the_signatures_of_any_record():
    client = log_in(viewer())
    constraint = make_constraint()
    here = f"{API}/records/constraint/{constraint.pk}"
    assert [event["action"] for event in client.get(f"{here}/history/").json()] == ["constraint.impose"]
    assert client.get(f"{here}/signatures/").json() == []
    assert client.get(f"{API}/records/nothing/1/history/").status_code == 404
    assert client.get(f"{API}/records/anomaly/{make_draft().pk}/history/").status_code == 404
    assert client.get(f"{API}/records/anomaly/{make_open().pk}/history/").status_code == 200
    assert log_in(make_stranger()).get(f"{here}/history/").status_code == 404
    assert log_in(recorder()).get(f"{here}/history/").status_code == 200
    assert log_in(safety_engineer()).get(f"{API}/records/anomaly/{2**70}/history/").status_code == 404
