"""The library: items, data sets, what is refused, and runs that stay as they were."""

from __future__ import annotations

import pytest

from config.kit.errors import BadInput, Conflict, NotAllowed
from faulttree.models import DataSet, Run, SharedItem, SharedValue
from faulttree.reads.movement import find_movement, find_users
from faulttree.services import library
from faulttree.services.execution import execute_run
from faulttree.services.library import Sent
from tests.faulttree.people import PUMPS, make_done_run, make_engineer, make_revision, make_run, make_viewer

pytestmark = pytest.mark.django_db

SHARED = PUMPS.replace(
    '<define-basic-event name="pump-1"><float value="0.1"/>',
    '<define-basic-event name="pump-1"><attributes><attribute name="library" value="pump"/></attributes>'
    '<float value="0.1"/>',
)
SOURCE = {"source_kind": "judgement", "source": "Agreed by two."}


@pytest.fixture
def engineer():
    return make_engineer()


def sent(expression, **other):
    return Sent(expression, **(SOURCE | other))


def add(engineer, kind, name, expression, **other):
    return library.add_item(actor=engineer, kind=kind, name=name, sent=sent(expression, **other)).item


def change(engineer, item, expression, seen=None):
    number = DataSet.objects.newest().number if seen is None else seen
    return library.change_value(actor=engineer, item_id=item.pk, sent=sent(expression), seen=number)


def probability(pump):
    """Of PUMPS by hand: the valve, or both pumps."""
    return 1 - 0.99 * (1 - pump * 0.2)


def test_each_change_is_one_data_set_and_leaves_the_values_before(engineer):
    pump, rate = add(engineer, "event", "pump", 0.3), add(engineer, "parameter", "rate", 0.5)
    change(engineer, pump, "rate")
    assert [one.number for one in DataSet.objects.order_by("number")] == [1, 2, 3]
    assert SharedValue.objects.at(2).get(item=pump).expression == 0.3
    assert SharedValue.objects.at(3).get(item=pump).expression == "rate"
    assert SharedValue.objects.at(3).get(item=rate).data_set.number == 2


def test_a_run_keeps_its_data_set_and_gives_the_same_digits_again(engineer):
    item = add(engineer, "event", "pump", 0.3)
    revision = make_revision(engineer, SHARED)
    run = make_done_run(engineer, revision)
    assert (run.data_set.number, revision.data_set.number) == (1, 1)
    assert run.result["probability"] == pytest.approx(probability(0.3), rel=1e-12)
    change(engineer, item, 0.7)
    newer = make_done_run(engineer, revision)
    assert (newer.pk == run.pk, newer.data_set.number) == (False, 2)
    assert newer.result["probability"] == pytest.approx(probability(0.7), rel=1e-12)
    first = run.result
    Run.objects.filter(pk=run.pk).update(state="queued", result=None)
    assert execute_run(run_id=run.pk)
    run.refresh_from_db()
    assert (run.result["probability"], run.result["importance"]) == (first["probability"], first["importance"])


def test_a_change_that_the_tree_does_not_use_asks_no_new_run(engineer):
    add(engineer, "event", "pump", 0.3)
    revision = make_revision(engineer, SHARED)
    run = make_run(engineer, revision)
    add(engineer, "parameter", "unrelated", 4.0)
    assert make_run(engineer, revision) == run


def test_a_tree_without_the_library_has_no_data_set(engineer):
    add(engineer, "event", "pump", 0.3)
    run = make_done_run(engineer, make_revision(engineer))
    assert run.data_set is None
    assert run.result["probability"] == pytest.approx(probability(0.1), rel=1e-12)


def test_an_item_that_is_not_there_leaves_the_value_of_the_file(engineer):
    add(engineer, "parameter", "other", 1.0)
    run = make_done_run(engineer, make_revision(engineer, SHARED))
    assert (run.data_set, run.result["probability"]) == (None, pytest.approx(probability(0.1), rel=1e-12))


@pytest.mark.parametrize(
    ("kind", "name", "expression", "other", "field"),
    [
        ("event", "a", 1.5, {}, "expression"),
        ("event", "a", "nothing", {}, "expression"),
        ("event", "a", {"exponential": [-1.0, 8.0]}, {}, "expression"),
        ("parameter", "a", "a", {}, "expression"),
        ("event", "1 a", 0.5, {}, "name"),
        ("event", "pump", 0.5, {}, "name"),
        ("gate", "a", 0.5, {}, "kind"),
        ("parameter", "a", 0.5, {"unit": "furlongs"}, "unit"),
        ("event", "a", 0.5, {"source_kind": "test", "source": " "}, "source"),
        ("event", "a", 0.5, {"source": ""}, "note"),
        ("event", "a", 0.5, {"source_kind": "rumour"}, "source_kind"),
    ],
)
def test_what_can_not_be_used_is_refused_and_makes_no_data_set(engineer, kind, name, expression, other, field):
    add(engineer, "event", "pump", 0.3)
    with pytest.raises(BadInput) as refused:
        add(engineer, kind, name, expression, **other)
    assert list(refused.value.fields) == [field]
    assert (DataSet.objects.count(), SharedItem.objects.count()) == (1, 1)


def test_shared_parameters_that_go_round_in_a_circle_are_refused(engineer):
    one = add(engineer, "parameter", "one", 0.5)
    add(engineer, "parameter", "two", "one")
    with pytest.raises(BadInput, match="circle"):
        change(engineer, one, "two")
    assert DataSet.objects.count() == 2


def test_the_second_of_two_changes_hears_what_happened(engineer):
    item = add(engineer, "event", "pump", 0.3)
    change(make_engineer("eve"), item, 0.4, seen=1)
    with pytest.raises(Conflict, match="eve changed pump in data set 2"):
        change(engineer, item, 0.5, seen=1)
    with pytest.raises(BadInput, match="Nothing is different"):
        change(engineer, item, 0.4)
    assert DataSet.objects.count() == 2


def test_a_number_that_is_taken_at_the_same_moment_is_a_conflict(engineer, monkeypatch):
    item = add(engineer, "event", "pump", 0.3)
    stale = DataSet(number=0)
    monkeypatch.setattr("faulttree.models.library.DataSetQuerySet.newest", lambda self: stale)
    with pytest.raises(Conflict, match="same moment"):
        change(engineer, item, 0.5, seen=1)


def test_a_retired_item_goes_on_in_trees_and_can_come_back(engineer):
    item = add(engineer, "event", "pump", 0.3)
    revision = make_revision(engineer, SHARED)
    library.retire(actor=engineer, item_id=item.pk, seen=1)
    assert item.values.first().is_retired
    assert make_done_run(engineer, revision).result["probability"] == pytest.approx(probability(0.3), rel=1e-12)
    library.retire(actor=engineer, item_id=item.pk, seen=2, back=True)
    assert not item.values.first().is_retired


def test_only_safety_engineers_change_it(engineer):
    item = add(engineer, "event", "pump", 0.3)
    viewer = make_viewer()
    with pytest.raises(NotAllowed):
        change(viewer, item, 0.5)
    with pytest.raises(NotAllowed):
        library.retire(actor=viewer, item_id=item.pk, seen=1)
    assert DataSet.objects.count() == 1


def test_what_a_change_moves_is_known_before_it_is_saved(engineer):
    rate = add(engineer, "parameter", "rate", 0.3)
    add(engineer, "event", "pump", "rate")
    revision = make_revision(engineer, SHARED)
    make_revision(engineer, PUMPS.replace('"pumps"', '"others"'))
    value = library.as_value("parameter", "rate", sent(0.6))
    (moved,) = find_movement({value.key: value})
    assert (moved.revision, moved.top, moved.before.method) == (revision, "no-flow", "exact")
    assert moved.before.probability == pytest.approx(probability(0.3), rel=1e-12)
    assert moved.after.probability == pytest.approx(probability(0.6), rel=1e-12)
    assert moved.ratio == pytest.approx(probability(0.6) / probability(0.3), rel=1e-12)
    assert DataSet.objects.count() == 2
    assert find_users({("parameter", rate.name)}) == [revision]


def test_trees_that_are_not_computed_are_named(engineer, monkeypatch):
    add(engineer, "event", "pump", 0.3)
    make_revision(engineer, SHARED)
    monkeypatch.setattr("faulttree.reads.movement.MOST_TREES", 0)
    value = library.as_value("event", "pump", sent(0.6))
    (moved,) = find_movement({value.key: value})
    assert moved.before is None
    assert "Not computed here" in moved.problem
