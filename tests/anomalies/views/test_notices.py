"""The page of notices."""

from __future__ import annotations

import pytest

from anomalies.models import MailChoice, PersonalNotice
from anomalies.services.notices import tell_people
from tests.anomalies.people import make_reported, safety_engineer, viewer
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def client():
    safety_engineer()
    make_reported()
    tell_people()
    return log_in(safety_engineer())


def test_notices_are_counted_on_every_page_and_read_on_theirs(client):
    assert 'is-act">1<span class="visually-hidden"> new' in client.get("/trees/").content.decode()
    page = client.get("/notices/").content.decode()
    assert "awaits screening." in page
    assert '<span class="tag is-act">new</span>' in page
    up_to = PersonalNotice.objects.get().sequence
    assert client.post("/notices/seen/", {"up_to": up_to}).headers["Location"] == "/notices/"
    page = client.get("/notices/").content.decode()
    assert "Mark all" not in page
    assert '"visually-hidden"> new' not in page


@pytest.mark.parametrize("up_to", ["", "x", "9" * 30, "0"])
def test_nonsense_marks_nothing(client, up_to):
    assert client.post("/notices/seen/", {"up_to": up_to}).status_code == 302
    assert PersonalNotice.objects.unseen().count() == 1


def test_others_notices_are_theirs(client):
    assert "Nothing yet" in log_in(viewer()).get("/notices/").content.decode()
    log_in(viewer()).post("/notices/seen/", {"up_to": 10**6})
    assert PersonalNotice.objects.unseen().count() == 1


def test_mail_is_chosen(client):
    assert client.post("/notices/mail/", {"choice": "daily"}).status_code == 302
    assert MailChoice.objects.get().choice == "daily"
    assert 'value="daily" checked' in client.get("/notices/").content.decode()
    assert client.post("/notices/mail/", {"choice": "hourly"}).status_code == 422
