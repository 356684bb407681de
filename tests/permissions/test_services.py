"""Who may do nothing learns nothing: every service refuses them before it looks at state or input."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from typing import Any

import pytest

import anomalies.services
from anomalies.services.sign_off import PasswordProof
from config.kit.errors import NotAllowed
from tests.anomalies.people import SEEN_AT
from tests.permissions.people import NO_ROLE
from tests.permissions.watch import undone, writes

pytestmark = pytest.mark.django_db

PARTS_OF_SERVICES = {
    *(
        "add_bearing",
        "note_news",
        "note_list",
        "append_entry",
        "ask_first",
        "attach",
        "attach_evidence",
        "begin_move",
        "change_record",
        "check_proof",
    ),
    *("confirm_password", "create_record", "detach", "edit_fields", "find_role", "sign", "undo_action"),
}
"""What services are made of; nobody else calls them."""
ONE_S_OWN = {"make_token", "make_key", "mark_seen", "choose_mail", "rename_view", "delete_view"}
"""What everybody may do with what is theirs; nobody else's can be found."""
KINDS = {  # first argument -> the records that it may name
    "action_id": "action",
    "activity_id": "activity",
    "anomaly_id": "anomaly",
    "bearing_id": "bearing",
    "cause_id": "cause",
    "constraint_id": "constraint",
    "effect_id": "effect",
    "entry_id": "timeline_entry",
    "evidence_id": "evidence",
    "exposure_id": "exposure",
    "failure_mode_id": "failure_mode",
    "finding_id": "finding",
    "inspection_id": "inspection",
    "investigation_id": "investigation",
    "item_id": "hardware",
    "lesson_id": "lesson",
    "link_id": "link",
    "use_id": "lesson_use",
    "procedure_id": "procedure",
    "revision_id": "procedure_revision",
    "answer_id": "poll_answer",
    "fulfilment_id": "fulfilment",
    "position_id": "poll_position",
    "requirement_id": "requirement",
    "review_id": "readiness_review",
    "key_id": "calendar_key",
    "share_id": "brief_share",
    "waiver_id": "waiver",
    "decision_id": "meeting_decision",
    "meeting_id": "board_meeting",
    "source_id": "anomaly",
    "tie_id": "action_tie",
    "token_id": "access_token",
    "update_id": "parameter_update",
}
NONSENSE: dict[str, Any] = {
    "bool": None,
    "float": -1.0,
    "int": -1,
    "str": "",
    "Sequence[int]": [-1],
    "Sequence[Upload]": [],
    "Sequence[str]": ["\0"],
    "Mapping[str, Any]": {"nonsense": 1},
    "PasswordProof": PasswordProof(-1, SEEN_AT),
    "datetime": SEEN_AT.replace(year=2999, tzinfo=None),
}
"""Type of an argument -> what no service takes."""


def find_services() -> dict[str, Any]:
    """Every function of the services that somebody calls in their own name."""
    found = {}
    for module in pkgutil.iter_modules(anomalies.services.__path__):
        home = importlib.import_module(f"anomalies.services.{module.name}")
        for name, function in inspect.getmembers(home, inspect.isfunction):
            is_own = function.__module__ == home.__name__ and not name.startswith("_")
            if is_own and "actor" in inspect.signature(function).parameters:
                found[name] = function
    return found


SERVICES = find_services()
ASKED = sorted(SERVICES.keys() - PARTS_OF_SERVICES - ONE_S_OWN)


def read_arguments(service: Any) -> list[inspect.Parameter]:
    """The arguments that must be given, but the actor."""
    given = inspect.signature(service).parameters.values()
    return [
        each for each in given if each.name != "actor" and each.default is each.empty and each.kind != each.VAR_KEYWORD
    ]


def make_nonsense(argument: inspect.Parameter) -> Any:
    """What no service takes for this argument."""
    name = str(argument.annotation).partition(" |")[0]
    return None if name == "date" else NONSENSE[name]


def find_subjects(world: Any, argument: inspect.Parameter) -> list[Any]:
    """The records, in all their states, that a service is asked to change; one that makes a record has none."""
    kind = KINDS.get(argument.name)
    if kind is None:
        return [None]
    return [record for record in world.records.values() if getattr(record, "KIND", "") == kind]


@pytest.mark.parametrize("name", ASKED)
def test_who_may_nothing_is_refused_before_anything_is_looked_at(world, name):
    service = SERVICES[name]
    first, *_ = arguments = read_arguments(service)
    subjects = find_subjects(world, first)
    assert subjects
    for subject in subjects:
        given = {argument.name: make_nonsense(argument) for argument in arguments}
        given |= {first.name: subject.pk} if subject is not None else {}
        with undone(), writes() as wrote, pytest.raises(NotAllowed):
            service(actor=world.people[NO_ROLE], **given)
        assert wrote == []


def test_what_is_left_out_is_there():
    assert SERVICES.keys() >= PARTS_OF_SERVICES | ONE_S_OWN
