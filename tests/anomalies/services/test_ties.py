"""Constraints, and links between anomalies."""

from __future__ import annotations

from datetime import timedelta

import pytest

from anomalies.models import AnomalyLink, Constraint
from anomalies.services.activities import add_activity_hardware, remove_activity_hardware, scrub_activity
from anomalies.services.screening import dismiss_anomaly
from anomalies.services.ties import (
    constrain,
    link_anomalies,
    reinstate_constraint,
    resolve_constraint,
    withdraw_link,
)
from config.kit.errors import BadInput, Refused, WrongState
from tests.anomalies.people import (
    SEEN_AT,
    activity_lead,
    board_member,
    make_activity,
    make_constraint,
    make_draft,
    make_item,
    make_open,
    make_reported,
    make_stranger,
    make_type,
    safety_engineer,
    viewer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def hold(anomaly, **target):
    return constrain(anomaly_id=anomaly.pk, actor=safety_engineer(), statement="Not outside.", **target)


def link(source, target, kind="related"):
    return link_anomalies(source_id=source.pk, target_id=target.pk, kind=kind, actor=board_member())


def test_a_constraint_holds_until_it_is_resolved():
    constraint = make_constraint()
    assert list(Constraint.objects.visible_to(viewer()).in_force()) == [constraint]
    assert not Constraint.objects.visible_to(make_stranger()).exists()
    resolve_constraint(constraint_id=constraint.pk, actor=safety_engineer(), resolution="Seals replaced.")
    assert not Constraint.objects.in_force().exists()
    assert constraint.reread().resolution == "Seals replaced."


def test_a_constraint_reaches_the_activity_it_names_and_those_that_use_its_type():
    anomaly, activity, other, item = make_open(), make_activity(), make_activity(title="Sortie 8"), make_item()
    named, by_type = hold(anomaly, activity_id=activity.pk), hold(anomaly, hardware_type_id=item.type_id)
    assert list(Constraint.objects.on_activity(activity)) == [named]
    assert list(Constraint.objects.on_activity(other)) == []
    keys = {"activity_id": other.pk, "item_id": item.pk, "actor": activity_lead()}
    add_activity_hardware(**keys)
    assert list(Constraint.objects.on_activity(other)) == [by_type]
    remove_activity_hardware(**keys)
    assert list(Constraint.objects.on_activity(other)) == []


def test_a_constraint_names_one_thing_that_is_still_to_come():
    anomaly, activity, kind = make_open(), make_activity(), make_type()
    for target in ({}, {"activity_id": activity.pk, "hardware_type_id": kind.pk}):
        with refused(BadInput, code="one_thing"):
            hold(anomaly, **target)
    with refused(BadInput) as caught:
        hold(anomaly, hardware_type_id=9999)
    assert set(caught.value.fields) == {"hardware_type_id"}
    scrub_activity(activity_id=activity.pk, actor=activity_lead(), reason="Leak.")
    with refused(Refused, code="activity_over"):
        hold(anomaly, activity_id=activity.pk)


def test_resolving_says_how():
    constraint, engineer = make_constraint(), safety_engineer()
    with refused(BadInput) as caught:
        resolve_constraint(constraint_id=constraint.pk, actor=engineer, resolution="")
    assert set(caught.value.fields) == {"resolution"}


def test_a_constraint_of_a_dismissed_anomaly_stays_resolved():
    constraint, engineer = make_constraint(make_reported()), safety_engineer()
    resolve_constraint(constraint_id=constraint.pk, actor=engineer, resolution="No anomaly.")
    dismiss_anomaly(anomaly_id=constraint.anomaly_id, actor=engineer, reason="No anomaly.")
    with refused(WrongState):
        reinstate_constraint(constraint_id=constraint.pk, actor=engineer, reason="It is one.")


def test_links_are_seen_from_both_ends():
    first, second, third = make_reported(), make_reported(), make_reported()
    made = link(first, second)
    for end in (first, second):
        assert list(AnomalyLink.objects.visible_to(viewer()).standing().touching(end)) == [made]
    assert not AnomalyLink.objects.touching(third).exists()
    assert not AnomalyLink.objects.visible_to(make_stranger()).exists()


def test_related_is_mutual_and_kept_once():
    first, second = make_reported(), make_reported()
    made = link(first, second)
    assert (made.source, made.target) == (second, first)
    with refused(Refused, code="linked_already"):
        link(second, first)
    withdraw_link(link_id=made.pk, actor=board_member(), reason="Not so.")
    assert link(first, second) != made


def test_duplicates_make_no_circle_and_have_one_original():
    first, second, third = make_reported(), make_reported(), make_reported()
    board_member()
    with refused(Refused, code="linked_to_itself"):
        link(first, first, "duplicate")
    link(first, second, "duplicate")
    link(second, third, "duplicate")
    with refused(Refused, code="duplicate_already"):
        link(first, third, "duplicate")
    with refused(Refused, code="duplicate_circle"):
        link(third, first, "duplicate")


def test_a_recurrence_comes_after_what_recurs():
    first, second = make_reported(), make_reported(occurred_at=SEEN_AT + timedelta(days=30))
    link(second, first, "recurrence")
    with refused(Refused, code="recurrence_before"):
        link(first, second, "recurrence")


def test_a_draft_can_not_be_linked_at_either_end():
    draft, reported = make_draft(), make_reported()
    board_member()
    for source, target in ((draft, reported), (reported, draft)):
        with refused(WrongState):
            link(source, target, "duplicate")


def test_a_kind_of_link_must_be_known():
    first, second = make_reported(), make_reported()
    board_member()
    with refused(BadInput) as caught:
        link(first, second, "cousin")
    assert set(caught.value.fields) == {"kind"}
