"""Notices: who is told what, on the page and by mail, once."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core import mail

from anomalies.clock import now
from anomalies.models import LedgerEntry, MailChoice, PersonalNotice
from anomalies.notice_rules import RULES
from anomalies.services import notices
from anomalies.services.activities import add_crew
from anomalies.services.anomalies import submit_anomaly
from anomalies.services.board import seat_member
from anomalies.services.notices import choose_mail, mail_notices, mark_seen, send_digests, tell_people
from anomalies.services.procedures import use_procedure
from anomalies.services.screening import assign_anomaly
from anomalies.services.ties import constrain
from anomalies.tasks import digest, tell
from config.kit.errors import BadInput
from tests.anomalies.actions import make_committed, make_done, owner, verifier
from tests.anomalies.investigation import make_finding, second_member
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_draft,
    make_open,
    make_person,
    make_reported,
    recorder,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import make_procedure, make_released, make_sortie, make_submitted, writer

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _everybody():
    """People with addresses, before anything happens."""
    for person in (safety_engineer(), board_member(), recorder(), activity_lead(), owner(), verifier(), viewer()):
        person.email = f"{person.username}@depot.example"
        person.save()


def told(person):
    tell_people()
    return [notice.text for notice in PersonalNotice.objects.visible_to(person)]


def test_a_report_tells_who_may_screen_and_nobody_else():
    anomaly = make_reported()
    assert told(safety_engineer()) == [f"{anomaly} awaits screening."]
    for person in (recorder(), board_member(), viewer()):
        assert told(person) == []


def test_a_draft_tells_nobody_until_it_is_submitted():
    draft = make_draft()
    assert told(safety_engineer()) == []
    submit_anomaly(anomaly_id=draft.pk, actor=recorder())
    assert told(safety_engineer()) == [f"{draft.reread()} awaits screening."]


def test_nobody_is_told_of_their_own_doing():
    anomaly = make_open()
    tell_people()
    PersonalNotice.objects.all().delete()
    assign_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), lead_id=safety_engineer().pk)
    assert told(safety_engineer()) == []


def test_the_lead_the_board_and_the_owner_are_told():
    anomaly = make_open()
    assert told(board_member()) == [f"You lead the work on {anomaly}."]
    seat_member(anomaly_id=anomaly.pk, actor=safety_engineer(), person_id=second_member().pk)
    finding = make_finding(anomaly)
    expected = [f"{finding.label} of {anomaly} awaits your position.", f"You sit on the board of {anomaly}."]
    assert told(second_member()) == expected
    action = make_committed()
    assert told(owner())[0].startswith(f"You own {action}, due on ")


def test_verifiers_are_told_what_was_done():
    action = make_done()
    assert told(verifier()) == [f"{action} awaits verification."]
    assert f"{action} awaits verification." not in told(owner())


def test_a_constraint_tells_the_lead_of_the_activity():
    anomaly, activity = make_open(), make_activity()
    constrain(
        anomaly_id=anomaly.pk, actor=safety_engineer(), statement="Not before the check.", activity_id=activity.pk
    )
    assert told(activity_lead())[0] == f"{anomaly.number} constrains Sortie 7: Not before the check."


def test_revisions_tell_approvers_and_then_readers():
    revision = make_submitted()
    assert told(safety_engineer()) == [f"{revision.procedure}, revision 1 awaits approval."]
    assert told(writer()) == []
    sortie, procedure = make_sortie(400), make_procedure(title="Vent")
    use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=activity_lead())
    add_crew(activity_id=sortie.pk, person_id=viewer().pk, role="outside", actor=activity_lead())
    make_released(procedure, sortie=make_sortie(399))
    assert told(viewer()) == [f"{procedure}, revision 1 is for you to read before your next activity."]


def test_a_proposed_value_tells_those_who_may_decide():
    from anomalies.permissions import SAFETY_ENGINEER
    from tests.anomalies.learning import make_proposal
    from tests.anomalies.people import make_person

    other = make_person(SAFETY_ENGINEER, "other-engineer")
    make_proposal()
    assert told(other) == ["A new value of rate-seal awaits a decision."]
    assert told(safety_engineer()) == []  # who proposed it knows
    assert told(viewer()) == []


def test_every_rule_names_an_action_that_services_write():
    from pathlib import Path

    sources = "".join(path.read_text() for path in Path(notices.__file__).parent.glob("*.py"))
    dynamic = {"action.commit", "action.recommit", "action.reopen", "action.send_back", "lesson_use.accept"}
    missing = {action for action in RULES if f'"{action}"' not in sources} - dynamic
    assert missing == set()


def test_telling_twice_tells_once_and_old_entries_are_passed_over(monkeypatch):
    make_reported()
    assert tell_people() == 1
    assert tell_people() == 0
    make_reported()
    monkeypatch.setattr(notices, "TOLD_FOR", timedelta(seconds=-1))
    assert tell_people() == 0
    monkeypatch.undo()
    assert tell_people() == 0  # passed over for good


def test_many_entries_are_told_round_by_round(monkeypatch):
    monkeypatch.setattr(notices, "AT_A_TIME", 2)
    for _ in range(3):
        make_reported()
    rounds = [tell_people() for _ in range(LedgerEntry.objects.count())]
    assert sum(rounds) == 3
    assert max(rounds) <= 2


def test_what_was_shown_is_seen_and_what_came_since_is_not():
    make_reported()
    tell_people()
    shown = PersonalNotice.objects.visible_to(safety_engineer()).first().sequence
    make_reported()
    tell_people()
    assert mark_seen(actor=safety_engineer(), up_to=shown) == 1
    assert PersonalNotice.objects.visible_to(safety_engineer()).unseen().count() == 1
    assert mark_seen(actor=viewer(), up_to=10**6) == 0


def test_one_mail_holds_all_that_is_new_and_goes_once():
    first = make_reported()
    make_reported(title="Lamp flickers")
    tell()
    (sent,) = mail.outbox
    assert sent.to == ["safety-engineer@depot.example"]
    assert sent.subject == f"Siftwood: {first} awaits screening. (and 1 more)"
    assert "Lamp flickers awaits screening." in sent.body
    assert f"/records/anomaly/{first.pk}/" in sent.body
    tell()
    assert len(mail.outbox) == 1


@pytest.mark.parametrize("choice", ["daily", "never"])
def test_who_wants_no_mail_at_once_gets_none(choice):
    choose_mail(actor=safety_engineer(), choice=choice)
    make_reported()
    tell()
    assert mail.outbox == []


def test_a_mail_that_failed_is_sent_with_the_next_round(monkeypatch):
    def fail(*args, **kwargs):
        raise ConnectionRefusedError("no server")

    make_reported()
    tell_people()
    monkeypatch.setattr(notices, "send_mail", fail)
    assert mail_notices() == 0
    monkeypatch.undo()
    assert mail_notices() == 1


def test_the_digest_says_what_is_to_be_done_once_a_day():
    anomaly = make_reported()
    day = date(2031, 4, 5)
    assert send_digests(day) == 1
    (sent,) = mail.outbox
    assert sent.subject == "Siftwood: 1 thing for you on 2031-04-05"
    assert "Reports to screen" in sent.body
    assert str(anomaly) in sent.body
    assert send_digests(day) == 0
    assert send_digests(day + timedelta(days=1)) == 1
    choose_mail(actor=safety_engineer(), choice="never")
    assert send_digests(day + timedelta(days=2)) == 0


def test_a_digest_that_failed_is_sent_again(monkeypatch):
    def fail(*args, **kwargs):
        raise ConnectionRefusedError("no server")

    make_reported()
    monkeypatch.setattr(notices, "send_mail", fail)
    assert send_digests(date(2031, 4, 5)) == 0
    monkeypatch.undo()
    digest()
    assert len(mail.outbox) == 1
    assert MailChoice.objects.get(person=safety_engineer()).digest_on == now().date()


def test_closed_accounts_get_nothing():
    person = make_person("safety engineer", "gone")
    person.email, person.is_active = "gone@depot.example", False
    person.save()
    make_reported()
    tell()
    send_digests()
    assert not PersonalNotice.objects.filter(person=person).exists()
    assert all("gone@depot.example" not in sent.to for sent in mail.outbox)


def test_only_the_three_choices_are_kept():
    with pytest.raises(BadInput):
        choose_mail(actor=viewer(), choice="hourly")
    assert not MailChoice.objects.exists()


def test_a_recurrence_tells_the_owner_of_the_action_and_the_lead():
    from anomalies.clock import pretending
    from anomalies.services.ties import link_anomalies
    from tests.anomalies.actions import make_verified

    action = make_verified()
    anomaly = action.anomaly
    assign_anomaly(anomaly_id=anomaly.pk, actor=safety_engineer(), lead_id=safety_engineer().pk)
    with pretending(action.verified_at + timedelta(days=3)):
        again = make_reported(occurred_at=action.verified_at + timedelta(days=1))
        link_anomalies(source_id=again.pk, target_id=anomaly.pk, kind="recurrence", actor=board_member())
        for person in (owner(), safety_engineer()):
            assert f"{action} is to be done again." in told(person)
        assert f"{action} is to be done again." not in told(viewer())
