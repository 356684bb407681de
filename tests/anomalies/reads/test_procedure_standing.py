"""What is in force now, what comes next, who hasn't read it and who signed it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from anomalies.clock import now
from anomalies.models import Procedure, SignOff
from anomalies.reads.procedure_standing import read_standings
from anomalies.services.activities import add_crew
from anomalies.services.procedures import use_procedure
from anomalies.services.revision_moves import acknowledge_revision, withdraw_revision
from tests.anomalies.people import activity_lead, make_activity, make_person, viewer
from tests.anomalies.procedures import make_approved, make_procedure, make_released, make_sortie
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def make_later(title="Sortie to come", days=5):
    start = now() + timedelta(days=days)
    return make_activity(title=title, planned_start=start, planned_end=start + timedelta(hours=7))


def staff(procedure, activity, *names):
    """The activity uses the procedure, and these people are its crew."""
    use_procedure(activity_id=activity.pk, procedure_id=procedure.pk, actor=activity_lead())
    for name in names:
        person = make_person("recorder", name)
        add_crew(activity_id=activity.pk, person_id=person.pk, role="outside", actor=activity_lead())


def stand(procedure):
    return read_standings([procedure])[procedure.pk]


def test_the_newest_that_is_effective_is_in_force_and_a_later_one_is_next():
    first = make_released(sortie=make_sortie(1))
    second = make_released(first.procedure, sortie=make_later())
    third = make_approved(first.procedure)
    standing = stand(first.procedure)
    assert standing.in_force.revision == first
    assert [each.revision for each in standing.coming] == [second, third]


def test_nothing_is_in_force_once_the_newest_is_withdrawn():
    first = make_released(sortie=make_sortie(1))
    second = make_released(first.procedure, sortie=make_sortie(2))
    withdraw_revision(revision_id=second.pk, actor=activity_lead(), reason="It misleads.")
    standing = stand(first.procedure)
    assert (standing.in_force, standing.coming) == (None, ())


def test_a_procedure_without_a_revision_stands_nowhere():
    standing = stand(make_procedure())
    assert (standing.in_force, standing.coming) == (None, ())


def test_who_must_read_it_and_has_not_is_named_once():
    revision = make_released(sortie=make_sortie(1))
    for activity in (make_later(), make_later("Another", 6)):
        staff(revision.procedure, activity, "ana", "ben")
    acknowledge_revision(revision_id=revision.pk, actor=make_person("recorder", "ana"))
    in_force = stand(revision.procedure).in_force
    assert [each.person.username for each in in_force.missing] == ["ben"]
    assert in_force.readers == 2


def test_author_approver_and_releaser_are_there_with_time_and_hash():
    revision = make_released(sortie=make_sortie(1))
    signed = stand(revision.procedure).in_force.signed
    assert [each.part for each in signed] == ["Author", "Approver", "Releaser"]
    approved, released = SignOff.objects.of(revision)
    assert [(each.at, each.content_hash) for each in signed[1:]] == [
        (approved.signed_at, approved.signed_hash),
        (released.signed_at, released.signed_hash),
    ]
    assert signed[0].content_hash == approved.signed_hash  # what was submitted is what was approved


def test_pages_show_all_of_it():
    revision = make_released(sortie=make_sortie(1))
    make_released(revision.procedure, sortie=make_later())
    staff(revision.procedure, make_later("Soon", 2), "ana")
    for address in ("/procedures/", revision.procedure.get_absolute_url()):
        page = log_in(viewer()).get(address).content.decode()
        for text in ("In force now", "Revision 1", "Revision 2", "1 of 1 not read"):
            assert text in page
    assert "Approver" in page  # the list leaves out who signed, which the page of the procedure tells
    assert "Releaser" in page


def count_queries(client, address):
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)


def test_the_list_asks_as_often_for_2_procedures_as_for_20():
    client = log_in(viewer())
    activity = make_later("Soon", 2)
    for name in ("ana", "ben"):
        person = make_person("recorder", name)
        add_crew(activity_id=activity.pk, person_id=person.pk, role="outside", actor=activity_lead())
    counts = []
    for more in (2, 18):
        for _ in range(more):
            procedure = make_released(sortie=make_sortie(1)).procedure
            use_procedure(activity_id=activity.pk, procedure_id=procedure.pk, actor=activity_lead())
        client.get("/procedures/")
        counts.append(count_queries(client, "/procedures/"))
    assert Procedure.objects.count() == 20
    assert counts[0] == counts[1]


def test_a_page_asks_as_often_for_2_readers_as_for_20():
    client = log_in(viewer())
    revision, activity = make_released(sortie=make_sortie(1)), make_later("Soon", 2)
    address = revision.procedure.get_absolute_url()
    staff(revision.procedure, activity, "ana", "ben")
    client.get(address)
    two = count_queries(client, address)
    for number in range(18):
        person = make_person("recorder", f"reader{number}")
        add_crew(activity_id=activity.pk, person_id=person.pk, role="outside", actor=activity_lead())
    assert stand(revision.procedure).in_force.readers == 20
    assert count_queries(client, address) == two
