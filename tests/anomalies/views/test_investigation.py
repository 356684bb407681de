"""Findings and causes on pages: forms, refusals, and dissent wherever a finding is."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from anomalies.models import Cause, Finding
from anomalies.services.findings import state_position
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_adopted, make_cause, make_finding, seat, second_member
from tests.anomalies.people import board_member, make_open, make_stranger, safety_engineer, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.web.pages import HTMX, log_in

pytestmark = pytest.mark.django_db


def move(record, name):
    return reverse("anomalies:move", args=(record.KIND, record.pk, name))


def read(path, person=None):
    answer = log_in(person or viewer()).get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def dissenting():
    finding, second = make_finding(), second_member()
    seat(finding.anomaly, board_member(), second)
    state_position(finding_id=finding.pk, actor=second, stand="dissents", wording=1, text="Too few samples.")
    return finding


def test_a_finding_is_proposed_on_the_page():
    anomaly = make_open()
    evidence = make_evidence(anomaly)
    client = log_in(board_member())
    given = {"kind": "finding", "statement": "The seal was worn.", "evidence": [evidence.pk]}
    answer = client.post(move(anomaly, "propose-finding"), given)
    finding = Finding.objects.get()
    assert answer.url == finding.get_absolute_url()
    assert "The seal was worn." in read(finding.get_absolute_url())


def test_what_was_typed_stays_when_something_is_missing():
    anomaly = make_open()
    answer = log_in(board_member()).post(
        move(anomaly, "propose-finding"), {"kind": "finding", "statement": "Typed at length."}, headers=HTMX
    )
    assert answer.status_code == 422
    assert "Typed at length." in answer.content.decode()
    assert not Finding.objects.exists()


def test_dissent_is_shown_wherever_the_finding_is():
    finding = dissenting()
    cause = make_cause(finding.anomaly, finding_ids=[finding.pk])
    evidence = finding.rests_on.get().evidence
    paths = {
        "dossier": finding.anomaly.get_absolute_url(),
        "finding": finding.get_absolute_url(),
        "cause": cause.get_absolute_url(),
        "evidence": evidence.get_absolute_url(),
        "search": "/search/?words=cold-set",
        "now": "/",
    }
    for name, path in paths.items():
        page = read(path, board_member())
        assert "Too few samples." in page, name
        assert "second-member" in page, name


def test_a_dissent_on_an_earlier_wording_is_said_to_be_so():
    finding = dissenting()
    client = log_in(board_member())
    given = {"kind": "finding", "statement": "Put otherwise.", "version": finding.version}
    assert client.post(move(finding, "edit"), given).status_code == 302
    page = read(finding.get_absolute_url())
    assert "Too few samples." in page
    assert "on an earlier wording" in page


def test_adopting_too_early_names_who_is_missing_with_a_link():
    finding = dissenting()
    member = board_member()
    prove(member)
    answer = log_in(member).post(move(finding, "adopt"), {"version": finding.version, "password": PASSWORD})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "board-member hasn&#x27;t said where they stand" in page
    assert reverse("anomalies:record", args=("finding", finding.pk)) in page


def test_a_wrong_password_signs_nothing():
    finding, member = dissenting(), board_member()
    state_position(finding_id=finding.pk, actor=member, stand="concurs", wording=1)
    prove(member)
    answer = log_in(member).post(move(finding, "adopt"), {"version": finding.version, "password": "wrong"})
    assert answer.status_code == 422
    assert finding.reread().state == "proposed"


def test_a_cause_is_stated_and_confirmed_on_the_page():
    finding = make_adopted()
    client = log_in(board_member())
    given = {"kind": "root", "statement": "The compound was wrong.", "findings": [finding.pk]}
    assert client.post(move(finding.anomaly, "state-cause"), given).status_code == 302
    cause = Cause.objects.get()
    answer = client.post(move(cause, "confirm"), {"rationale": "Measured.", "version": cause.version})
    assert answer.status_code == 302
    assert "Confirmed" in read(cause.get_absolute_url())


def test_nobody_is_offered_what_they_may_not_do():
    finding, cause = dissenting(), make_cause()
    for path in (finding.get_absolute_url(), cause.get_absolute_url()):
        assert 'class="offers' not in read(path)
    assert log_in(viewer()).get(move(finding, "edit")).status_code == 403
    assert log_in(make_stranger()).get(finding.get_absolute_url()).status_code == 404
    assert log_in(make_stranger()).get(cause.get_absolute_url()).status_code == 404
    assert log_in(safety_engineer()).post(move(cause, "reconsider"), {"reason": "So."}).status_code == 409


def test_queries_dont_grow_with_findings_and_causes():
    anomaly = make_adopted().anomaly
    make_finding(anomaly)
    make_cause(anomaly, parent_id=make_cause(anomaly).pk)
    reader = log_in(board_member())
    counts = []
    for _ in range(2):
        reader.get(anomaly.get_absolute_url())
        with CaptureQueriesContext(connection) as queries:
            reader.get(anomaly.get_absolute_url())
        counts.append(len(queries))
        for _ in range(3):
            make_finding(anomaly)
            make_cause(anomaly, parent_id=anomaly.causes.first().pk)
    assert counts[0] == counts[1]
