"""Every move of every state table can be made through the JSON API, and every record be found there."""

from __future__ import annotations

import pytest
from drf_spectacular.generators import SchemaGenerator

from anomalies.web.register import MACHINES

API = "/api/v1"
HOMES = {  # kind -> the address of one record
    "access_token": "tokens/{token_id}/",
    "action": "actions/{number}/",
    "action_tie": "action-ties/{tie_id}/",
    "activity": "activities/{activity_id}/",
    "anomaly": "anomalies/{number}/",
    "bearing": "bearings/{bearing_id}/",
    "calendar_key": "calendar-keys/{key_id}/",
    "cause": "causes/{cause_id}/",
    "constraint": "constraints/{constraint_id}/",
    "effect": "effects/{effect_id}/",
    "evidence": "evidence/{evidence_id}/",
    "exposure": "exposure/{exposure_id}/",
    "finding": "findings/{finding_id}/",
    "hardware": "hardware/{item_id}/",
    "inspection": "inspections/{inspection_id}/",
    "investigation": "investigations/{investigation_id}/",
    "lesson": "lessons/{number}/",
    "lesson_use": "lesson-uses/{use_id}/",
    "link": "links/{link_id}/",
    "parameter_update": "updates/{update_id}/",
    "procedure_revision": "procedures/{number}/revisions/{revision}/",
    "timeline_entry": "timeline/{entry_id}/",
    "fulfilment": "fulfilments/{fulfilment_id}/",
    "readiness_review": "reviews/{review_id}/",
    "requirement": "requirements/{requirement_id}/",
    "board_meeting": "meetings/{meeting_id}/",
    "meeting_decision": "meeting-decisions/{decision_id}/",
    "brief_share": "brief-shares/{share_id}/",
    "waiver": "waivers/{waiver_id}/",
}
ELSEWHERE = {  # what isn't POST <home>/<move>/ or, for an edit, PATCH <home>
    ("anomaly", "submit"): ("post", "drafts/{draft_id}/submit/"),  # a draft has no number yet
    ("anomaly", "discard"): ("post", "drafts/{draft_id}/discard/"),
    ("anomaly", "gather"): ("post", "anomalies/{number}/evidence/"),  # and timeline/
    ("anomaly", "seat"): ("post", "anomalies/{number}/board/"),
    ("anomaly", "investigate"): ("post", "anomalies/{number}/causes/"),  # and findings/, actions/
    ("evidence", "describe"): ("patch", "evidence/{evidence_id}/"),
    ("evidence", "open"): ("get", "evidence/{evidence_id}/file/"),
    ("installation", "end"): ("post", "hardware/{item_id}/remove/"),  # part of taking the item out
    ("procedure_revision", "supersede"): ("post", "procedures/{number}/revisions/{revision}/release/"),  # of the next
}
PAIRS = sorted({(kind, move.name) for kind, machine in MACHINES.items() for move in machine.moves})


@pytest.fixture(scope="module")
def paths():
    return SchemaGenerator(api_version="1").get_schema(request=None, public=True)["paths"]


@pytest.mark.parametrize(("kind", "name"), PAIRS)
def test_a_move_has_an_address(paths, kind, name):
    if (kind, name) in ELSEWHERE:
        method, path = ELSEWHERE[kind, name]
    elif name == "edit":
        method, path = "patch", HOMES[kind]
    else:
        method, path = "post", f"{HOMES[kind]}{name.replace('_', '-')}/"
    assert method in paths[f"{API}/{path}"]


@pytest.mark.parametrize("kind", HOMES)
def test_a_record_has_an_address(paths, kind):
    assert "get" in paths[f"{API}/{HOMES[kind]}"]


def test_what_is_elsewhere_is_in_the_tables():
    assert set(ELSEWHERE) <= set(PAIRS)
    assert set(HOMES) | {"installation"} == set(MACHINES)  # installations are listed, and change with their item
