"""The dossier and its history."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.services.anomalies import add_anomaly_hardware
from anomalies.services.ties import link_anomalies, withdraw_link
from anomalies.web.dossier import ORDER, SECTIONS, section
from tests.anomalies.actions import make_verified
from tests.anomalies.investigation import make_adopted, make_confirmed
from tests.anomalies.people import (
    board_member,
    make_activity,
    make_constraint,
    make_item,
    make_open,
    make_reported,
    make_stranger,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def read(anomaly, person=None):
    answer = log_in(person or viewer()).get(anomaly.get_absolute_url())
    assert answer.status_code == 200
    return answer.content.decode()


def relate(first, second, kind="related"):
    return link_anomalies(source_id=second.pk, target_id=first.pk, kind=kind, actor=board_member())


def test_a_dossier_tells_the_whole_story():
    activity, item = make_activity(), make_item("B")
    anomaly = make_open(
        description="A drop every ten seconds.",
        place="Airlock hatch",
        activity_id=activity.pk,
        activity_cut_short=True,
        immediate_response="Closed the valve.",
        hardware_ids=[item.pk],
    )
    make_constraint(anomaly)
    page = read(anomaly)
    for text in (
        anomaly.number,
        "Coolant wept",
        "2024-03-05 09:30 UTC",
        "Airlock hatch",
        "Sortie 7",
        "ended early",
        "A drop every ten seconds.",
        "Closed the valve.",
        "2C",
        "Serious",
        "Loss of cooling ends an outing.",
        "board-member",
        "No umbilical of this type outside.",
        "UMB-200",
        "screened it",
        "imposed a constraint",
    ):
        assert text in page, text


@pytest.mark.parametrize(
    "text",
    ["Only the title so far", "Not assessed yet", "It constrains nothing", "No hardware is named", "Not linked to any"],
)
def test_an_empty_section_says_what_to_do_next(text):
    assert text in read(make_reported())


def test_links_are_read_from_both_ends():
    first, second = make_reported(), make_reported(title="Coolant wept again")
    link = relate(first, second, "recurrence")
    assert "Recurrence of" in read(second)
    page = read(first)
    assert "Recurred as" in page
    assert "Coolant wept again" in page
    withdraw_link(link_id=link.pk, actor=board_member(), reason="Another seal.")
    assert "Withdrawn: 1" in read(first)


def test_each_person_is_offered_what_they_may_do_now():
    reported = make_reported()
    assert "/screen/" in read(reported, safety_engineer())
    assert "/screen/" not in read(reported, board_member())
    assert "/edit/" in read(reported, recorder())
    page = read(reported)
    for move in ("screen", "edit", "link", "constrain", "dismiss", "add-hardware"):
        assert f"/{move}/" not in page
    opened = read(make_open(), safety_engineer())
    assert "/screen/" not in opened
    assert "/reassess/" in opened


def test_who_may_not_see_it_finds_nothing():
    anomaly = make_reported()
    for path in ("", "history/"):
        assert log_in(make_stranger()).get(f"{anomaly.get_absolute_url()}{path}").status_code == 404
    assert log_in(viewer()).get("/log/A-1999-001/").status_code == 404


def test_the_history_is_whole_and_in_order():
    anomaly = make_open()
    make_constraint(anomaly)
    page = log_in(viewer()).get(f"{anomaly.get_absolute_url()}history/").content.decode()
    assert page.index("reported it") < page.index("screened it") < page.index("imposed a constraint")
    assert "entry " in page


def test_the_mission_clock_stands_beside_utc(settings):
    anomaly = make_reported()
    settings.MISSION_EPOCH = anomaly.occurred_at.replace(hour=0, minute=0)
    assert "T+000/09:30:00" in read(anomaly)


def test_sections_are_entered_once_and_in_the_order():
    assert SECTIONS.keys() <= set(ORDER)
    for name in ("story", "no such section"):
        with pytest.raises(ValueError, match="order of sections"):
            section(name, "Again", template="x.html")(lambda anomaly, person: {})


def count_queries(client, anomaly):
    with CaptureQueriesContext(connection) as caught:
        client.get(anomaly.get_absolute_url())
    return len(caught)


def test_the_number_of_queries_does_not_grow_with_the_rows():
    anomaly = make_open(hardware_ids=[make_item("B").pk])
    make_constraint(anomaly)
    relate(anomaly, make_reported())
    client = log_in(viewer())
    client.get(anomaly.get_absolute_url())
    few = count_queries(client, anomaly)
    for serial in "CDEF":
        add_anomaly_hardware(anomaly_id=anomaly.pk, item_id=make_item(serial).pk, actor=safety_engineer())
        make_constraint(anomaly)
        relate(anomaly, make_reported())
    assert count_queries(client, anomaly) == few


def test_the_number_of_queries_does_not_grow_with_confirmed_causes():
    anomaly = make_open()
    make_adopted(anomaly)
    client = log_in(viewer())
    counts = []
    for _ in range(3):
        make_verified(make_confirmed(anomaly))
        client.get(anomaly.get_absolute_url())
        counts.append(count_queries(client, anomaly))
    assert counts[0] == counts[1] == counts[2]
