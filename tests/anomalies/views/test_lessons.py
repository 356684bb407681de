"""Pages of lessons, and where they're offered: dossier, activity, procedure."""

from __future__ import annotations

import pytest

from anomalies.models import Lesson, LessonUse
from tests.anomalies.lessons import author, decide, make_issued, make_lesson, tie
from tests.anomalies.people import activity_lead, board_member, make_activity, make_item, make_open, recorder, viewer
from tests.anomalies.procedures import make_drafted
from tests.anomalies.readiness import make_transfer
from tests.anomalies.services.test_every_move import make_closed

pytestmark = pytest.mark.django_db


def read(client, path, person=None):
    client.force_login(person or viewer())
    answer = client.get(path)
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_list_shows_what_nobody_has_applied(client):
    applied, waiting = make_issued(title="Deburr"), make_issued(title="Cool down")
    tie(decide(applied))
    shown = read(client, "/lessons/?show=unapplied")
    assert "Cool down" in shown
    assert "Deburr" not in shown
    assert "applied nowhere yet" in read(client, waiting.get_absolute_url())
    assert "applied nowhere yet" not in read(client, applied.get_absolute_url())


def test_words_find_a_lesson_and_the_export_holds_what_changed(client):
    lesson = make_issued(why="Zebra loose.")
    make_issued()
    use = tie(decide(lesson))
    assert lesson.title in read(client, "/lessons/?words=zebra")
    client.force_login(viewer())
    rows = b"".join(client.get("/lessons/export.csv?words=zebra").streaming_content).decode().splitlines()
    assert len(rows) == 2
    assert str(use.changed) in rows[1]


def test_an_empty_list_says_what_to_do_next(client):
    assert "Draw a lesson from a closed anomaly" in read(client, "/lessons/", board_member())
    assert "Every issued lesson" in read(client, "/lessons/?show=unapplied")


def test_a_dossier_an_activity_and_a_draft_offer_it_with_the_reason(client):
    lesson = make_issued()
    item = make_item("B9")
    anomaly = make_open(title="Zipper stuck", hardware_ids=[item.pk])
    activity = make_activity(title="Coolant line: collar and ring", tasks=["Push the collar home, turn the ring"])
    draft = make_drafted(None, "Push the collar home until it clicks, then turn the ring.")
    for place in (anomaly, activity, draft):
        shown = read(client, place.get_absolute_url(), board_member())
        assert lesson.number in shown
        assert "It applies to Umbilical" in shown or "Words in common" in shown
        assert f"/records/lesson/{lesson.pk}/accept/?place=" in shown


def test_whoever_reports_is_told_that_lessons_bear_on_it(client):
    make_issued()
    client.force_login(recorder())
    sent = {"title": "Coolant wept; the collar had not clicked", "occurred_at": "2024-03-05 09:30", "then": "report"}
    answer = client.post("/log/new/", sent, follow=True)
    assert "An earlier lesson may bear on it" in answer.content.decode()


def test_it_is_accepted_from_where_it_is_offered(client):
    lesson, activity = make_issued(), make_transfer()
    client.force_login(activity_lead())
    path = f"/records/lesson/{lesson.pk}/accept/"
    form = client.get(f"{path}?place=activity-{activity.pk}").content.decode()
    assert f'value="activity-{activity.pk}" selected' in form
    answer = client.post(path, {"place": f"activity-{activity.pk}", "reason": "It fits."})
    assert answer.status_code == 302
    assert LessonUse.objects.get().place == activity
    assert "nothing changed yet" in client.get(activity.get_absolute_url()).content.decode()


def test_what_was_typed_is_kept_when_it_is_refused(client):
    lesson = make_issued()
    client.force_login(board_member())
    answer = client.post(f"/records/lesson/{lesson.pk}/decline/", {"place": "", "reason": "Other hardware."})
    assert answer.status_code == 422
    assert "Other hardware." in answer.content.decode()


def test_a_place_that_is_none_is_refused_with_a_sentence(client):
    lesson = make_issued()
    client.force_login(board_member())
    sent = {"place": "activity-99999", "reason": "It fits."}
    assert client.post(f"/records/lesson/{lesson.pk}/accept/", sent).status_code == 422


def test_a_draft_begins_with_what_the_closed_anomaly_says(client):
    closed = make_closed()
    client.force_login(author())
    form = client.get(f"/new/lesson/?origin=anomaly-{closed.pk}").content.decode()
    assert closed.title in form
    assert "Unexplained: All tried." in form
    sent = {"title": "Pull", "what_happened": "It wept.", "why": "Cold.", "what_to_do": "Warm it."}
    client.post("/new/lesson/", sent | {"origin": f"anomaly-{closed.pk}"})
    assert Lesson.objects.get().anomaly == closed


def test_its_author_is_not_offered_to_issue_it(client):
    lesson = make_lesson()
    assert f"/records/lesson/{lesson.pk}/issue/" not in read(client, lesson.get_absolute_url(), author())
    assert f"/records/lesson/{lesson.pk}/issue/" in read(client, lesson.get_absolute_url(), board_member())
