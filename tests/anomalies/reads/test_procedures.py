"""Who must read what before which activity."""

from __future__ import annotations

import pytest

from anomalies.models import Acknowledgement
from anomalies.reads.procedures import find_missing_readers, find_readers, find_unread
from anomalies.services.activities import add_crew, complete_activity, remove_crew, start_activity
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import drop_procedure, use_procedure
from anomalies.services.revision_moves import acknowledge_revision, withdraw_revision
from tests.anomalies.people import activity_lead, make_person
from tests.anomalies.procedures import make_procedure, make_released, make_sortie

pytestmark = pytest.mark.django_db


def crew_member(name):
    return make_person("recorder", name)


def people(crew):
    return [(assignment.person.username, assignment.activity.title) for assignment in crew]


@pytest.fixture
def scene():
    """Two sorties with Ana and Ben outside and Cleo inside, one procedure, in force from the first on."""
    procedure, sorties = make_procedure(), [make_sortie(1), make_sortie(2)]
    for sortie in sorties:
        for name, role in (("ana", "outside"), ("ben", "outside"), ("cleo", "inside")):
            add_crew(activity_id=sortie.pk, person_id=crew_member(name).pk, role=role, actor=activity_lead())
    return procedure, sorties, make_released(procedure, sortie=sorties[0])


def use(procedure, sortie, role=""):
    use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=activity_lead(), role=role)


def test_nobody_must_read_what_no_activity_uses(scene):
    _, _, revision = scene
    assert people(find_readers(revision)) == []
    assert not find_unread(crew_member("ana")).exists()


def test_the_whole_crew_of_the_activity_must_read_it(scene):
    procedure, sorties, revision = scene
    use(procedure, sorties[0])
    assert people(find_readers(revision)) == [("ana", "Sortie 1"), ("ben", "Sortie 1"), ("cleo", "Sortie 1")]
    assert list(find_unread(crew_member("cleo"))) == [revision]


def test_only_those_in_the_role_must_read_it(scene):
    procedure, sorties, revision = scene
    use(procedure, sorties[0], "inside")
    assert people(find_readers(revision)) == [("cleo", "Sortie 1")]
    assert not find_unread(crew_member("ana")).exists()
    assert list(find_unread(crew_member("cleo"))) == [revision]


def test_whoever_has_read_it_is_not_missing(scene):
    procedure, sorties, revision = scene
    use(procedure, sorties[0])
    use(procedure, sorties[1])
    ana = crew_member("ana")
    first = acknowledge_revision(revision_id=revision.pk, actor=ana)
    assert acknowledge_revision(revision_id=revision.pk, actor=ana) == first
    assert Acknowledgement.objects.count() == 1
    missing = [("ben", "Sortie 1"), ("cleo", "Sortie 1"), ("ben", "Sortie 2"), ("cleo", "Sortie 2")]
    assert people(find_missing_readers(revision)) == missing
    assert len(find_readers(revision)) == 6
    assert not find_unread(ana).exists()
    assert prove_ledger().is_whole


def test_each_revision_is_read_by_the_crews_for_which_it_is_in_force(scene):
    procedure, sorties, first = scene
    for sortie in sorties:
        use(procedure, sortie)
    ana = crew_member("ana")
    acknowledge_revision(revision_id=first.pk, actor=ana)
    second = make_released(procedure, sortie=sorties[1])
    assert {title for _, title in people(find_readers(first))} == {"Sortie 1"}
    assert {title for _, title in people(find_readers(second))} == {"Sortie 2"}
    assert list(find_unread(ana)) == [second]
    assert set(find_unread(crew_member("ben"))) == {first, second}
    withdraw_revision(revision_id=second.pk, actor=activity_lead(), reason="Wrong.")
    assert people(find_readers(second)) == []
    assert not find_unread(ana).exists()


def test_only_activities_to_come_and_crew_still_on_them_count(scene):
    procedure, sorties, revision = scene
    for sortie in sorties:
        use(procedure, sortie)
    lead = activity_lead()
    start_activity(activity_id=sorties[0].pk, actor=lead)
    assert len(find_readers(revision)) == 6  # under way: still to be read
    complete_activity(activity_id=sorties[0].pk, actor=lead)
    assert {title for _, title in people(find_readers(revision))} == {"Sortie 2"}
    remove_crew(activity_id=sorties[1].pk, person_id=crew_member("ben").pk, role="outside", actor=lead)
    assert people(find_readers(revision)) == [("ana", "Sortie 2"), ("cleo", "Sortie 2")]
    assert not find_unread(crew_member("ben")).exists()
    drop_procedure(activity_id=sorties[1].pk, procedure_id=procedure.pk, actor=lead)
    assert people(find_readers(revision)) == []


def test_asking_takes_one_query(scene, django_assert_num_queries):
    procedure, sorties, revision = scene
    use(procedure, sorties[0])
    with django_assert_num_queries(1):
        people(find_missing_readers(revision))
    ana = crew_member("ana")
    with django_assert_num_queries(1):
        assert [unread.procedure.number for unread in find_unread(ana)] == ["P-001"]
