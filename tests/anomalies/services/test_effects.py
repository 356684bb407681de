"""What actions do to a tree, what they take, and how they stand to each other: rules and ledger."""

from __future__ import annotations

import pytest

from anomalies.models import ActionEffect, ActionTie, LedgerEntry
from anomalies.services.effects import estimate_action, state_effect, tie_actions, withdraw_effect
from config.kit.errors import BadInput, Conflict, NotAllowed, Refused
from tests.anomalies.actions import make_proposed, owner
from tests.anomalies.effects import make_beside, make_effect, make_tie
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.people import board_member
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def state(action, **changes):
    given = {"kind": "ruled_out", "event": "valve", "reason": "The valve is gone."}
    return state_effect(action_id=action.pk, actor=board_member(), **given | changes)


@pytest.fixture
def action():
    action = make_proposed()
    make_investigation(action.anomaly)
    return action


def test_an_effect_is_recorded_and_the_investigation_has_news(action):
    before = action.anomaly.investigation.reread().version
    effect = state(action, kind="barrier", event="both", amount=0.1, new_event="RESERVE")
    assert (effect.position, effect.amount, effect.new_event) == (1, 0.1, "RESERVE")
    assert action.anomaly.investigation.reread().version == before + 1
    actions = list(LedgerEntry.objects.order_by("-sequence").values_list("action", flat=True)[:2])
    assert actions == ["investigation.effects", "effect.state"]


def test_only_what_the_kind_needs_is_kept(action):
    effect = state(action, amount=3.0, of="rate", new_event="X")
    assert (effect.amount, effect.of, effect.new_event) == (None, "probability", "")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "magic"}, "kind"),
        ({"event": "hose"}, "event"),
        ({"reason": " "}, "reason"),
        ({"kind": "multiplied"}, "amount"),
        ({"kind": "multiplied", "amount": 0.5, "of": "rate"}, "kind"),
        ({"kind": "multiplied", "amount": 0.5, "of": "colour"}, "of"),
        ({"kind": "interval", "amount": 5.0}, "kind"),
        ({"kind": "barrier", "amount": 2.0}, "amount"),
        ({"kind": "barrier", "amount": 0.5, "new_event": "pump-1"}, "new_event"),
        ({"kind": "barrier", "amount": 0.5, "new_event": "no name"}, "new_event"),
        ({"kind": "detection", "event": "both", "amount": 0.5}, "kind"),
    ],
)
def test_what_the_tree_can_not_take_names_the_field(action, changes, field):
    with refused(BadInput) as error:
        state(action, **changes)
    assert field in error.value.fields


def test_without_an_investigation_there_is_no_effect():
    action = make_proposed()
    with refused(Refused):
        state(action)


def test_who_may_not_commit_actions_may_not_state_effects(action):
    person = owner()
    with refused(NotAllowed):
        state_effect(action_id=action.pk, actor=person, kind="ruled_out", event="valve", reason="So.")


def test_a_withdrawn_effect_stays_on_record(action):
    effect = state(action)
    withdraw_effect(effect_id=effect.pk, actor=board_member(), reason="It wasn't so.")
    assert not ActionEffect.objects.standing().exists()
    assert ActionEffect.objects.count() == 1
    other = state(action)
    with refused(BadInput):
        withdraw_effect(effect_id=other.pk, actor=board_member(), reason="")


def test_estimates_are_kept_and_stale_ones_refused(action):
    changes = {"cost": 3.5, "lead_days": 10.0}
    changed = estimate_action(action_id=action.pk, actor=board_member(), version=action.version, changes=changes)
    assert (changed.cost, changed.lead_days, changed.mass_kg) == (3.5, 10.0, None)
    with refused(Conflict):
        estimate_action(action_id=action.pk, actor=board_member(), version=action.version, changes={"cost": 1.0})
    with refused(BadInput):
        estimate_action(action_id=action.pk, actor=board_member(), version=changed.version, changes={"cost": -1.0})
    with refused(BadInput):
        estimate_action(action_id=action.pk, actor=board_member(), version=changed.version, changes={"title": "Other"})


def test_a_tie_stands_once_and_needs_may_be_mutual(action):
    tie = make_tie(action)
    with refused(BadInput):
        tie_actions(action_id=action.pk, other_id=tie.other_id, kind="excludes", actor=board_member())
    with refused(BadInput):
        tie_actions(action_id=action.pk, other_id=tie.other_id, kind="needs", actor=board_member())
    tie_actions(action_id=tie.other_id, other_id=action.pk, kind="needs", actor=board_member())
    assert ActionTie.objects.count() == 2


def test_actions_of_other_anomalies_are_not_tied(action):
    beside, foreign = make_beside(action), make_proposed()
    for other in (foreign.pk, action.pk, -1):
        with refused(BadInput):
            tie_actions(action_id=action.pk, other_id=other, kind="needs", actor=board_member())
    with refused(BadInput):
        tie_actions(action_id=action.pk, other_id=beside.pk, kind="likes", actor=board_member())


def test_effects_of_one_action_are_numbered():
    first = make_effect()
    second = make_effect(first.action, kind="multiplied", event="pump-1", amount=0.5)
    assert (first.position, second.position) == (1, 2)
