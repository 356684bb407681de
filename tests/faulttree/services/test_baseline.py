"""Effects that become a revision of a tree."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput, Conflict, NotAllowed
from faulttree.assembly import read_current
from faulttree.engine.effects.apply import apply_effects
from faulttree.engine.effects.kinds import Effect, EffectKind
from faulttree.engine.quantify import quantify
from faulttree.models import TreeRevision
from faulttree.reads.effects import read_benefit
from faulttree.services.baseline import adopt_effects
from tests.faulttree.people import make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db
K = EffectKind
EFFECTS = [Effect("A", K.MULTIPLIED, "valve", 0.1), Effect("A", K.BARRIER, "no-flow", 0.5, new_event="RESERVE")]


def test_the_new_revision_holds_the_effects():
    engineer = make_engineer()
    revision = make_revision(engineer)
    adopted = adopt_effects(actor=engineer, tree_id=revision.tree_id, effects=EFFECTS, note="A is verified.")
    assert (adopted.number, adopted.note) == (2, "A is verified.")
    assert adopted.tops == ["no-flow"]
    expected = quantify(apply_effects(read_current(revision), EFFECTS)).probability
    assert read_benefit(adopted, "no-flow", None, [], []).before.probability == pytest.approx(expected, rel=1e-12)
    assert any("RESERVE" in change["words"] for change in adopted.difference["changes"])


def test_a_target_that_is_not_in_the_tree_is_a_conflict():
    engineer = make_engineer()
    revision = make_revision(engineer)
    with pytest.raises(Conflict, match="doesn't have hose"):
        adopt_effects(actor=engineer, tree_id=revision.tree_id, effects=[Effect("A", K.RULED_OUT, "hose")], note="")
    assert TreeRevision.objects.count() == 1


def test_effects_that_can_not_be_applied_are_refused():
    engineer = make_engineer()
    revision = make_revision(engineer)
    effects = [Effect("A", K.REPLACED, "valve", 0.1), Effect("B", K.REPLACED, "valve", 0.2)]
    with pytest.raises(BadInput, match="A and B can't hold together"):
        adopt_effects(actor=engineer, tree_id=revision.tree_id, effects=effects, note="")
    assert TreeRevision.objects.count() == 1


def test_who_may_not_revise_trees_may_not_adopt():
    revision = make_revision(make_engineer())
    with pytest.raises(NotAllowed):
        adopt_effects(actor=make_viewer(), tree_id=revision.tree_id, effects=EFFECTS, note="")
