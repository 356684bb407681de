"""Every move of an anomaly, its constraints and its links, through its form."""

from __future__ import annotations

import pytest

from anomalies.models import AnomalyLink, Constraint
from anomalies.risk import MATRIX
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_constraint,
    make_item,
    make_open,
    make_reported,
    make_type,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def client():
    return log_in(safety_engineer())


def send(client, record, move, **typed):
    answer = client.post(f"/records/{record.KIND}/{record.pk}/{move}/", typed)
    return answer.status_code, answer.content.decode()


def test_screening_chooses_a_cell_of_the_matrix(client):
    anomaly, lead = make_reported(), board_member()
    page = client.get(f"/records/anomaly/{anomaly.pk}/screen/").content.decode()
    assert page.count('type="radio"') == 20  # level F is for what was dealt with
    assert "2C" in page
    typed = {"cell": "2C", "rationale": "It ends an outing.", "lead": lead.pk}
    assert send(client, anomaly, "screen", **typed | {"cell": "2F"})[0] == 422
    assert send(client, anomaly, "screen", **typed)[0] == 302
    now = anomaly.reread()
    assert (now.state, now.risk_code, now.lead) == ("open", "2C", lead)


def test_the_matrix_shows_the_level_of_every_cell(client):
    page = client.get(f"/records/anomaly/{make_open().pk}/reassess/").content.decode()
    for (severity, level), risk in MATRIX.items():
        start = page.index(f'value="{severity.value}{level.value}"')
        assert risk.label in page[start : start + 260], (severity, level)


def test_screening_asks_for_all_it_needs_and_keeps_the_rest(client):
    anomaly = make_reported()
    status, page = send(client, anomaly, "screen", cell="3D", rationale="", lead="")
    assert status == 422
    assert 'value="3D" required checked' in page
    assert "id_lead_error" in page
    assert anomaly.reread().state == "reported"


def test_only_who_may_lead_can_be_chosen(client):
    lead, other = board_member(), recorder()
    page = client.get(f"/records/anomaly/{make_reported().pk}/screen/").content.decode()
    assert f'<option value="{lead.pk}">' in page
    assert f'<option value="{other.pk}">' not in page


def test_reassessing_begins_with_the_risk_as_it_is(client):
    anomaly = make_open()
    page = client.get(f"/records/anomaly/{anomaly.pk}/reassess/").content.decode()
    assert 'value="2C" required checked' in page
    assert send(client, anomaly, "reassess", cell="2F", rationale="The seal was replaced.")[0] == 302
    assert anomaly.reread().risk_code == "2F"


def test_assigning(client):
    anomaly = make_open()
    assert send(client, anomaly, "assign", lead=safety_engineer().pk, reason="On leave.")[0] == 302
    assert anomaly.reread().lead == safety_engineer()


def test_dismissing_and_restoring(client):
    anomaly = make_reported()
    assert send(client, anomaly, "dismiss", reason="No anomaly.")[0] == 302
    assert send(client, anomaly, "restore", reason="It is one.")[0] == 302
    assert anomaly.reread().state == "reported"


def test_constraining_an_activity_or_a_type(client):
    anomaly, activity, kind = make_open(), make_activity(), make_type()
    assert send(client, anomaly, "constrain", statement="Not before the check.", activity=activity.pk)[0] == 302
    assert send(client, anomaly, "constrain", statement="Not outside.", hardware_type=kind.pk)[0] == 302
    assert [row.activity or row.hardware_type for row in Constraint.objects.all()] == [activity, kind]


@pytest.mark.parametrize("both", [True, False])
def test_a_constraint_names_one_thing(client, both):
    anomaly, activity, kind = make_open(), make_activity(), make_type()
    named = {"activity": activity.pk, "hardware_type": kind.pk} if both else {}
    status, page = send(client, anomaly, "constrain", statement="Not outside.", **named)
    assert status == 422
    assert "id_activity_error" in page
    assert "Not outside." in page


def test_resolving_and_reinstating_a_constraint(client):
    constraint = make_constraint()
    assert send(client, constraint, "resolve", resolution="Seals replaced.")[0] == 302
    assert constraint.reread().state == "resolved"
    assert send(client, constraint, "resolve", resolution="Again.")[0] == 409
    assert send(client, constraint, "reinstate", reason="Not all of them.")[0] == 302
    assert constraint.reread().state == "in_force"
    assert send(log_in(board_member()), constraint, "resolve", resolution="Mine.")[0] == 403


def test_linking_by_number(client):
    first, second = make_reported(), make_open()
    typed = {"kind": "duplicate", "number": second.number.lower(), "note": "The same drop."}
    assert send(client, first, "link", **typed)[0] == 302
    link = AnomalyLink.objects.get()
    assert (link.source, link.target, link.kind, link.note) == (first, second, "duplicate", "The same drop.")
    status, page = send(client, first, "link", **typed)
    assert status == 409
    assert "linked in this way already" in page
    status, page = send(client, first, "link", **typed | {"number": "A-1999-001"})
    assert status == 422
    assert "no anomaly with the number A-1999-001" in page
    assert send(client, link, "withdraw", reason="Another drop.")[0] == 302
    assert link.reread().state == "withdrawn"


def test_hardware_is_added_by_serial_number_and_taken_off(client):
    anomaly, item = make_reported(), make_item("B")
    other = make_item("B", "SUIT-4")
    status, page = send(client, anomaly, "add-hardware", serial="b")
    assert status == 422
    assert "Several types have this serial number" in page
    assert send(client, anomaly, "add-hardware", serial="UMB-200 B")[0] == 302
    assert send(client, anomaly, "add-hardware", serial="Z")[0] == 422
    assert [row.item for row in anomaly.hardware_concerned.filter(active=True)] == [item]
    assert send(client, anomaly, "remove-hardware", item=other.pk)[0] == 422
    assert send(client, anomaly, "remove-hardware", item=item.pk)[0] == 302
    assert not anomaly.hardware_concerned.filter(active=True).exists()


@pytest.mark.parametrize(
    "move", ["edit", "screen", "dismiss", "constrain", "link", "add-hardware", "remove-hardware", "reassess", "assign"]
)
def test_a_viewer_makes_no_move(move):
    anomaly = make_reported(hardware_ids=[make_item("B").pk])
    assert log_in(viewer()).get(f"/records/anomaly/{anomaly.pk}/{move}/").status_code == 403
    assert send(log_in(viewer()), anomaly, move)[0] == 403


def test_the_recorder_edits_until_it_is_screened():
    anomaly = make_reported()
    client = log_in(recorder())
    assert client.get(f"/records/anomaly/{anomaly.pk}/edit/").status_code == 200
    assert client.get(f"/records/anomaly/{make_open().pk}/edit/").status_code == 403
    assert log_in(activity_lead()).get(f"/records/anomaly/{anomaly.pk}/edit/").status_code == 403
