"""Real records for calls of the API: people in every role, and whatever an address can name."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from django.contrib.auth.models import User

from anomalies import models
from anomalies.demo.load import load_demo
from anomalies.models.base import record_models
from anomalies.services.actions import drop_action
from anomalies.services.activities import start_activity
from anomalies.services.baselines import list_ready
from anomalies.services.revision_steps import insert_revision_notice
from anomalies.services.ties import resolve_constraint
from anomalies.services.unexplained import accept_unexplained
from anomalies.web.register import MACHINES
from config.kit.permissions import allows
from faulttree.models import Run, SharedItem, Tree, TreeRevision, Variant
from faulttree.services.execution import execute_run
from tests.anomalies import calendars
from tests.anomalies.actions import make_done, make_proposed, make_verified
from tests.anomalies.effects import make_effect, make_tie
from tests.anomalies.fault_trees import conclude, enter, judge_all, make_investigation, plan, revise
from tests.anomalies.files import make_photograph
from tests.anomalies.investigation import make_adopted, make_confirmed, make_finding, seat
from tests.anomalies.learning import make_mode, make_proposal, make_rate
from tests.anomalies.meetings import make_decision, make_meeting, make_opened
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_constraint,
    make_draft,
    make_open,
    make_stranger,
    safety_engineer,
)
from tests.anomalies.procedures import PASSWORD, make_approved, make_drafted, make_submitted, prove, writer
from tests.anomalies.readiness import make_share
from tests.anomalies.tokens import make

RECORDS: dict[str, tuple[Any, dict[str, str]]] = {  # the start of a path -> its rows, and what names one of them
    "actions/": (models.CorrectiveAction, {"number": "number"}),
    "action-ties/": (models.ActionTie, {"tie_id": "pk"}),
    "activities/": (models.Activity, {"activity_id": "pk"}),
    "anomalies/": (models.Anomaly, {"number": "number"}),
    "bearings/": (models.Bearing, {"bearing_id": "pk"}),
    "causes/": (models.Cause, {"cause_id": "pk"}),
    "constraints/": (models.Constraint, {"constraint_id": "pk"}),
    "drafts/": (models.Anomaly, {"draft_id": "pk"}),
    "effects/": (models.ActionEffect, {"effect_id": "pk"}),
    "exposure/": (models.ExposureEntry, {"exposure_id": "pk"}),
    "failure-modes/": (models.FailureMode, {"failure_mode_id": "pk"}),
    "evidence/": (models.Evidence, {"evidence_id": "pk"}),
    "findings/": (models.Finding, {"finding_id": "pk"}),
    "hardware-types/": (models.HardwareType, {"type_id": "pk"}),
    "hardware/": (models.HardwareItem, {"item_id": "pk"}),
    "inspections/": (models.Inspection, {"inspection_id": "pk"}),
    "investigations/": (models.Investigation, {"investigation_id": "pk"}),
    "lessons/": (models.Lesson, {"number": "number"}),
    "lesson-uses/": (models.LessonUse, {"use_id": "pk"}),
    "links/": (models.AnomalyLink, {"link_id": "pk"}),
    "procedures/{number}/revisions/{revision}/": (
        models.ProcedureRevision,
        {"number": "procedure.number", "revision": "number"},
    ),
    "procedures/": (models.Procedure, {"number": "number"}),
    "answers/": (models.PollAnswer, {"answer_id": "pk"}),
    "fulfilments/": (models.Fulfilment, {"fulfilment_id": "pk"}),
    "positions/": (models.PollPosition, {"position_id": "pk"}),
    "requirements/": (models.Requirement, {"requirement_id": "pk"}),
    "reviews/": (models.ReadinessReview, {"review_id": "pk"}),
    "calendar-keys/": (models.CalendarKey, {"key_id": "pk"}),
    "meetings/": (models.BoardMeeting, {"meeting_id": "pk"}),
    "meeting-decisions/": (models.MeetingDecision, {"decision_id": "pk"}),
    "brief-shares/": (models.BriefShare, {"share_id": "pk"}),
    "waivers/": (models.Waiver, {"waiver_id": "pk"}),
    "runs/": (Run, {"run_id": "pk"}),
    "timeline/": (models.TimelineEntry, {"entry_id": "pk"}),
    "tokens/": (models.AccessToken, {"token_id": "pk"}),
    "trees/{tree_id}/revisions/{number}/": (TreeRevision, {"tree_id": "tree_id", "number": "number"}),
    "trees/": (Tree, {"tree_id": "pk"}),
    "updates/": (models.ParameterUpdate, {"update_id": "pk"}),
    "variants/": (Variant, {"variant_id": "pk"}),
    "library/": (SharedItem, {"item_id": "pk"}),
}
CONTENTS = ("action", "cause", "finding", "investigation")  # added to an open anomaly alone
RULES = {  # what isn't <kind>.<last part of the address>
    "patch evidence/{evidence_id}/": "evidence.describe",
    "post activities/": "activity.plan",
    "post anomalies/": "anomaly.report",
    "post actions/{number}/estimate/": "action.state_effect",
    "post anomalies/{number}/actions/": "action.propose",
    "post anomalies/{number}/board/": "anomaly.seat",
    "post anomalies/{number}/board/unseat/": "anomaly.seat",
    "post anomalies/{number}/causes/": "cause.state",
    "post anomalies/{number}/evidence/": "anomaly.gather",
    "post anomalies/{number}/findings/": "finding.propose",
    "post anomalies/{number}/investigation/": "investigation.open",
    "post anomalies/{number}/timeline/": "anomaly.gather",
    "post failure-modes/{failure_mode_id}/propose-update/": "parameter_update.propose",
    "post hardware-types/": "hardware_type.add",
    "post hardware/": "hardware.add",
    "post tokens/": "access_token.make",
    "post calendar-keys/": "calendar_key.make",
    "post activities/{activity_id}/open-review/": "readiness_review.open",
    "post activities/{activity_id}/set-position/": "poll_position.set",
    "post activities/{activity_id}/drop-position/": "poll_position.set",
    "post activities/{activity_id}/record-fulfilment/": "fulfilment.record",
    "post activities/{activity_id}/grant-waiver/": "waiver.grant",
    "post activities/{activity_id}/brief-shares/": "brief_share.make",
    "post positions/{position_id}/answer/": "poll_position.answer",
    "post answers/{answer_id}/settle/": "poll_answer.settle",
    "post meetings/": "board_meeting.plan",
    "post requirements/": "requirement.add",
    "post standard-positions/": "standard_position.set",
    "post lessons/": "lesson.add",
    "post lessons/{number}/drop-place/": "lesson.place",
    "post procedures/": "procedure.add",
    "post procedures/{number}/revisions/": "procedure.draft",
    "post runs/{run_id}/cancel/": "run.cancel",
    "post trees/": "tree.import",
    "post trees/{tree_id}/revisions/": "tree.revise",
    "post trees/{tree_id}/revisions/{number}/runs/": "run.request",
    "post trees/{tree_id}/variants/": "variant.add",
    "post library/": "library.change",
    "post library/{item_id}/change/": "library.change",
    "post variants/{variant_id}/change/": "variant.change",
    "post variants/{variant_id}/remove/": "variant.remove",
}


def make_proposals() -> None:
    """Values to accept, to refuse and to withdraw, and failure modes of which nothing is proposed yet."""
    for place in range(6):
        code = f"MODE-{place}"
        make_mode(code, item_id=make_rate(f"rate-{place}").pk)
        if place < 3:
            make_proposal(code)


@dataclass(frozen=True)
class Person:
    """Somebody with an access token; nobody has neither."""

    role: str
    user: User | None = None
    secret: str = ""

    @property
    def headers(self) -> dict[str, str]:
        """What their program sends with every call."""
        return {"Authorization": f"Bearer {self.secret}"} if self.secret else {}


@dataclass(frozen=True)
class Target:
    """A record, and the parts of an address that name it."""

    record: Any
    names: dict[str, Any] = field(default_factory=dict)


class World:
    """The demonstration and some records in states that it lacks; people with all roles, with none, and nobody."""

    def __init__(self) -> None:
        load_demo(password=PASSWORD)
        add_what_is_missing()
        users = User.objects.filter(is_active=True, groups__isnull=False).distinct().order_by("pk")
        self.people = [Person(user.groups.order_by("name")[0].name, user, make(user)[1]) for user in users]
        stranger = make_stranger()
        self.everybody = [*self.people, Person("stranger", stranger, make(stranger)[1]), Person("nobody")]
        self._rows: dict[Any, list[Any]] = {}

    def rows(self, model: Any) -> list[Any]:
        """All rows of a kind, by key."""
        if model not in self._rows:
            self._rows[model] = list(model._base_manager.order_by("pk"))
        return self._rows[model]

    def targets(self, path: str) -> list[Target]:
        """Return every record that the path can name; [] for a path that names none."""
        if path.startswith("records/"):
            return [
                Target(row, {"kind": row.KIND, "record_id": row.pk})
                for kind in record_models()
                for row in self.rows(kind)
            ]
        start = next((start for start in RECORDS if path.startswith(start) and "{" in path), None)
        if start is None:
            return []
        model, names = RECORDS[start]
        named = (Target(row, {name: _read(row, column) for name, column in names.items()}) for row in self.rows(model))
        return list(_with_steps((target for target in named if all(target.names.values())), path))

    def open_pairs(self, method: str, path: str) -> list[tuple[Person, Target | None]]:
        """Return who may call this for which record now: the calls that can go well."""
        targets: list[Target | None] = [*self.targets(path)] or [None]
        pairs = [(person, target) for person in self.people for target in targets]
        return [pair for pair in pairs if _is_open(method, path, *pair)] or pairs


def add_what_is_missing() -> None:
    """Make records in the states that no story of the demonstration ends in."""
    make_draft()
    start_activity(activity_id=make_activity().pk, actor=activity_lead())
    draft = make_drafted(None, "Push until the collar clicks.", "Pull by hand to check the latch.")
    insert_revision_notice(
        revision_id=draft.pk,
        actor=writer(),
        version=draft.version,
        step_key=draft.read_steps()[0].key,
        kind="warning",
        text="It bursts.",
    )
    make_submitted(), make_approved()
    make_done(), make_verified(), make_effect(make_verified())
    make_tie()
    make_share(), make_share()
    for owner in (board_member(), activity_lead(), safety_engineer()):
        calendars.make(owner), calendars.make(owner)
    make_decision(), make_opened(), make_meeting(), make_meeting()
    make_proposals()
    dropped = make_proposed()
    drop_action(action_id=dropped.pk, actor=board_member(), reason="The cause was another.")
    make_adopted(), make_confirmed()
    enter(make_investigation(), "valve", "ratio", ratio=4.0)
    revise(plan(make_investigation()).investigation)
    revise(judge_all(make_investigation()))
    conclude(judge_all(make_investigation()))
    seat(make_finding().anomaly)
    make_photograph()
    resolved = make_constraint()
    resolve_constraint(constraint_id=resolved.pk, actor=safety_engineer(), resolution="A new seal.")
    given_up, engineer = make_open(), safety_engineer()
    accept_unexplained(
        anomaly_id=given_up.pk,
        actor=engineer,
        version=given_up.version,
        rationale="Every bench test passed.",
        proof=prove(engineer),
    )
    execute_run(run_id=Run.objects.order_by("pk")[0].pk)


def _read(row: Any, column: str) -> Any:
    for part in column.split("."):
        row = getattr(row, part)
    return row


def _with_steps(targets: Iterable[Target], path: str) -> Iterator[Target]:
    """Name each step, or each warning, of a revision where the path asks for one."""
    name = next((name for name in ("step_key", "key") if f"{{{name}}}" in path), None)
    for target in targets:
        if name is None:
            yield target
            continue
        steps = target.record.read_steps()
        things = [notice for step in steps for notice in step.notices] if "notices/{" in path else steps
        yield from (Target(target.record, target.names | {name: thing.key}) for thing in things)


def _is_open(method: str, path: str, person: Person, target: Target | None) -> bool:
    """Tell whether the call can go well: the rule lets the person, the state of the record the move."""
    record = target.record if target else None
    if isinstance(record, (models.AccessToken, models.CalendarKey)) and record.owner_id != person.user.pk:
        return False
    if path.startswith("drafts/") and (record.state, record.recorded_by_id) != ("draft", person.user.pk):
        return False
    if path.endswith("/investigation/") and (method == "get") != hasattr(record, "investigation"):
        return False
    if path.endswith("/benefit/"):
        return hasattr(record, "investigation")
    if path.endswith("/take-baseline/"):
        return bool(list_ready(record)) and allows(person.user, "investigation.take_baseline", record)
    if method == "get":
        return not path.endswith("telemetry/") or record.kind == "telemetry"
    kind, move = (RULES.get(f"{method} {path}") or _find_rule(method, path, record)).split(".")
    is_move = kind == getattr(record, "KIND", None) and kind in MACHINES
    if is_move and move not in MACHINES[kind].names_from(record.state):
        return False
    if isinstance(record, models.Anomaly) and kind in CONTENTS and record.state != "open":
        return False
    return allows(person.user, f"{kind}.{move}", record)


def _find_rule(method: str, path: str, record: Any) -> str:
    """Return the rule of a move: the last part of the address is its name, or it's one of many edits."""
    move = path.removesuffix("/").rsplit("/", 1)[-1].replace("-", "_")
    is_move = record.KIND in MACHINES and any(each.name == move for each in MACHINES[record.KIND].moves)
    return f"{record.KIND}.{move if is_move and method == 'post' else 'edit'}"
