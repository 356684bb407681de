"""From a finding to a closed anomaly through the JSON API, with the refusals on the way."""

from __future__ import annotations

import pytest

from tests.anomalies.actions import make_committed, make_done, make_verified, next_week, owner, verifier
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause, make_confirmed, make_finding, seat
from tests.anomalies.people import board_member, make_open, make_stranger, safety_engineer, viewer
from tests.anomalies.procedures import PASSWORD, prove
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db
API = "/api/v1"


def send(client, address, method="post", /, **data):
    return getattr(client, method)(f"{API}/{address}", data, content_type="application/json")


def sign_in(person):
    """A browser of somebody who has a password."""
    prove(person)
    return log_in(person)


def test_a_board_is_seated_and_released():
    engineer, here = log_in(safety_engineer()), f"anomalies/{make_open().number}/board/"
    member = board_member()
    assert send(engineer, here, person_id=member.pk).json() == [{"person_id": member.pk, "person": "board-member"}]
    assert send(engineer, here, person_id=viewer().pk).json()["code"] == "cannot_sit"
    assert send(engineer, f"{here}unseat/", person_id=member.pk, reason="Elsewhere.").json() == []
    assert send(log_in(viewer()), here, person_id=member.pk).status_code == 403
    assert log_in(make_stranger()).get(f"{API}/{here}").status_code == 404


def test_a_finding_is_proposed_reworded_stood_for_and_adopted():
    member = sign_in(board_member())
    anomaly = make_open()
    seat(anomaly)
    first, second = make_evidence(anomaly), make_evidence(anomaly)
    given = {"kind": "finding", "statement": "Cold.", "evidence_ids": [first.pk]}
    made = send(member, f"anomalies/{anomaly.number}/findings/", **given)
    assert made.status_code == 201
    here = f"findings/{made.json()['id']}/"
    assert send(member, here, "patch", version=1, statement="Cold-set.").json()["wording"] == 2
    assert send(member, f"{here}rest-on/", version=2, evidence_ids=[second.pk]).json()["evidence"] == [second.pk]
    assert send(member, f"{here}state-position/", stand="dissents", wording=3).json()["fields"].keys() == {"text"}
    version = member.get(f"{API}/{here}").json()["version"]
    adopt = {"version": version, "password": PASSWORD}
    refused = send(member, f"{here}adopt/", **adopt)
    assert (refused.status_code, refused.json()["code"]) == (409, "not_ready")
    assert refused.json()["missing"][0]["kind"] == "finding"
    stood = send(member, f"{here}state-position/", stand="concurs", wording=3).json()
    assert [row["stand"] for row in stood["positions"]] == ["concurs"]
    assert send(member, f"{here}adopt/", version=version, password="guess").json()["code"] == "wrong_password"
    assert send(member, f"{here}adopt/", **adopt).json()["state"] == "adopted"
    signatures = member.get(f"{API}/records/finding/{made.json()['id']}/signatures/").json()
    assert [row["signer"] for row in signatures] == ["board-member"]
    assert send(member, f"{here}send-back/", reason="A lead.").json()["state"] == "proposed"
    assert send(member, f"{here}withdraw/", reason="Wrong.").json()["state"] == "withdrawn"


def test_a_cause_is_stated_judged_and_reconsidered():
    member, anomaly = log_in(board_member()), make_open()
    evidence = make_evidence(anomaly)
    made = send(member, f"anomalies/{anomaly.number}/causes/", kind="root", statement="Cold.")
    assert made.status_code == 201
    here = f"causes/{made.json()['id']}/"
    judged = {"version": 1, "rationale": "Seen."}
    assert send(member, f"{here}confirm/", **judged).json()["code"] == "no_support"
    finding = make_finding(anomaly)
    assert send(member, f"{here}rest-on/", version=1, finding_ids=[finding.pk]).json()["findings"] == [finding.pk]
    assert send(member, f"{here}confirm/", **judged, evidence_ids=[evidence.pk]).status_code == 409
    confirmed = send(member, f"{here}confirm/", **judged | {"version": 2}, evidence_ids=[evidence.pk]).json()
    assert (confirmed["state"], confirmed["evidence"]) == ("confirmed", [evidence.pk])
    assert send(member, f"{here}rule-out/", version=3, rationale="No.").status_code == 409
    assert send(member, f"{here}reconsider/", reason="A lead.").json()["state"] == "open"
    assert send(member, here, "patch", version=4, statement="Cold-set.").json()["statement"] == "Cold-set."
    assert send(member, f"{here}find-credible/", version=5, rationale="May be.").json()["state"] == "credible"
    assert send(member, f"{here}rule-out/", version=6, rationale="No.").json()["state"] == "ruled_out"
    assert member.get(f"{API}/causes/?anomaly={anomaly.number}&state=ruled_out").json()["count"] == 1


def test_an_action_is_proposed_committed_done_verified():
    member, cause = log_in(board_member()), make_confirmed()
    number = cause.anomaly.number
    given = {"kind": "training", "title": "Train it", "acceptance_criteria": "Twice each."}
    made = send(member, f"anomalies/{number}/actions/", **given)
    assert made.status_code == 201
    here = f"actions/{made.json()['number']}/"
    promise = {"owner_id": owner().pk, "due_on": str(next_week())}
    assert send(member, f"{here}commit/", version=1, **promise).json()["missing"][0]["kind"] == "action"
    assert send(member, f"{here}address-causes/", version=1, cause_ids=[cause.pk]).json()["causes"] == [cause.pk]
    committed = send(member, f"{here}commit/", version=2, **promise).json()
    assert (committed["state"], committed["owner"]) == ("committed", "action-owner")
    changed = send(member, f"{here}recommit/", version=3, **promise, acceptance_criteria="Thrice.", reason="More.")
    assert changed.json()["acceptance_criteria"] == "Thrice."
    evidence = make_evidence(cause.anomaly)
    done = send(log_in(owner()), f"{here}do/", version=4, note="Done.", evidence_ids=[evidence.pk]).json()
    assert (done["state"], done["doer"], done["done_evidence"]) == ("done", "action-owner", [evidence.pk])
    signed = {"note": "Seen.", "evidence_ids": [evidence.pk], "password": PASSWORD}
    assert send(log_in(owner()), f"{here}verify/", version=5, **signed).status_code == 403
    verified = send(sign_in(verifier()), f"{here}verify/", version=5, **signed).json()
    assert (verified["state"], verified["verified_evidence"]) == ("verified", [evidence.pk])
    assert send(member, f"{here}find-effective/", note="No more.").json()["state"] == "effective"
    assert send(member, f"{here}reopen/", reason="Again.").json()["state"] == "committed"
    assert send(member, f"{here}drop/", reason="No use.").json()["state"] == "dropped"


def test_an_action_is_edited_and_sent_back():
    action = make_committed()
    here = f"actions/{action.number}/"
    edited = send(log_in(board_member()), here, "patch", version=action.version, title="Train more")
    assert edited.json()["title"] == "Train more"
    done = make_done()
    back = send(sign_in(verifier()), f"actions/{done.number}/send-back/", reason="Not met.")
    assert back.json()["state"] == "committed"


def test_actions_are_filtered():
    action = make_committed()
    client = log_in(viewer())
    for query, count in {
        "": 1,
        "?state=committed": 1,
        "?state=done": 0,
        f"?anomaly={action.anomaly.number}": 1,
        f"?owner={owner().pk}": 1,
        f"?owner={2**63 - 1}": 0,
        "?show=overdue": 0,
        "?words=train": 1,
    }.items():
        assert client.get(f"{API}/actions/{query}").json()["count"] == count, query


def test_closing_names_what_is_open_and_closes_once_nothing_is():
    engineer, action = sign_in(safety_engineer()), make_verified()
    anomaly = action.anomaly
    here = f"anomalies/{anomaly.number}/"
    extra = make_cause(anomaly)
    given = {"version": anomaly.version, "statement": "A worn seal.", "password": PASSWORD}
    refused = send(engineer, f"{here}close/", **given).json()
    assert refused["code"] == "something_open"
    assert [(row["kind"], row["record_id"]) for row in refused["missing"]] == [("cause", extra.pk)]
    send(
        log_in(board_member()),
        f"causes/{extra.pk}/rule-out/",
        version=1,
        rationale="No.",
        evidence_ids=[make_evidence(anomaly).pk],
    )
    assert send(engineer, f"{here}close/", **given).json()["state"] == "closed"
    assert send(engineer, f"{here}reopen/", reason="Again.").json()["state"] == "open"


def test_the_risk_of_the_unexplained_is_accepted_under_a_signature():
    engineer, anomaly = sign_in(safety_engineer()), make_open()
    here = f"anomalies/{anomaly.number}/"
    given = {"version": anomaly.version, "rationale": "All tried.", "password": PASSWORD}
    assert send(log_in(board_member()), f"{here}accept-unexplained/", **given).status_code == 403
    assert send(engineer, f"{here}accept-unexplained/", **given).json()["unexplained_rationale"] == "All tried."
    assert send(engineer, f"{here}retract-acceptance/", reason="A lead.").json()["unexplained_rationale"] == ""


@pytest.mark.parametrize("make", [make_finding, make_cause, make_committed])
def test_readers_change_nothing_and_strangers_find_nothing(make):
    record = make()
    here = {"finding": f"findings/{record.pk}/", "cause": f"causes/{record.pk}/"}.get(record.KIND)
    here = here or f"actions/{record.number}/"
    assert log_in(viewer()).get(f"{API}/{here}").status_code == 200
    assert send(log_in(viewer()), here, "patch").status_code == 403
    assert send(log_in(make_stranger()), here, "patch").status_code == 404
