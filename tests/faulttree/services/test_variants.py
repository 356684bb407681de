"""Adding, changing and removing variants; asking for their runs."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput, Conflict, NotAllowed
from faulttree.models import Run, Variant
from faulttree.services.variants import add_variant, change_variant, remove_variant, request_variant_runs
from tests.faulttree.people import make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db

RULED_OUT = {"events": {"valve": False}}


@pytest.fixture
def engineer():
    return make_engineer()


@pytest.fixture
def tree(engineer):
    return make_revision(engineer).tree


@pytest.fixture
def variant(engineer, tree):
    return add_variant(tree_id=tree.pk, actor=engineer, name="No valve", overrides=RULED_OUT)


def test_a_variant_is_kept_in_order_and_without_what_is_empty(engineer, tree):
    overrides = {"events": {"valve": 1, "pump-1": True}, "houses": {}, "mission_time": None}
    variant = add_variant(tree_id=tree.pk, actor=engineer, name="  Better   valve ", note=" Why. ", overrides=overrides)
    variant.refresh_from_db()
    assert (variant.name, variant.note, variant.version) == ("Better valve", "Why.", 1)
    assert variant.overrides == {"events": {"pump-1": True, "valve": 1.0}}


@pytest.mark.parametrize(
    ("name", "note", "overrides", "field", "told"),
    [
        ("  ", "", RULED_OUT, "name", "needs a name"),
        ("x" * 121, "", RULED_OUT, "name", "121 letters"),
        ("a", "x" * 501, RULED_OUT, "note", "501 letters"),
        ("a", "", {}, "overrides", "Nothing is different"),
        ("a", "", {"events": {"vlave": False}}, "overrides", "no basic event vlave. Did you mean valve"),
        ("a", "", {"events": {"valve": 2}}, "overrides", "valve"),
        ("a", "", {"things": {}}, "overrides", "no part things"),
        ("No valve", "", RULED_OUT, "name", "has a variant of that name"),
    ],
)
def test_what_can_not_be_used_is_refused_by_field(engineer, tree, variant, name, note, overrides, field, told):
    with pytest.raises(BadInput) as refused:
        add_variant(tree_id=tree.pk, actor=engineer, name=name, note=note, overrides=overrides)
    assert told in " ".join(refused.value.fields[field])
    assert list(Variant.objects.all()) == [variant]


def test_another_person_may_change_it_and_answers_for_it_then(variant):
    other = make_engineer("bo")
    changed = change_variant(
        variant_id=variant.pk, actor=other, version=1, name="Valve sticks", overrides={"events": {"valve": True}}
    )
    assert (changed.name, changed.version, changed.author) == ("Valve sticks", 2, other)
    assert changed.overrides == {"events": {"valve": True}}


def test_a_change_in_between_is_told_and_not_lost(engineer, variant):
    change_variant(
        variant_id=variant.pk, actor=make_engineer("bo"), version=1, name="Theirs", overrides={"mission_time": 4}
    )
    with pytest.raises(Conflict) as stale:
        change_variant(variant_id=variant.pk, actor=engineer, version=1, name="Ours", overrides=RULED_OUT)
    assert stale.value.message == (
        "bo saved this variant in the meantime. The name is “Theirs” now and “Ours” here. "
        "Only there: mission time 4 h. Only here: valve ruled out. Nothing of yours was saved."
    )
    variant.refresh_from_db()
    assert (variant.name, variant.version) == ("Theirs", 2)


def test_a_name_of_another_variant_is_refused_in_a_change(engineer, tree, variant):
    other = add_variant(tree_id=tree.pk, actor=engineer, name="Other", overrides={"mission_time": 1})
    with pytest.raises(BadInput) as refused:
        change_variant(variant_id=other.pk, actor=engineer, version=1, name="No valve", overrides=RULED_OUT)
    assert "name" in refused.value.fields


def test_removing_it_leaves_its_runs(engineer, tree, variant):
    revision = tree.revisions.get()
    asked = request_variant_runs(
        revision_id=revision.pk, actor=engineer, top="no-flow", mission_time=None, variant_ids=[variant.pk], base=True
    )
    assert [run.request.get("overrides") for run in asked] == [None, RULED_OUT]
    assert remove_variant(variant_id=variant.pk, actor=engineer) == tree
    assert not Variant.objects.exists()
    assert Run.objects.count() == 2


def test_a_viewer_may_do_nothing_of_it(tree, variant):
    viewer = make_viewer()
    with pytest.raises(NotAllowed):
        add_variant(tree_id=tree.pk, actor=viewer, name="Mine", overrides=RULED_OUT)
    with pytest.raises(NotAllowed):
        change_variant(variant_id=variant.pk, actor=viewer, version=1, name="Mine", overrides=RULED_OUT)
    with pytest.raises(NotAllowed):
        remove_variant(variant_id=variant.pk, actor=viewer)
    with pytest.raises(NotAllowed):
        request_variant_runs(
            revision_id=tree.revisions.get().pk,
            actor=viewer,
            top="no-flow",
            mission_time=None,
            variant_ids=[variant.pk],
            base=True,
        )
    variant.refresh_from_db()
    assert variant.version == 1
    assert not Run.objects.exists()
