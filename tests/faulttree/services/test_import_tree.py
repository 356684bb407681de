"""Import of a tree and of further revisions."""

from __future__ import annotations

import hashlib

import pytest

from config.kit.errors import BadInput, NotAllowed
from faulttree.bridge import UnreadableModel
from faulttree.models import Tree, TreeRevision
from faulttree.services.trees import import_tree, revise_tree
from tests.faulttree.people import PUMPS, TWO_TOPS, make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db


def test_the_file_is_kept_byte_for_byte():
    source = PUMPS.encode("utf-16")
    revision = import_tree(actor=make_engineer(), source=source, file_name="pumps.xml")
    revision = TreeRevision.objects.get(pk=revision.pk)
    assert bytes(revision.source) == source
    assert revision.sha256 == hashlib.sha256(source).hexdigest()


def test_the_row_says_what_is_in_the_file():
    engineer = make_engineer()
    revision = make_revision(engineer)
    assert (revision.number, revision.gates, revision.events, revision.tops) == (1, 2, 3, ["no-flow"])
    assert not revision.uses_mission_time
    assert (revision.tree.name, revision.tree.label, revision.tree.owner) == ("pumps", "No flow", engineer)


def test_all_tops_are_kept():
    assert make_revision(make_engineer(), TWO_TOPS).tops == ["no-flow", "other"]


def test_a_name_that_is_taken_is_refused():
    engineer = make_engineer()
    make_revision(engineer)
    with pytest.raises(BadInput) as refused:
        make_revision(engineer)
    assert "name" in refused.value.fields
    assert Tree.objects.count() == 1


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('<basic-event name="valve"/>', '<basic-event name="valv"/>', "valv is not defined"),
        ('<float value="0.01"/>', '<float value="1.01"/>', "1.01"),
        ("</opsa-mef>", "", "line"),
        ('<basic-event name="pump-2"/>', '<gate name="no-flow"/>', "no-flow"),
    ],
)
def test_a_file_with_a_mistake_changes_nothing_and_says_where(old, new, said):
    with pytest.raises(UnreadableModel) as refused:
        make_revision(make_engineer(), PUMPS.replace(old, new))
    told = " ".join(str(problem) for problem in refused.value.problems)
    assert said in told
    assert "pumps.xml" in told
    assert all(problem.mend for problem in refused.value.problems)
    assert Tree.objects.count() == TreeRevision.objects.count() == 0


def test_a_file_without_a_gate_is_refused():
    empty = '<opsa-mef><define-fault-tree name="none"/></opsa-mef>'
    with pytest.raises(BadInput):
        make_revision(make_engineer(), empty)
    assert not Tree.objects.exists()


def test_a_viewer_may_not_import():
    with pytest.raises(NotAllowed):
        make_revision(make_viewer())
    assert not Tree.objects.exists()


def test_a_revision_gets_the_next_number():
    engineer = make_engineer()
    first = make_revision(engineer)
    changed = PUMPS.replace("0.01", "0.02").encode()
    second = revise_tree(tree_id=first.tree_id, actor=engineer, source=changed, file_name="b.xml", note="Valve.")
    assert (second.number, second.tree_id) == (2, first.tree_id)
    assert bytes(TreeRevision.objects.get(pk=first.pk).source) == PUMPS.encode()


def test_the_newest_file_once_more_is_refused():
    engineer = make_engineer()
    first = make_revision(engineer)
    with pytest.raises(BadInput) as refused:
        revise_tree(tree_id=first.tree_id, actor=engineer, source=PUMPS.encode(), file_name="b.xml")
    assert refused.value.code == "unchanged"


def test_a_viewer_may_not_revise():
    first = make_revision(make_engineer())
    with pytest.raises(NotAllowed):
        revise_tree(tree_id=first.tree_id, actor=make_viewer(), source=TWO_TOPS.encode(), file_name="b.xml")
    assert TreeRevision.objects.count() == 1
