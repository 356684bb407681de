"""Activities."""

from __future__ import annotations

from datetime import timedelta

import pytest

from anomalies.models import Activity, LedgerEntry
from anomalies.services import activities
from anomalies.services.hardware import quarantine_hardware
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    make_activity,
    make_item,
    make_stranger,
    recorder,
    viewer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def test_a_plan_is_kept_and_seen():
    activity = make_activity(title="  Sortie 7 ")
    assert (activity.reread().title, activity.tasks) == ("Sortie 7", ["Inspect the coupling"])
    assert list(Activity.objects.visible_to(viewer()).coming()) == [activity]
    assert not Activity.objects.visible_to(make_stranger()).exists()


def test_only_those_who_run_activities_plan_them():
    lead = activity_lead()
    end = SEEN_AT + timedelta(hours=1)
    given = {"kind": "sortie", "title": "X", "planned_start": SEEN_AT, "planned_end": end, "lead_id": lead.pk}
    person = recorder()
    with refused(NotAllowed):
        activities.plan_activity(actor=person, **given)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"planned_end": SEEN_AT}, "planned_end"),
        ({"planned_start": SEEN_AT.replace(tzinfo=None)}, "planned_start"),
        ({"kind": "picnic"}, "kind"),
        ({"title": "x" * 201}, "title"),
        ({"tasks": ["Look", " "]}, "tasks"),
        ({"tasks": [7]}, "tasks"),
        ({"lead_id": 9999}, "lead_id"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused(changes, field):
    activity_lead()
    with refused(BadInput) as caught:
        make_activity(**changes)
    assert set(caught.value.fields) == {field}


def test_somebody_who_may_not_run_activities_can_not_lead_one():
    activity, person = make_activity(), viewer()
    with refused(BadInput) as caught:
        activities.edit_activity(
            activity_id=activity.pk, actor=activity_lead(), version=1, changes={"lead_id": person.pk}
        )
    assert set(caught.value.fields) == {"lead_id"}


def test_state_is_no_field_to_edit():
    activity, lead = make_activity(), activity_lead()
    with refused(BadInput) as caught:
        activities.edit_activity(activity_id=activity.pk, actor=lead, version=1, changes={"state": "completed"})
    assert set(caught.value.fields) == {"state"}


def test_an_activity_runs_and_ends_early():
    lead = activity_lead()
    pk = make_activity().pk
    activities.start_activity(activity_id=pk, actor=lead, at=SEEN_AT)
    with refused(BadInput, code="bad_order"):
        activities.complete_activity(activity_id=pk, actor=lead, at=SEEN_AT - timedelta(seconds=1))
    with refused(BadInput) as caught:
        activities.end_activity_early(activity_id=pk, actor=lead, reason="")
    assert set(caught.value.fields) == {"reason"}
    ended = activities.end_activity_early(
        activity_id=pk, actor=lead, reason="Umbilical wept.", at=SEEN_AT + timedelta(hours=2)
    ).reread()
    assert (ended.state, ended.state_reason) == ("ended_early", "Umbilical wept.")
    assert ended.actual_end - ended.actual_start == timedelta(hours=2)


def test_crew_and_hardware_come_and_go_and_the_ledger_remembers():
    activity, item, person, lead = make_activity(), make_item(), recorder(), activity_lead()
    keys = {"activity_id": activity.pk, "actor": lead}
    for _ in range(2):  # twice is once
        activities.add_crew(person_id=person.pk, role="first suit", **keys)
        activities.add_activity_hardware(item_id=item.pk, **keys)
    assert (activity.crew.count(), activity.hardware_uses.count()) == (1, 1)
    activities.remove_crew(person_id=person.pk, role="first suit", **keys)
    activities.remove_activity_hardware(item_id=item.pk, **keys)
    assert not activity.crew.filter(active=True).exists()
    assert not activity.hardware_uses.filter(active=True).exists()
    activities.add_crew(person_id=person.pk, role="first suit", **keys)
    actions = LedgerEntry.objects.filter(kind="crew_assignment").values_list("action", flat=True)
    assert list(actions) == ["activity.add_crew", "activity.remove_crew", "activity.add_crew"]


def test_hardware_out_of_service_can_not_be_used():
    activity, item, lead = make_activity(), make_item(), activity_lead()
    quarantine_hardware(item_id=item.pk, actor=lead, reason="Weeps.")
    with refused(Refused, code="hardware_unusable"):
        activities.add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=lead)


def test_lists_of_an_activity_that_is_over_stay_as_they_are():
    activity, lead, person, item = make_activity(), activity_lead(), recorder(), make_item()
    keys = {"activity_id": activity.pk, "actor": lead}
    activities.add_crew(person_id=person.pk, role="first suit", **keys)
    activities.scrub_activity(reason="Weather.", **keys)
    with refused(WrongState):
        activities.add_activity_hardware(item_id=item.pk, **keys)
    with refused(WrongState):
        activities.remove_crew(person_id=person.pk, role="first suit", **keys)


def test_a_role_that_is_no_text_is_refused_both_ways():
    activity, lead, person = make_activity(), activity_lead(), recorder()
    for change in (activities.add_crew, activities.remove_crew):
        with refused(BadInput) as caught:
            change(activity_id=activity.pk, person_id=person.pk, role="a\0b", actor=lead)
        assert set(caught.value.fields) == {"role"}
