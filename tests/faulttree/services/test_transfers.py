"""Transfers between trees: split off, saved, computed, refused."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput
from faulttree.bridge import read_model
from faulttree.models import Transfer, Tree, TreeDraft
from faulttree.services import drafts
from faulttree.services.trees import import_tree, revise_tree
from tests.faulttree.people import PUMPS, PUMPS_PROBABILITY, make_done_run, make_engineer, make_revision

pytestmark = pytest.mark.django_db

TRANSFER = """<opsa-mef><define-fault-tree name="{name}">
<define-gate name="{name}-top"><or><gate name="there"/></or></define-gate>
<define-gate name="there"><attributes><attribute name="transfer" value="{to}"/></attributes>
<constant value="false"/></define-gate></define-fault-tree></opsa-mef>"""


@pytest.fixture
def engineer():
    return make_engineer()


def transfer_tree(engineer, name, to):
    source = TRANSFER.format(name=name, to=to).encode()
    return import_tree(actor=engineer, source=source, file_name=f"{name}.xml")


def split(engineer, draft, gate="both", name="pumping"):
    seen = TreeDraft.objects.get(pk=draft.pk).position
    edit = {"gate": gate, "name": name}
    return drafts.split_draft(draft_id=draft.pk, actor=engineer, seen=seen, edit=edit)


def test_a_branch_becomes_a_tree_and_the_figures_stay(engineer):
    draft = drafts.open_draft(actor=engineer, tree_id=make_revision(engineer).tree_id)
    draft, _, made = split(engineer, draft)
    assert set(read_model(made).basic_events) == {"pump-1", "pump-2"}
    assert make_done_run(engineer, made).result["probability"] == pytest.approx(0.02, rel=1e-12)
    revision = drafts.save_draft(draft_id=draft.pk, actor=engineer, seen=draft.position, note="")
    row = Transfer.objects.get()
    assert (row.revision, row.gate, row.target, row.top) == (revision, "both", made, "both")
    assert make_done_run(engineer, revision).result["probability"] == pytest.approx(PUMPS_PROBABILITY, rel=1e-12)
    assert revision.events == 3


def test_a_tree_stays_with_the_revision_it_transfers_to(engineer):
    target = make_revision(engineer)
    revision = transfer_tree(engineer, "outer", f"{target.tree_id}/1/no-flow")
    revise_tree(
        tree_id=target.tree_id, actor=engineer, source=PUMPS.replace("0.01", "0.5").encode(), file_name="pumps.xml"
    )
    assert make_done_run(engineer, revision).result["probability"] == pytest.approx(PUMPS_PROBABILITY, rel=1e-12)


def test_trees_that_would_contain_one_another_are_refused_with_the_way_round(engineer):
    target = make_revision(engineer)
    outer = transfer_tree(engineer, "outer", f"{target.tree_id}/1/no-flow")
    far = transfer_tree(engineer, "far", f"{outer.tree_id}/1/outer-top")
    draft = drafts.open_draft(actor=engineer, tree_id=target.tree_id)
    place = {"tree": far.tree_id, "revision": 1, "top": "far-top"}
    draft, _ = drafts.take_step(
        draft_id=draft.pk, actor=engineer, seen=0, edit={"do": "transfer", "name": "both", **place}
    )
    with pytest.raises(BadInput, match="pumps > far > outer > pumps"):
        drafts.save_draft(draft_id=draft.pk, actor=engineer, seen=1, note="")
    assert Tree.objects.get(pk=target.tree_id).revisions.count() == 1


@pytest.mark.parametrize("to", ["999/1/no-flow", "x", "1/1/nothing", "99999999999999999999/1/a"])
def test_a_transfer_to_nothing_is_refused_naming_the_gate(engineer, to):
    make_revision(engineer)
    with pytest.raises(BadInput, match="gate there"):
        transfer_tree(engineer, "outer", to)
    assert Tree.objects.count() == 1


@pytest.mark.parametrize(("gate", "name", "field"), [("both", "1 a", "name"), ("valve", "a", "gate")])
def test_a_split_that_can_not_be_is_refused_and_changes_nothing(engineer, gate, name, field):
    draft = drafts.open_draft(actor=engineer, tree_id=make_revision(engineer).tree_id)
    with pytest.raises(BadInput) as refused:
        split(engineer, draft, gate, name)
    assert field in refused.value.fields
    assert (Tree.objects.count(), TreeDraft.objects.get().position) == (1, 0)
