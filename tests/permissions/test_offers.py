"""What pages offer and what the service allows agree: no link or button leads to a refusal, and none is missing."""

from __future__ import annotations

import pytest

from config.kit import permissions
from tests.permissions.atlas import Atlas
from tests.permissions.doors import PAGE_DOORS
from tests.permissions.harvest import read_offers
from tests.permissions.people import NO_ROLE, PARTS, ROLES

pytestmark = pytest.mark.django_db

OTHER_STATES = """
/log/{anomaly_reported.number}/
/log/{anomaly_dismissed.number}/
/log/{anomaly_accepted.number}/
/log/{anomaly_closed.number}/
/log/{finding_adopted.anomaly.number}/findings/F1/
/log/{finding_withdrawn.anomaly.number}/findings/F1/
/log/{cause_credible.anomaly.number}/causes/C1/
/log/{cause_ruled_out.anomaly.number}/causes/C1/
/log/{cause_confirmed.anomaly.number}/causes/C1/
/log/{investigation_concluded.anomaly.number}/investigation/
/log/{inspection_possible.anomaly.number}/investigation/
/log/{inspection_carried_out.anomaly.number}/investigation/
/log/{inspection_dropped.anomaly.number}/investigation/
/log/{bearing_standing.anomaly.number}/investigation/
/log/{bearing_withdrawn.anomaly.number}/investigation/
/log/{investigation_under_way.anomaly.number}/benefit/
/log/{anomaly_open.number}/benefit/
/actions/{effect_standing.action.number}/
/actions/{effect_withdrawn.action.number}/
/actions/{action_tie_standing.action.number}/
/actions/{action_proposed.number}/
/actions/{action_committed.number}/
/actions/{action_verified.number}/
/actions/{action_effective.number}/
/actions/{action_dropped.number}/
/activities/{activity_under_way.pk}/
/activities/{activity_completed.pk}/
/hardware/{hardware_installed.pk}/
/hardware/{hardware_quarantined.pk}/
/hardware/{hardware_retired.pk}/
/{drafted_at}/
/{submitted_at}/
/{approved_at}/
/{superseded_at}/
/{withdrawn_at}/
/readiness/{activity_planned.pk}/
/readiness/{readiness_review_signed.activity_id}/
/readiness/{readiness_review_under_way.activity_id}/
/readiness/{poll_answer.review.activity_id}/
/readiness/{waiver_standing.activity_id}/
/readiness/{fulfilment_standing.activity_id}/
/lessons/{lesson_drafted.number}/
/lessons/{lesson_retired.number}/
/lessons/{lesson_use_standing.lesson.number}/
/lessons/{lesson_use_withdrawn.lesson.number}/
/meetings/{board_meeting_under_way.pk}/
/meetings/{board_meeting_held.pk}/
/meetings/{board_meeting_cancelled.pk}/
/meetings/{meeting_decision_standing.meeting_id}/
/runs/{run_queued.pk}/
/runs/{run_cancelled.pk}/
"""
"""Pages of records in states other than those of the tables."""
ADDRESSES = [door.address for door in PAGE_DOORS if door.method == "GET" and door.is_page] + OTHER_STATES.split()
PARTS_IN = {
    "/log/": ("who made it", "who leads it"),
    "/actions/": ("who owns it",),
    "/procedures/": ("who wrote it",),
    "/readiness/": ("who made it",),
    "/bench/": ("whose draft it is",),
}
"""Where else than on pages that are everybody's somebody's part in a record matters."""


def find_cast(path):
    """Return who looks at the page."""
    parts = next((parts for start, parts in PARTS_IN.items() if path.startswith(start)), ())
    return (*ROLES, NO_ROLE, *(parts if path.count("/") > 2 else PARTS))


def read(answer, path):
    """All that the page offers; nothing if there is none."""
    is_page = answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html")
    return read_offers(answer.text, path) if is_page else set()


def read_as_each(world, path):
    """What the page offers to each who may have it."""
    offered = {person: read(world.look(person, path), path) for person in find_cast(path)}
    return {person: found for person, found in offered.items() if found}


def find_dead(atlas, offered):
    """Who is offered what they may not do."""
    return {
        (person, *there) for person in offered for there in offered[person] if person not in atlas.find_goers(*there)
    }


def find_missing(atlas, offered, allowed):
    """Who isn't offered what the states of the records allow, and they may do."""
    return {
        (person, *there)
        for person in offered
        for there in allowed - offered[person]
        if person in atlas.find_goers(*there)
    }


def let_all_do_all(monkeypatch):
    """Open every rule to everybody, so that a page shows all that the states of its records allow."""
    rules = {name: (lambda actor, record: True, False) for name in permissions.rule_names()}
    monkeypatch.setattr(permissions, "_rules", rules)


@pytest.fixture(scope="module")
def atlas(world):
    return Atlas(world)


@pytest.mark.parametrize("address", ADDRESSES)
def test_a_page_offers_what_the_person_may_do_and_nothing_else(world, atlas, address, monkeypatch):
    path = world.fill(address)
    offered = read_as_each(world, path)
    assert offered
    let_all_do_all(monkeypatch)
    allowed = read(world.look_anew(NO_ROLE, path), path)
    assert find_dead(atlas, offered) == set()
    assert find_missing(atlas, offered, allowed) == set()


def test_every_link_leads_somewhere(world):
    """A link that is offered shows a page, whatever the state of its record; one person follows it for all."""
    links = {}
    for address in ADDRESSES:
        path = world.fill(address)
        for person, offered in read_as_each(world, path).items():
            links |= {there: person for method, there in offered if method == "GET"}
    answers = {there: world.look(person, there).status_code for there, person in links.items()}
    assert {there: status for there, status in answers.items() if status not in (200, 302)} == {}


def test_an_offer_to_somebody_who_may_not_is_found(world, atlas, monkeypatch):
    path = world.fill("/log/{anomaly_open.number}/")
    monkeypatch.setattr("anomalies.web.offers.allows", lambda *asked: True)
    dead = find_dead(atlas, {"viewer": read(world.look_anew("viewer", path), path)})
    assert ("viewer", "GET", world.fill("/records/anomaly/{anomaly_open.pk}/assign/")) in dead


def test_an_offer_that_is_not_made_is_found(world, atlas, monkeypatch):
    path = world.fill("/log/{anomaly_open.number}/")
    allowed = read(world.look("safety engineer", path), path)
    monkeypatch.setattr("anomalies.web.offers.allows", lambda *asked: False)
    missing = find_missing(atlas, {"safety engineer": read(world.look_anew("safety engineer", path), path)}, allowed)
    assert ("safety engineer", "GET", world.fill("/records/anomaly/{anomaly_open.pk}/assign/")) in missing
