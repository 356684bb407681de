"""Drafts, reports, edits."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from anomalies.errors import EditConflict
from anomalies.models import Anomaly
from anomalies.services.anomalies import (
    add_anomaly_hardware,
    discard_anomaly,
    edit_anomaly,
    remove_anomaly_hardware,
    report_anomaly,
    submit_anomaly,
)
from config.kit.errors import BadInput, NotAllowed
from tests.anomalies.people import (
    SEEN_AT,
    board_member,
    make_activity,
    make_draft,
    make_item,
    make_open,
    make_person,
    make_reported,
    make_stranger,
    recorder,
    viewer,
)
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db


def edit(anomaly, actor, version, **changes):
    return edit_anomaly(anomaly_id=anomaly.pk, actor=actor, version=version, changes=changes)


def test_a_report_has_the_next_number_of_its_year():
    assert [make_reported().number for _ in range(2)] == ["A-2024-001", "A-2024-002"]
    late = datetime(2023, 12, 31, 23, 59, tzinfo=UTC)
    assert make_reported(occurred_at=late).number == "A-2023-001"


def test_a_refused_report_takes_no_number():
    make_reported()
    with refused(BadInput, code="unknown_hardware"):
        make_reported(hardware_ids=[99])
    assert make_reported().number == "A-2024-002"


def test_a_draft_has_no_number_until_it_is_submitted():
    first, second = make_draft(), make_draft()
    assert first.number is None
    discard_anomaly(anomaly_id=first.pk, actor=recorder())
    assert submit_anomaly(anomaly_id=second.pk, actor=recorder()).number == "A-2024-001"
    assert first.reread().number is None


def test_a_draft_is_seen_and_changed_by_its_recorder_alone():
    draft, reported = make_draft(), make_reported()
    another = make_person("recorder", "bo")
    assert set(Anomaly.objects.visible_to(recorder())) == {draft, reported}
    for other in (another, board_member(), viewer()):
        assert list(Anomaly.objects.visible_to(other)) == [reported]
    assert not Anomaly.objects.visible_to(make_stranger()).exists()
    for other in (another, board_member()):
        with refused(NotAllowed):
            edit(draft, other, 1, title="Mine")
        with refused(NotAllowed):
            submit_anomaly(anomaly_id=draft.pk, actor=other)


def test_who_may_not_report_is_refused():
    person = viewer()
    with refused(NotAllowed):
        report_anomaly(actor=person, title="X", occurred_at=SEEN_AT)


@pytest.mark.parametrize(
    ("story", "field"),
    [
        ({"title": " "}, "title"),
        ({"title": "\ud800"}, "title"),
        ({"occurred_at": None}, "occurred_at"),
        ({"occurred_at": "yesterday"}, "occurred_at"),
        ({"occurred_at": SEEN_AT.replace(tzinfo=None)}, "occurred_at"),
        ({"activity_id": 99}, "activity_id"),
        ({"description": "x" * 50_001}, "description"),
        ({"severity": 1}, "severity"),
        ({"number": "A-2024-777"}, "number"),
    ],
)
def test_a_report_that_can_not_be_used_is_refused(story, field):
    recorder()
    with refused(BadInput) as caught:
        make_reported(**story)
    assert set(caught.value.fields) == {field}


def test_nothing_has_been_seen_in_the_future():
    recorder()
    with refused(BadInput, code="in_future"):
        make_reported(occurred_at=timezone.now() + timedelta(hours=1))
    reported = make_reported()
    with refused(BadInput, code="in_future"):
        edit(reported, recorder(), 1, occurred_at=timezone.now() + timedelta(hours=1))


def test_a_report_holds_all_that_was_said():
    item, activity = make_item(), make_activity()
    reported = make_reported(
        hardware_ids=[item.pk, item.pk], activity_id=activity.pk, activity_cut_short=True, place="Port 2"
    ).reread()
    assert (reported.activity, reported.activity_cut_short, reported.place) == (activity, True, "Port 2")
    assert [row.item for row in reported.hardware_concerned.all()] == [item]
    assert reported.recorded_by == recorder()


def test_the_recorder_corrects_a_report_until_it_is_screened():
    reported = make_reported()
    edit(reported, recorder(), 1, place="Port 2")
    with refused(NotAllowed):
        edit(reported, make_person("recorder", "bo"), 2, place="Port 3")
    screened = make_open()
    with refused(NotAllowed):
        edit(screened, recorder(), screened.version, place="Port 2")
    assert edit(screened, board_member(), screened.version, place="Port 2").place == "Port 2"


def test_an_edit_that_changes_nothing_is_no_change():
    reported = make_reported()
    assert edit(reported, recorder(), 1, title=" Coolant wept ").version == 1


def test_the_second_of_two_editors_is_told_both_versions_and_can_merge():
    reported, editor = make_reported(place="Port 1"), board_member()
    edit(reported, recorder(), 1, place="Port 2", description="By the disconnect.")
    with refused(EditConflict) as caught:
        edit(reported, editor, 1, place="Port 3", title="Coolant leak")
    conflict = caught.value
    assert (conflict.seen, conflict.version, conflict.clashes) == (1, 2, ("place",))
    assert conflict.theirs == {
        "place": {"before": "Port 1", "after": "Port 2"},
        "description": {"before": None, "after": "By the disconnect."},
    }
    assert conflict.yours == {"place": "Port 3", "title": "Coolant leak"}
    body = conflict.as_dict()
    assert set(body) == {"code", "message", "fields", "seen", "version", "theirs", "yours"}
    assert set(body["fields"]) == {"place"}
    merged = edit(reported, editor, conflict.version, place="Port 3", title="Coolant leak").reread()
    assert (merged.place, merged.title, merged.description) == ("Port 3", "Coolant leak", "By the disconnect.")


def test_what_was_changed_back_is_no_difference():
    reported = make_reported(place="Port 1")
    edit(reported, recorder(), 1, place="Port 2")
    edit(reported, recorder(), 2, place="Port 1")
    with refused(EditConflict) as caught:
        edit(reported, recorder(), 1, title="Leak")
    assert caught.value.theirs == {}


def test_hardware_concerned_comes_and_goes():
    item, reported = make_item(), make_reported()
    add_anomaly_hardware(anomaly_id=reported.pk, item_id=item.pk, actor=recorder())
    assert reported.hardware_concerned.filter(active=True).count() == 1
    remove_anomaly_hardware(anomaly_id=reported.pk, item_id=item.pk, actor=recorder())
    assert reported.hardware_concerned.filter(active=True).count() == 0
    with refused(BadInput, code="unknown_hardware"):
        add_anomaly_hardware(anomaly_id=reported.pk, item_id=99, actor=recorder())
    with refused(NotAllowed):
        add_anomaly_hardware(anomaly_id=reported.pk, item_id=item.pk, actor=make_person("recorder", "bo"))


def test_a_reason_that_is_no_text_is_refused():
    reported = make_reported()
    with refused(BadInput) as caught:
        edit_anomaly(anomaly_id=reported.pk, actor=recorder(), version=1, changes={"place": "Port 2"}, reason="a\0b")
    assert set(caught.value.fields) == {"reason"}
