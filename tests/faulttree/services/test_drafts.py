"""Drafts: steps that are kept, undone, repeated on a newer revision, saved; and what is refused."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput, Conflict, NotAllowed
from faulttree.bridge import read_model
from faulttree.documents import read_step_model
from faulttree.engine.quantify import quantify
from faulttree.models import DraftStep, Tree, TreeDraft, TreeRevision
from faulttree.services import drafts
from faulttree.services.trees import revise_tree
from tests.engine.editing import pressure_tank
from tests.faulttree.people import PUMPS, make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer():
    return make_engineer()


@pytest.fixture
def draft(engineer):
    return drafts.open_draft(actor=engineer, tree_id=make_revision(engineer).tree_id)


def step(draft, engineer, **edit):
    now = TreeDraft.objects.get(pk=draft.pk)
    return drafts.take_step(draft_id=draft.pk, actor=engineer, seen=now.position, edit=edit)


def model_of(draft):
    return read_step_model(drafts.read_step(TreeDraft.objects.get(pk=draft.pk)))


def save(draft, engineer, note=""):
    seen = TreeDraft.objects.get(pk=draft.pk).position
    return drafts.save_draft(draft_id=draft.pk, actor=engineer, seen=seen, note=note)


def test_a_tree_is_built_from_nothing_and_saved(engineer):
    draft = drafts.start_tree(actor=engineer, name="tank", label="Tank ruptures")
    step(draft, engineer, do="name", name="G1", new="E1")
    for edit in pressure_tank.EDITS[1:]:
        step(draft, engineer, **edit)
    revision = save(draft, engineer, "First.")
    assert (revision.number, revision.tree.label, revision.note) == (1, "Tank ruptures", "First.")
    assert quantify(read_model(revision)).probability == pytest.approx(pressure_tank.PROBABILITY, rel=1e-9)
    assert not TreeDraft.objects.exists()


def test_saving_makes_a_revision_and_leaves_the_one_before_as_it_was(draft, engineer):
    before = TreeRevision.objects.get()
    step(draft, engineer, do="value", name="valve", expression=0.5)
    revision = save(draft, engineer)
    assert revision.number == 2
    assert TreeRevision.objects.get(number=1).sha256 == before.sha256
    assert quantify(read_model(revision)).probability == pytest.approx(1 - 0.5 * (1 - 0.02))


def test_everybody_has_a_draft_of_their_own_and_gets_it_again(draft, engineer):
    other = make_engineer("eve")
    theirs = drafts.open_draft(actor=other, tree_id=draft.tree_id)
    assert theirs != draft
    assert drafts.open_draft(actor=engineer, tree_id=draft.tree_id) == draft
    assert set(TreeDraft.objects.visible_to(other)) == {theirs}
    with pytest.raises(NotAllowed):
        drafts.take_step(draft_id=draft.pk, actor=other, seen=0, edit={"do": "title", "label": "X"})


def test_a_viewer_opens_none(draft):
    with pytest.raises(NotAllowed):
        drafts.open_draft(actor=make_viewer(), tree_id=draft.tree_id)


def test_steps_are_undone_and_done_again_until_another_is_made(draft, engineer):
    begun = model_of(draft)
    step(draft, engineer, do="value", name="valve", expression=0.5)
    step(draft, engineer, do="value", name="valve", expression=0.6)
    changed = model_of(draft)
    _, words = drafts.go_back(draft_id=draft.pk, actor=engineer, seen=2)
    assert words == "valve has another probability."
    drafts.go_back(draft_id=draft.pk, actor=engineer, seen=1)
    assert model_of(draft) == begun
    with pytest.raises(Conflict, match="nothing to undo"):
        drafts.go_back(draft_id=draft.pk, actor=engineer, seen=0)
    drafts.go_forth(draft_id=draft.pk, actor=engineer, seen=0)
    drafts.go_forth(draft_id=draft.pk, actor=engineer, seen=1)
    assert model_of(draft) == changed
    drafts.go_back(draft_id=draft.pk, actor=engineer, seen=2)
    step(draft, engineer, do="title", label="Another")
    with pytest.raises(Conflict, match="nothing to do again"):
        drafts.go_forth(draft_id=draft.pk, actor=engineer, seen=2)


def test_a_step_from_another_window_is_refused_and_changes_nothing(draft, engineer):
    step(draft, engineer, do="value", name="valve", expression=0.5)
    with pytest.raises(Conflict, match="another window"):
        drafts.take_step(draft_id=draft.pk, actor=engineer, seen=0, edit={"do": "title", "label": "X"})
    assert DraftStep.objects.count() == 2


def test_what_was_typed_is_read_and_a_mistake_names_its_field(draft, engineer):
    typed = {"expression": {"model": "exponential", "arguments": ["1e-3", ""]}}
    step(draft, engineer, do="value", name="valve", typed=typed)
    assert DraftStep.objects.get(number=1).edit["expression"] == {"exponential": [0.001, {"mission-time": []}]}
    for arguments, field in ((["x y", ""], "expression-0"), (["", ""], "expression-0"), (["1"], "expression")):
        typed = {"expression": {"model": "exponential", "arguments": arguments}}
        with pytest.raises(BadInput) as refused:
            step(draft, engineer, do="value", name="valve", typed=typed)
        assert list(refused.value.fields) == [field]
    assert DraftStep.objects.count() == 2


def test_an_unfinished_tree_is_not_saved(draft, engineer):
    step(draft, engineer, do="add-gate", under="both", name="more")
    with pytest.raises(BadInput, match="more has no input yet"):
        save(draft, engineer)
    assert TreeRevision.objects.count() == 1
    assert TreeDraft.objects.exists()


def test_a_draft_without_changes_is_not_saved(draft, engineer):
    with pytest.raises(BadInput, match="Nothing is different"):
        save(draft, engineer)


def test_a_name_that_was_taken_meanwhile_is_refused_and_the_draft_stays(engineer):
    draft = drafts.start_tree(actor=engineer, name="pumps")
    step(draft, engineer, do="add-event", under="G1", name="E", expression=0.1)
    make_revision(engineer)
    with pytest.raises(BadInput, match="already here"):
        save(draft, engineer)
    assert TreeDraft.objects.filter(pk=draft.pk).exists()
    assert Tree.objects.count() == 1


def test_steps_are_brought_onto_what_another_saved(draft, engineer):
    step(draft, engineer, do="value", name="valve", expression=0.5)
    step(draft, engineer, do="value", name="pump-2", expression=0.3)
    newer = PUMPS.replace('<float value="0.1"/>', '<float value="0.4"/>').replace("pump-2", "pump-b")
    revise_tree(tree_id=draft.tree_id, actor=make_engineer("eve"), source=newer.encode(), file_name="p.xml")
    with pytest.raises(Conflict, match="saved revision 2"):
        save(draft, engineer)
    _, failed = drafts.bring_forward(draft_id=draft.pk, actor=engineer)
    assert len(failed) == 1
    assert "pump-2 is no basic event" in failed[0]
    revision = save(draft, engineer)
    assert revision.number == 3
    events = read_model(revision).basic_events
    assert [events[name].expression.value for name in ("valve", "pump-1", "pump-b")] == [0.5, 0.4, 0.2]


def test_the_oldest_steps_are_forgotten(draft, engineer, monkeypatch):
    monkeypatch.setattr(drafts, "MOST_STEPS", 3)
    for number in range(6):
        step(draft, engineer, do="value", name="valve", expression=number / 10)
    assert [kept.number for kept in DraftStep.objects.all()] == [3, 4, 5, 6]


def test_discarding_leaves_the_tree(draft, engineer):
    drafts.discard_draft(draft_id=draft.pk, actor=engineer)
    assert not DraftStep.objects.exists()
    assert TreeRevision.objects.count() == 1
