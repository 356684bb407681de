"""Verified actions that become part of a tree: signed, and what is refused."""

from __future__ import annotations

import pytest

from anomalies.models import Baseline, LedgerEntry, SignOff
from anomalies.reads.effects import read_plan
from anomalies.services.baselines import take_as_baseline
from anomalies.services.investigations import take_up_revision
from anomalies.services.ledger_proof import prove_ledger
from config.kit.errors import BadInput, Conflict, NotAllowed
from faulttree.models import TreeRevision
from tests.anomalies.actions import make_proposed, make_verified
from tests.anomalies.effects import make_effect
from tests.anomalies.fault_trees import make_investigation, revise
from tests.anomalies.investigation import make_confirmed
from tests.anomalies.people import board_member, safety_engineer
from tests.anomalies.procedures import prove
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")


@pytest.fixture
def action():
    return make_effect(make_verified(make_confirmed()), kind="multiplied", amount=0.1).action.reread()


def take(action, *more, **changes):
    investigation = action.anomaly.investigation
    engineer = safety_engineer()
    given = {
        "actor": engineer,
        "version": investigation.reread().version,
        "action_ids": [action.pk, *(each.pk for each in more)],
        "target": "copy",
        "proof": prove(engineer),
    }
    return take_as_baseline(investigation_id=investigation.pk, **given | changes)


@pytest.mark.parametrize("target", ["copy", "origin"])
def test_the_tree_has_a_new_revision_and_the_record_its_figures(action, target):
    investigation = action.anomaly.investigation
    baseline = take(action, target=target, note="After the tests.")
    tree = investigation.tree_id if target == "copy" else investigation.origin.tree_id
    assert (baseline.revision.tree_id, baseline.revision.number) == (tree, 2)
    assert baseline.actions == [action.number]
    assert baseline.before == pytest.approx(1 - 0.98 * 0.99)
    assert baseline.after == pytest.approx(1 - 0.98 * 0.999)
    assert action.number in baseline.revision.note
    signed = SignOff.objects.of(investigation).get()
    assert "probability of “valve” times 0.1" in signed.meaning
    assert LedgerEntry.objects.filter(action="baseline.take").count() == 1
    assert prove_ledger().is_whole


def test_what_is_part_of_the_tree_in_use_is_not_weighed_again(action):
    investigation = action.anomaly.investigation
    assert [each.pk for each in read_plan(investigation).actions] == [action.pk]
    take(action)
    taken = take_up_revision(
        investigation_id=investigation.pk, actor=board_member(), version=investigation.reread().version
    )
    plan = read_plan(taken.reread())
    assert (plan.actions, plan.included) == ([], {action.number})
    with refused(BadInput, match="part of this tree already"):
        take(action)


def test_only_verified_actions_with_effects_of_this_anomaly(action):
    proposed = make_effect(make_proposed(make_confirmed(action.anomaly))).action
    with refused(BadInput, match="isn't verified"):
        take(action, proposed)
    idle, foreign = make_verified(make_confirmed(action.anomaly)), make_verified()
    engineer = prove(safety_engineer())
    with refused(BadInput, match="no effect"):
        take(action, idle, proof=engineer)
    with refused(BadInput, match="another anomaly"):
        take(action, foreign, proof=engineer)
    with refused(BadInput, match="Choose the actions"):
        take(action, action_ids=[])
    with refused(BadInput, match="Choose the tree"):
        take(action, target="both")


def test_somebody_else_s_news_must_be_seen_first(action):
    seen = action.anomaly.investigation.reread().version
    make_effect(action, kind="barrier", event="both", amount=0.5)
    with refused(Conflict):
        take(action, version=seen)


def test_board_members_may_not_take_a_baseline(action):
    member = board_member()
    with refused(NotAllowed):
        take(action, actor=member, proof=prove(member))


def test_another_s_password_signs_nothing(action):
    with refused(NotAllowed):
        take(action, proof=prove(board_member()))


def test_a_tree_without_the_event_is_a_conflict(action):
    make_effect(action, kind="multiplied", event="pump-2", amount=0.5)
    revise(action.anomaly.investigation)
    with refused(Conflict, match="doesn't have pump-2"):
        take(action)
    assert not Baseline.objects.exists()
    assert TreeRevision.objects.filter(tree=action.anomaly.investigation.tree_id).count() == 2


def test_an_investigation_without_actions_has_an_empty_plan():
    plan = read_plan(make_investigation())
    assert (plan.actions, plan.idle, plan.effects) == ([], [], ())
