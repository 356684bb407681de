"""What lessons ask: one origin that is settled, a place, an issuer who didn't write them, one decision a place."""

from __future__ import annotations

import pytest

from anomalies.models import Lesson, LessonUse, SignOff
from anomalies.reads.lessons.offers import ALIKE, find_concerned, read_offers
from anomalies.services.lesson_uses import decide_lesson, tie_lesson_use, withdraw_lesson_use
from anomalies.services.lessons import place_lesson, unplace_lesson, write_lesson
from config.kit.errors import BadInput, Refused
from tests.anomalies.lessons import decide, issue, make_issued, make_lesson, make_over, tie
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_draft,
    make_item,
    make_open,
    make_person,
    make_type,
    safety_engineer,
)
from tests.anomalies.procedures import make_drafted, make_procedure, make_released
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db
TEXTS = {"title": "Pull first", "what_happened": "It wept.", "why": "Not home.", "what_to_do": "Pull."}


def test_it_is_drawn_from_one_thing_that_is_settled():
    both = {"anomaly_id": make_open().pk, "activity_id": make_over().pk}
    for origin, field in (({}, "anomaly_id"), (both, "anomaly_id")):
        with refused(BadInput) as caught:
            write_lesson(actor=board_member(), **TEXTS, **origin)
        assert field in caught.value.fields
    with refused(BadInput) as caught:
        write_lesson(actor=board_member(), **TEXTS, anomaly_id=both["anomaly_id"])
    assert caught.value.code == "not_closed"
    planned = make_activity()
    with refused(BadInput) as caught:
        write_lesson(actor=board_member(), **TEXTS, activity_id=planned.pk)
    assert caught.value.code == "not_over"


def test_numbers_have_no_gaps():
    first, second = make_lesson(), make_lesson()
    year = first.written_at.year
    assert [first.number, second.number] == [f"L-{year}-001", f"L-{year}-002"]


def test_it_applies_to_one_thing_a_place_and_an_issued_one_keeps_its_last():
    lesson = make_lesson()
    for place in ({}, {"task": "  "}, {"task": "Mate", "activity_kind": "sortie"}, {"hardware_type_id": 0}):
        with refused(BadInput):
            place_lesson(lesson_id=lesson.pk, actor=board_member(), **place)
    place_lesson(lesson_id=lesson.pk, actor=board_member(), task=" Mate   the umbilical ")
    assert sorted(map(str, lesson.places.all())) == ["Umbilical (UMB-200)", "task “Mate the umbilical”"]
    issue(lesson)
    first, second = lesson.places.order_by("pk")
    unplace_lesson(lesson_id=lesson.pk, actor=board_member(), place_id=first.pk)
    with refused(Refused):
        unplace_lesson(lesson_id=lesson.pk, actor=board_member(), place_id=second.pk)


def test_it_is_not_issued_without_a_place():
    lesson = write_lesson(actor=board_member(), **TEXTS, activity_id=make_over().pk)
    with refused(Refused) as caught:
        issue(lesson)
    assert caught.value.code == "nowhere"


def test_issuing_is_signed():
    lesson = make_issued()
    assert [row.signer for row in SignOff.objects.of(lesson)] == [safety_engineer()]
    assert lesson.reread().issued_by == safety_engineer()


def test_a_place_decides_once_until_the_decision_is_withdrawn():
    lesson, activity = make_issued(), make_activity()
    use = decide(lesson, activity_id=activity.pk)
    with refused(Refused) as caught:
        decide(lesson, "declined", activity_id=activity.pk)
    assert caught.value.code == "decided"
    withdraw_lesson_use(use_id=use.pk, actor=board_member(), reason="Other.")
    assert decide(lesson, "declined", activity_id=activity.pk).decision == "declined"


def test_a_decision_names_one_place_where_something_can_change():
    lesson = make_issued()
    over, draft = make_over(), make_draft()
    given = {"decision": "accepted", "reason": "It fits."}
    for place, code in (({}, ""), ({"activity_id": over.pk}, "over"), ({"anomaly_id": draft.pk}, "not_reported")):
        with refused(BadInput) as caught:
            decide_lesson(lesson_id=lesson.pk, actor=board_member(), **given, **place)
        assert not code or caught.value.code == code
    with refused(BadInput) as caught:
        decide_lesson(lesson_id=lesson.pk, actor=board_member(), decision="accepted", reason=" ", activity_id=1)
    assert caught.value.fields


def test_only_an_accepted_one_is_tied_and_to_one_change():
    declined = decide(None, "declined")
    revision = make_drafted()
    with refused(Refused):
        tie_lesson_use(use_id=declined.pk, actor=board_member(), changed_revision_id=revision.pk)
    accepted = decide()
    with refused(BadInput):
        tie_lesson_use(use_id=accepted.pk, actor=board_member())
    tied = tie_lesson_use(use_id=accepted.pk, actor=board_member(), changed_revision_id=revision.pk)
    assert tied.changed == revision
    other = tie(tied)
    assert (other.changed_revision, other.changed) == (None, other.changed_requirement)


def test_it_is_applied_once_something_was_changed_and_no_sooner():
    lesson = make_issued()
    assert list(Lesson.objects.never_applied()) == [lesson]
    use = decide(lesson)
    assert list(Lesson.objects.never_applied()) == [lesson]
    tie(use)
    assert not Lesson.objects.never_applied().exists()
    withdraw_lesson_use(use_id=use.pk, actor=board_member(), reason="Other.")
    assert list(Lesson.objects.never_applied()) == [lesson]
    assert not LessonUse.objects.applied().exists()


# --- Offers: where it applies, and where words are alike --------------------------------------------------------------


def reasons(place):
    return {row.lesson.number: row.reasons for row in read_offers(place).offered}


def test_it_is_offered_for_an_anomaly_of_its_hardware_and_says_why():
    lesson = make_issued()
    anomaly = make_open(title="Zipper stuck", hardware_ids=[make_item("B9").pk])
    assert reasons(anomaly) == {lesson.number: ("It applies to Umbilical (UMB-200).",)}
    assert reasons(make_open(title="Zipper stuck")) == {}


def test_it_is_offered_for_words_alike_and_names_them():
    lesson = make_issued()
    (found,) = read_offers(make_open(title="Coolant wept again; the collar hadn't clicked")).offered
    assert found.lesson == lesson
    assert found.reasons[0].startswith("Words in common: ")
    assert "collar" in found.reasons[0]
    assert ALIKE <= found.likeness <= 1


def test_it_is_offered_for_activities_of_its_kind_its_task_and_its_procedure():
    lesson, procedure = make_issued(), make_procedure(title="Zip the bag")
    activity = make_activity(kind="docking", title="Dock", tasks=["Close  the hatch"])
    assert reasons(activity) == {}
    for place in ({"activity_kind": "docking"}, {"task": "close the hatch"}, {"procedure_id": procedure.pk}):
        place_lesson(lesson_id=lesson.pk, actor=board_member(), **place)
    assert reasons(activity)[lesson.number] == (
        "It applies to every docking.",
        "It applies to the task “close the hatch”.",
    )
    assert reasons(procedure) == {lesson.number: (f"It applies to {procedure}.",)}


def test_a_draft_of_a_procedure_counts_with_its_steps():
    lesson = make_issued()
    draft = make_drafted(None, "Push the collar home until it clicks, then turn the ring.")
    assert lesson.number in reasons(draft.procedure)


def test_what_is_decided_is_not_offered_again_and_stands_there():
    lesson = make_issued()
    place_lesson(lesson_id=lesson.pk, actor=board_member(), activity_kind="docking")
    activity = make_activity(kind="docking")
    assert reasons(activity)
    use = decide(lesson, "declined", activity_id=activity.pk)
    offers = read_offers(activity)
    assert (offers.offered, offers.decided) == ((), (use,))


def test_drafts_retired_ones_and_places_taken_off_are_not_offered():
    lesson = make_lesson()
    anomaly = make_open(title="Zipper", hardware_ids=[make_item("B9").pk])
    assert reasons(anomaly) == {}
    issue(lesson)
    place_lesson(lesson_id=lesson.pk, actor=board_member(), activity_kind="docking")
    place = lesson.places.get(hardware_type=make_type())
    unplace_lesson(lesson_id=lesson.pk, actor=board_member(), place_id=place.pk)
    assert reasons(anomaly) == {}


def test_nothing_is_offered_where_nothing_can_change():
    make_issued()
    over = make_over()
    assert read_offers(over).offered == ()


def test_offers_cost_the_same_however_many_lessons_there_are(django_assert_max_num_queries):
    anomaly = make_open(title="Coolant wept", hardware_ids=[make_item("B9").pk])
    for _ in range(4):
        make_issued()
    with django_assert_max_num_queries(5):
        assert len(read_offers(anomaly).offered) == 4


def test_who_leads_an_activity_that_it_bears_on_is_concerned_and_nobody_else():
    lesson = make_lesson()
    place_lesson(lesson_id=lesson.pk, actor=board_member(), task="Close the hatch")
    issue(lesson)
    other = make_person("activity lead", "other-lead")
    make_activity(kind="docking", title="Dock", tasks=["Undock"], lead_id=other.pk)
    assert find_concerned(lesson) == set()
    make_activity(kind="docking", title="Dock", tasks=["Close the hatch"])
    assert find_concerned(lesson) == {activity_lead().pk}


def test_a_released_revision_can_be_tied():
    use = decide()
    released = make_released(make_procedure(title="Zip the bag"))
    tied = tie_lesson_use(use_id=use.pk, actor=activity_lead(), changed_revision_id=released.pk)
    assert tied.changed == released
