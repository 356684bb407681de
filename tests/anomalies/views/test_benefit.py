"""The page of benefit, and the forms that lead to it."""

from __future__ import annotations

import pytest

from anomalies.models import ActionEffect, Baseline
from tests.anomalies.actions import make_proposed, make_verified
from tests.anomalies.effects import make_beside, make_effect, make_tie
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.investigation import make_confirmed
from tests.anomalies.people import board_member, make_open, make_stranger, safety_engineer, viewer
from tests.anomalies.procedures import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


@pytest.fixture
def action():
    action = make_effect(kind="multiplied", amount=0.1).action
    make_effect(make_beside(action), kind="barrier", event="both", amount=0.5, new_event="RESERVE")
    return action


def address(anomaly):
    return f"/log/{anomaly.number}/benefit/"


def look(client, anomaly, person=None, **asked):
    client.force_login(person or viewer())
    return client.get(address(anomaly), asked)


def test_the_page_shows_each_and_all(client, action):
    page = look(client, action.anomaly)
    text = page.content.decode()
    view = page.context["view"]
    assert view.weighed.before.probability == pytest.approx(1 - 0.98 * 0.99)
    assert view.weighed.together.probability == pytest.approx(1 - 0.99 * 0.999)
    assert {row.action.number for row in view.rows} == {action.number, make_beside(action).number}
    assert "waterfall-bar" in text
    assert "a barrier behind “both” that fails with probability 0.5" in text.replace("Nothing flows", "both")
    assert "Decision support" in text


def test_a_budget_gives_the_best_set(client, action):
    make_beside(action)
    page = look(client, action.anomaly, within="1", cost="0", must=[action.number])
    view = page.context["view"]
    assert action.number in view.choice.chosen
    assert "every set tried" in page.content.decode()


def test_ties_are_kept_to(client, action):
    make_tie(action, "excludes")
    view = look(client, action.anomaly, within="1").context["view"]
    assert len(view.choice.chosen) == 1


def test_what_can_not_be_chosen_is_said(client, action):
    make_tie(action, "excludes")
    numbers = [action.number, make_beside(action).number]
    page = look(client, action.anomaly, within="1", must=numbers)
    assert "exclude each other" in page.context["view"].no_choice


def test_a_bad_limit_keeps_what_was_typed(client, action):
    page = look(client, action.anomaly, within="1", cost="-3")
    assert page.context["form"].errors.keys() == {"cost"}
    assert 'value="-3"' in page.content.decode()


def test_the_choice_alone_for_htmx(client, action):
    client.force_login(viewer())
    page = client.get(address(action.anomaly), {"within": "1"}, headers={"hx-request": "true"})
    assert page.content.decode().lstrip().startswith("<section")
    assert "<html" not in page.content.decode()


def test_without_a_tree_it_says_what_to_do(client):
    page = look(client, make_open())
    assert page.status_code == 200
    assert "Open the investigation on a tree" in page.content.decode()


def test_without_effects_it_says_what_to_do(client):
    action = make_proposed()
    make_investigation(action.anomaly)
    text = look(client, action.anomaly).content.decode()
    assert "No action says yet what it does" in text
    assert action.number in text


def test_a_stranger_finds_nothing(client):
    assert look(client, make_open(), make_stranger()).status_code == 404


def test_an_effect_is_stated_by_the_form(client, action):
    client.force_login(board_member())
    where = f"/records/action/{action.pk}/state-effect/"
    sent = {"event": "pump-1", "kind": "replaced", "amount": "0.02", "of": "probability", "reason": "A better pump."}
    assert client.post(where, sent).status_code == 302
    assert ActionEffect.objects.filter(event="pump-1", amount=0.02).count() == 1
    refused = client.post(where, sent | {"amount": "2"})
    assert refused.status_code == 422
    assert refused.context["form"].errors["amount"] == ["The amount is 2. Give 0 to 1."]
    assert "A better pump." in refused.content.decode()


def test_the_action_s_page_shows_effects_and_costs(client, action):
    client.force_login(board_member())
    assert client.post(
        f"/records/action/{action.pk}/estimate/", {"cost": "2.5", "version": action.reread().version}
    ).status_code in (302, 422)
    text = client.get(action.get_absolute_url()).content.decode()
    assert "What it does to the fault tree" in text
    assert "times 0.1" in text


def test_a_baseline_is_signed_by_the_form(client):
    action = make_effect(make_verified(make_confirmed())).action
    engineer = safety_engineer()
    engineer.set_password(PASSWORD)
    engineer.save()
    client.force_login(engineer)
    investigation = action.anomaly.investigation.reread()
    where = f"/records/investigation/{investigation.pk}/take-baseline/"
    sent = {"actions": [action.pk], "target": "copy", "version": investigation.version}
    assert client.post(where, sent | {"password": "wrong"}).status_code == 422
    assert not Baseline.objects.exists()
    assert client.post(where, sent | {"password": PASSWORD}).status_code == 302
    text = client.get(address(action.anomaly)).content.decode()
    assert "Taken as baseline" in text
    assert action.number in text
