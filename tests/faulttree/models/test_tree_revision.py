"""A revision is never changed."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from faulttree.models import Tree, TreeRevision
from tests.faulttree.people import make_engineer, make_revision, make_run, make_stranger, make_viewer

pytestmark = pytest.mark.django_db


def test_saving_over_a_revision_is_refused():
    revision = make_revision(make_engineer())
    revision.note = "Something else."
    with pytest.raises(TypeError, match="never changed"):
        revision.save()
    assert TreeRevision.objects.get().note == "First."


def test_updating_revisions_in_bulk_is_refused():
    make_revision(make_engineer())
    with pytest.raises(TypeError, match="never changed"):
        TreeRevision.objects.update(note="x")


def test_a_revision_with_a_run_can_not_be_deleted():
    engineer = make_engineer()
    revision = make_revision(engineer)
    make_run(engineer, revision)
    with pytest.raises(ProtectedError):
        revision.delete()


def test_the_database_refuses_a_second_revision_of_one_number():
    revision = make_revision(make_engineer())
    revision.pk, revision._state.adding = None, True
    with pytest.raises(IntegrityError), transaction.atomic():
        revision.save()


def test_trees_are_visible_to_roles_only():
    make_revision(make_engineer())
    assert Tree.objects.visible_to(make_viewer()).count() == 1
    assert Tree.objects.visible_to(make_stranger()).count() == 0
    assert TreeRevision.objects.visible_to(make_stranger("eve")).count() == 0


def test_all_words_must_be_in_name_or_label():
    make_revision(make_engineer())
    assert Tree.objects.matching("flow PUMPS").count() == 1
    assert Tree.objects.matching("flow tank").count() == 0
