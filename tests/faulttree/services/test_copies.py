"""A copy of a tree is a tree of its own, the same byte for byte."""

from __future__ import annotations

import pytest

from config.kit.errors import NotAllowed
from faulttree.models import Tree
from faulttree.services.copies import LONGEST_NAME, copy_tree
from faulttree.services.trees import revise_tree
from tests.faulttree.people import PUMPS, make_engineer, make_revision, make_stranger, make_viewer

pytestmark = pytest.mark.django_db


def test_it_is_the_revision_byte_for_byte_as_the_first_of_a_new_tree():
    engineer = make_engineer()
    origin = make_revision(engineer)
    copied = copy_tree(actor=engineer, revision_id=origin.pk, name="pumps-7", label="Pumps of 7")
    assert (copied.number, copied.sha256, bytes(copied.source)) == (1, origin.sha256, PUMPS.encode())
    assert (copied.tree.name, copied.tree.label, copied.tree.origin) == ("pumps-7", "Pumps of 7", origin)
    assert (copied.gates, copied.events, copied.tops) == (origin.gates, origin.events, origin.tops)
    assert copied.note == "Copied from pumps, revision 1."


def test_both_go_on_by_themselves():
    engineer = make_engineer()
    origin = make_revision(engineer)
    copied = copy_tree(actor=engineer, revision_id=origin.pk, name="copy")
    changed = PUMPS.replace("0.01", "0.02").encode()
    revise_tree(tree_id=copied.tree_id, actor=engineer, source=changed, file_name="pumps.xml")
    assert origin.tree.revisions.count() == 1
    assert copied.tree.revisions.count() == 2
    again = copy_tree(actor=engineer, revision_id=origin.pk, name="copy")
    assert bytes(again.source) == PUMPS.encode()


def test_a_name_that_is_taken_gets_a_number():
    engineer = make_engineer()
    origin = make_revision(engineer)
    names = [copy_tree(actor=engineer, revision_id=origin.pk, name="copy").tree.name for _ in range(3)]
    assert names == ["copy", "copy-2", "copy-3"]


def test_long_names_are_cut_and_stay_different():
    engineer = make_engineer()
    origin = make_revision(engineer)
    names = [copy_tree(actor=engineer, revision_id=origin.pk, name="n" * 300).tree.name for _ in range(2)]
    assert names[0] != names[1]
    assert all(len(name) <= LONGEST_NAME for name in names)


def test_who_may_see_the_tree_may_have_it_copied_and_nobody_else():
    origin = make_revision(make_engineer())
    stranger = make_stranger()
    with pytest.raises(NotAllowed):
        copy_tree(actor=stranger, revision_id=origin.pk, name="copy")
    assert Tree.objects.count() == 1
    viewer = make_viewer()
    assert copy_tree(actor=viewer, revision_id=origin.pk, name="copy").tree.owner == viewer
