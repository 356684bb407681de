"""The demonstration: made through the services, whole, told once, and with something to show on every screen."""

from __future__ import annotations

import io

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command
from django.test import Client

from anomalies.demo.load import load_demo
from anomalies.models import (
    Activity,
    Anomaly,
    Cause,
    Concurrence,
    CorrectiveAction,
    Evidence,
    HardwareItem,
    LedgerEntry,
    Procedure,
    ProcedureRevision,
)
from anomalies.services.ledger_proof import prove_ledger
from anomalies.states import ActionState, AnomalyState, CauseState

pytestmark = pytest.mark.django_db


@pytest.fixture
def loaded(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")
    return load_demo(password="a-password-for-tests")


def test_the_demonstration(loaded):
    """One test for all of it: loading takes some seconds."""
    assert loaded.entries > 400
    assert prove_ledger().is_whole

    again = load_demo()
    assert (again.entries, again.trees) == (0, ())
    assert all(person.password is None for person in again.people)

    assert {state for (state,) in Anomaly.objects.values_list("state")} == set(AnomalyState.values) - {"discarded"}
    assert {state for (state,) in CorrectiveAction.objects.values_list("state")} >= set(ActionState.values) - {
        "dropped"
    }
    assert {state for (state,) in Cause.objects.values_list("state")} >= set(CauseState.values) - {"credible"}
    assert Evidence.objects.filter(kind="telemetry", series__spans__gt=[]).exists()
    assert Concurrence.objects.filter(stand="dissents").count() >= 2
    assert Procedure.objects.count() == 2
    assert ProcedureRevision.objects.filter(action__isnull=False).count() == 2

    moments = list(LedgerEntry.objects.order_by("sequence").values_list("at", flat=True))
    assert moments == sorted(moments)
    assert (moments[-1] - moments[0]).days > 600
    people = dict(LedgerEntry.objects.values_list("actor_name", "pk"))
    assert len(people) >= 8

    client = Client()
    client.force_login(User.objects.get(username="engineer"))
    pages = ["/", "/log/", "/actions/?show=all", "/procedures/", "/activities/", "/hardware/", "/search/?words=seal"]
    records = [
        *Anomaly.objects.exclude(number=None),
        *CorrectiveAction.objects.all(),
        *Activity.objects.all(),
        *HardwareItem.objects.all()[:5],
        *Evidence.objects.all()[:5],
        *Cause.objects.all()[:5],
        *Procedure.objects.all(),
    ]
    for path in (*pages, *(record.get_absolute_url() for record in records)):
        assert client.get(path).status_code == 200, path


def test_the_command_says_how_to_log_in(settings, tmp_path, monkeypatch):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")
    monkeypatch.setenv("DEMO_PASSWORD", "a-password-for-tests")
    said = io.StringIO()
    call_command("load_demo", stdout=said)
    assert "Log in as hollin (Davit Hollin, board member), password a-password-for-tests" in said.getvalue()
