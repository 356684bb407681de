"""Pages of activities, hardware and of what needs somebody now."""

from __future__ import annotations

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from anomalies.clock import now
from anomalies.models import Activity, HardwareItem, HardwareType
from anomalies.services.activities import add_activity_hardware, start_activity
from anomalies.services.anomalies import add_anomaly_hardware
from anomalies.services.hardware import install_hardware
from tests.anomalies.actions import make_committed, make_done, owner, verifier
from tests.anomalies.investigation import make_finding, seat
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import make_submitted
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db


def move(record, name):
    return reverse("anomalies:move", args=(record.KIND, record.pk, name))


def read(path, person=None, **headers):
    answer = log_in(person or viewer()).get(path, **headers)
    assert answer.status_code == 200
    return answer.content.decode()


def soon(days):
    return now() + timedelta(days=days)


def test_an_activity_goes_from_plan_to_an_early_end_on_pages():
    client = log_in(activity_lead())
    plan = {"kind": "sortie", "title": "Sortie 9", "planned_start": "2024-05-01 08:00", "lead": activity_lead().pk}
    refused = client.post("/new/activity/", plan | {"planned_end": "2024-05-01 07:00"})
    assert refused.status_code == 422
    assert "Sortie 9" in refused.content.decode()
    answer = client.post("/new/activity/", plan | {"planned_end": "2024-05-01 15:00", "tasks": "Inspect\n\nMate"})
    activity = Activity.objects.get()
    assert answer.url == activity.get_absolute_url()
    assert activity.tasks == ["Inspect", "Mate"]
    item = make_item("B")
    for name, given in {
        "add-crew": {"person": recorder().pk, "role": "EV1"},
        "add-hardware": {"item": item.pk},
        "start": {"at": "2024-05-01 08:05"},
        "end-early": {"reason": "Coolant wept.", "at": "2024-05-01 09:00"},
    }.items():
        assert client.post(move(activity, name), given).status_code == 302, name
    page = read(activity.get_absolute_url())
    for text in ("Ended early", "Coolant wept.", "EV1", "serial B", "Inspect"):
        assert text in page
    assert client.post(move(activity, "add-crew"), {"person": recorder().pk, "role": "EV2"}).status_code == 409


def test_two_edits_of_a_plan_are_merged_by_field():
    activity = make_activity()
    client = log_in(activity_lead())
    form = client.get(move(activity, "edit")).context["form"]
    given = {name: form[name].value() for name in ("kind", "title", "planned_start", "planned_end", "lead", "version")}
    given |= {"tasks": "Inspect the coupling"}
    assert client.post(move(activity, "edit"), given | {"title": "Sortie 7a"}).status_code == 302
    answer = client.post(move(activity, "edit"), given | {"title": "Sortie 7b", "tasks": "Another"})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Sortie 7a" in page
    assert "Sortie 7b" in page
    assert "Another" in page


def test_what_holds_an_activity_is_on_its_page_by_name_and_by_type():
    activity, item = make_activity(), make_item("B")
    add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=activity_lead())
    make_constraint()
    make_committed(needed_before_id=activity.pk)
    page = read(activity.get_absolute_url())
    assert "No umbilical of this type outside." in page
    assert "Train the cold-soak check" in page


def test_tabs_filters_and_export_of_activities():
    make_activity(title="Coming")
    going = make_activity(title="Going", kind="docking")
    start_activity(activity_id=going.pk, actor=activity_lead())
    assert "Coming" in read("/activities/")
    assert "Coming" not in read("/activities/?kind=docking")
    assert "Nothing here" in read("/activities/?show=past")
    assert "<html" not in read("/activities/?show=all", headers=HTMX)
    answer = log_in(viewer()).get("/activities/export.csv?words=Going")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert [row["state"] for row in rows] == ["Under way"]


def test_hardware_is_added_installed_and_found():
    client = log_in(activity_lead())
    assert client.post("/new/hardware_type/", {"part_number": "UMB-200", "name": "Umbilical"}).status_code == 302
    kind = HardwareType.objects.get()
    assert client.post("/new/hardware/", {"type": kind.pk, "serial_number": "B", "location": "L3"}).status_code == 302
    twice = client.post("/new/hardware/", {"type": kind.pk, "serial_number": "B"})
    assert twice.status_code == 422
    assert "already here" in twice.content.decode()
    item, suit = HardwareItem.objects.get(), make_item("S1", "SUIT-1")
    assert client.post(move(item, "install"), {"parent": suit.pk, "position": "left"}).status_code == 302
    assert "serial B" in read(suit.get_absolute_url())
    page = read(item.get_absolute_url())
    assert "left" in page
    assert "/remove/" not in page
    assert "/remove/" in read(item.get_absolute_url(), activity_lead())
    assert "/install/" not in read(item.get_absolute_url(), activity_lead())


def test_an_item_shows_what_happened_to_it_and_a_tree_of_parts():
    suit, umbilical, seal = make_item("S1", "SUIT-1"), make_item("B"), make_item("K9", "SEAL-3")
    lead = activity_lead()
    install_hardware(item_id=umbilical.pk, parent_id=suit.pk, actor=lead)
    install_hardware(item_id=seal.pk, parent_id=umbilical.pk, actor=lead)
    anomaly = make_open()
    add_anomaly_hardware(anomaly_id=anomaly.pk, item_id=umbilical.pk, actor=board_member())
    assert "serial K9" in read(suit.get_absolute_url())
    page = read(umbilical.get_absolute_url())
    assert anomaly.number in page
    assert "serial S1" in page
    assert anomaly.number in read(umbilical.type.get_absolute_url())


def test_hardware_filters_and_export():
    make_item("B1")
    make_item("C1", "VALVE-9")
    assert "C1" not in read("/hardware/?words=UMB-200")
    assert "No item fits" in read("/hardware/?words=zebra")
    answer = log_in(viewer()).get("/hardware/export.csv?words=VALVE")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert [row["serial number"] for row in rows] == ["C1"]


@pytest.mark.parametrize("path", ["/activities/", "/hardware/", "/new/activity/", "/new/hardware/"])
def test_without_a_role_nothing_is_shown(path):
    assert log_in(make_stranger()).get(path).status_code == 403


def test_a_stranger_finds_no_activity_and_no_item():
    for record in (make_activity(), make_item(), make_item("C").type):
        assert log_in(make_stranger()).get(record.get_absolute_url()).status_code == 404


def test_now_shows_each_what_needs_them_and_nothing_else():
    reported = make_reported(title="Unscreened")
    draft = make_draft(title="Half written")
    owed, done = make_committed(title="Owed"), make_done(title="To verify")
    finding = make_finding(statement="Unspoken")
    seat(finding.anomaly)
    make_submitted()
    expected = {
        "Unscreened": {safety_engineer()},
        "Half written": {recorder()},
        "Owed": {owner()},
        "To verify": {verifier()},
        "Unspoken": {board_member()},
        "Mate the umbilical": {safety_engineer(), verifier()},
    }
    assert (reported.title, draft.title, owed.title, done.title) == ("Unscreened", "Half written", "Owed", "To verify")
    for person in (recorder(), board_member(), safety_engineer(), owner(), verifier(), viewer()):
        blocks = log_in(person).get("/").context["blocks"]
        shown = " ".join(str(getattr(row, "procedure", row)) for block in blocks for row in block.rows)
        for text, people in expected.items():
            assert (text in shown) == (person in people), (person.username, text)


def test_now_tells_of_the_next_activity_and_what_holds_it():
    make_activity(title="Later", planned_start=soon(20), planned_end=soon(21))
    activity = make_activity(title="Sortie 7", planned_start=soon(9), planned_end=soon(10))
    item = make_item("B")
    add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=activity_lead())
    make_constraint()
    page = read("/")
    assert "in 9 days" in page
    assert "No umbilical of this type outside." in page
    assert "no verdict" not in page


def test_now_is_there_for_everybody_even_with_nothing_to_do():
    assert "Nothing needs you now" in read("/", viewer())
    assert "You have no role yet" in read("/", make_stranger())


def test_queries_of_now_dont_grow():
    counts = []
    for _ in range(2):
        make_reported()
        make_committed()
        make_activity()
        client = log_in(safety_engineer())
        client.get("/")
        with CaptureQueriesContext(connection) as queries:
            client.get("/")
        counts.append(len(queries))
        make_committed()
        make_reported()
    assert counts[0] == counts[1]
