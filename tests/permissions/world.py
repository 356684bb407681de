"""One world for all of these tests: a record of every kind in every state, made by the services."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Model
from django.test import Client

from anomalies.services import activities, hardware
from anomalies.services.access_tokens import revoke_token
from anomalies.services.anomalies import add_anomaly_hardware
from anomalies.services.brief_shares import revoke_share
from anomalies.services.calendar_keys import revoke_key
from anomalies.services.learning import name_failure_mode
from anomalies.services.procedures import use_procedure
from anomalies.services.readiness import open_review, set_position
from anomalies.services.requirements import ask_position
from anomalies.services.revision_steps import insert_revision_notice
from anomalies.services.saved_views import save_view
from anomalies.services.ties import link_anomalies
from anomalies.services.timeline import add_timeline_entry
from faulttree.services.drafts import open_draft
from faulttree.services.library import Sent, add_item
from faulttree.services.people import ensure_roles
from faulttree.services.runs import cancel_run
from faulttree.services.variants import add_variant
from tests.anomalies import calendars, people, tokens
from tests.anomalies.files import SERIES, make_evidence, upload
from tests.anomalies.investigation import seat
from tests.anomalies.learning import make_mode, make_rate
from tests.anomalies.people import make_activity
from tests.anomalies.procedures import PASSWORD, make_procedure, make_released, writer
from tests.anomalies.readiness import answer, make_requirement, make_review, make_share, make_signed
from tests.anomalies.services import test_every_fault_tree_move as fault_tree
from tests.anomalies.services import test_every_investigation_move as investigation
from tests.anomalies.services import test_every_learning_move as learning
from tests.anomalies.services import test_every_lesson_move as lessons
from tests.anomalies.services import test_every_meeting_move as meetings
from tests.anomalies.services import test_every_move as basic
from tests.anomalies.services import test_every_readiness_move as readiness
from tests.anomalies.services import test_every_revision_move as revisions
from tests.faulttree.people import make_done_run, make_engineer, make_revision, make_run
from tests.permissions.people import SIGNED_IN, VISITOR, cast_people
from tests.permissions.watch import undone, writes

SERIES_OF = {"unit": "°C", "high": 30.0, "statement": "", "stated_by": ""}
MODULES = (basic, investigation, fault_tree, learning, readiness, lessons, meetings)
STATES = {kind: how for module in MODULES for kind, how in module.KINDS.items()}


@dataclass(frozen=True, repr=False)
class Answer:
    """What came back: status, headers, the text unless it's a file, and the statements that wrote on the way."""

    status_code: int
    headers: Mapping[str, str]
    text: str
    wrote: list[str]


@dataclass(repr=False)  # a failed test would print all of it
class World:
    """Everybody and everything: people and their browsers by name, records by the name that the tables use."""

    people: dict[str, User] = field(default_factory=dict)
    browsers: dict[str, Client] = field(default_factory=dict)
    records: dict[str, Any] = field(default_factory=dict)

    seen: dict[tuple[str, str], Answer] = field(default_factory=dict)

    def look(self, person: str, path: str) -> Answer:
        """Return what this person is shown at an address; each is asked for once, as it leaves nothing behind."""
        if (person, path) not in self.seen:
            self.seen[person, path] = self.look_anew(person, path)
        return self.seen[person, path]

    def look_anew(self, person: str, path: str) -> Answer:
        """The same, where something was changed since."""
        return self.ask(person, "GET", path)

    def ask(self, person: str, method: str, path: str, *sent: str, **headers: str) -> Answer:
        """Return what answers this person; what it wrote is undone."""
        with undone(), writes() as wrote:
            response = self.browsers[person].generic(method, path, *sent, headers=headers)
        text = "" if response.streaming else response.content.decode(errors="replace")
        return Answer(response.status_code, response.headers, text, wrote)

    def fill(self, address: str) -> str:
        """Return the address with the keys of the records that it names."""
        return address.format_map(self.records)


def make_world() -> World:
    """Make it; to be called in a transaction that is rolled back."""
    world = World()
    for kind, (machine, make) in STATES.items():
        if kind != "hardware":
            world.records |= {f"{kind}_{state}": make(state) for state in machine.states}
    world.records["baseline"] = fault_tree.take_baseline(
        fault_tree.in_investigation_state("under_way"), people.safety_engineer()
    )
    world.records["disposition"] = world.records["investigation_under_way"].dispositions.first()
    world.records["failure_mode"] = make_mode("MODE-plain", item_id=make_rate("rate-plain").pk)
    world.records |= _make_poll()
    _complete(world.records)
    for make in (_make_hardware, _make_procedures, _make_trees, _make_the_rest):
        world.records |= make()
    for record in world.records.values():
        if isinstance(record, Model):
            record.refresh_from_db()
    world.people = cast_people()
    for name in SIGNED_IN:
        world.people[name].set_password(PASSWORD)
        world.people[name].save()
        world.browsers[name] = Client(raise_request_exception=False)
        world.browsers[name].force_login(world.people[name])
    world.browsers[VISITOR] = Client(raise_request_exception=False)
    return world


def _make_poll() -> dict[str, Any]:
    """A poll that waits, one with a condition, and a list on which something is open."""
    waits, asked = make_review(), make_review()
    given = answer(asked, "condition", "With pump B.")
    coming = make_activity(kind="docking", title="Dock the tender")
    requirement = make_requirement(activity_kind="docking", sort="training")
    open_review(activity_id=coming.pk, actor=people.activity_lead())
    set_position(activity_id=coming.pk, actor=people.activity_lead(), name="Port", person_id=people.recorder().pk)
    return {
        "poll_position": waits.activity.positions.get(),
        "poll_answer": given,
        "coming": coming,
        "asked": requirement,
        "coming_position": coming.positions.get(),
        "standard_position": ask_position(actor=people.activity_lead(), activity_kind="test", name="Bench"),
        "readiness_snapshot": make_signed().snapshots.get(),
    }


def _complete(records: dict[str, Any]) -> None:
    """Put something on each list that a move takes things off, and a part of every kind into one dossier."""
    lead, activity = people.activity_lead(), records["activity_planned"].pk
    item, procedure = people.make_item("P0").pk, make_procedure(title="Undock the tug").pk
    activities.add_crew(activity_id=activity, actor=lead, person_id=people.viewer().pk, role="EV1")
    activities.add_activity_hardware(activity_id=activity, actor=lead, item_id=item)
    use_procedure(activity_id=activity, actor=lead, procedure_id=procedure)
    anomaly = records["anomaly_open"]
    add_anomaly_hardware(anomaly_id=anomaly.pk, actor=people.board_member(), item_id=item)
    seat(anomaly)
    people.make_constraint(anomaly)
    evidence = make_evidence(anomaly)
    given = {"anomaly_id": anomaly.pk, "actor": people.recorder(), "evidence_id": evidence.pk}
    add_timeline_entry(at=people.SEEN_AT, text="It wept.", **given)
    other = records["anomaly_reported"].pk
    link_anomalies(source_id=anomaly.pk, target_id=other, kind="related", actor=people.board_member())
    mode = records["failure_mode"].pk
    for one in (anomaly, records["action_verified"].anomaly):
        name_failure_mode(anomaly_id=one.pk, actor=people.board_member(), failure_mode_id=mode)


def _make_hardware() -> dict[str, Any]:
    lead = people.activity_lead()
    suit, part = people.make_item("S1", "SUIT-1"), people.make_item("P1")
    people.make_item("S2", "SUIT-1")
    spare, broken, old = (people.make_item(serial) for serial in ("P2", "P3", "P4"))
    hardware.install_hardware(item_id=part.pk, parent_id=suit.pk, actor=lead, at=people.SEEN_AT)
    hardware.quarantine_hardware(item_id=broken.pk, actor=lead, reason="Leak.")
    hardware.retire_hardware(item_id=old.pk, actor=lead, reason="Worn out.")
    return {
        "type": spare.type,
        "hardware_installed": part.reread(),
        "hardware_in_service": spare,
        "hardware_quarantined": broken.reread(),
        "hardware_retired": old.reread(),
        "installation_installed": part.installations.get(),
    }


def _make_procedures() -> dict[str, Any]:
    machine = revisions.PROCEDURE_REVISION
    made = {f"procedure_revision_{state}": revisions.in_state(state) for state in machine.states}
    drafted = made["procedure_revision_drafted"]
    step = drafted.read_steps()[0].key
    insert_revision_notice(
        revision_id=drafted.pk, actor=writer(), version=drafted.version, step_key=step, kind="warning", text="Cold."
    )
    made["procedure_revision_drafted"] = drafted = drafted.reread()
    places = {
        f"{state}_at": f"procedures/{revision.procedure.number}/revisions/{revision.number}"
        for state, revision in ((state, made[f"procedure_revision_{state}"]) for state in machine.states)
    }
    (step,) = drafted.read_steps()
    procedure = make_procedure(title="Dock the tug")
    card = make_released(make_procedure(title="The pump has tripped", kind="card"))
    with_card = card.effective_from
    use_procedure(activity_id=with_card.pk, procedure_id=card.procedure_id, actor=people.activity_lead())
    given = {"procedure": procedure, "with_card": with_card}
    return made | places | given | {"step": step.key, "notice": step.notices[0].key}


def _make_trees() -> dict[str, Any]:
    ensure_roles()
    engineer = make_engineer()
    revision = make_revision(engineer)
    cancelled = make_run(engineer, revision, list_count=3)
    return {
        "tree": revision.tree,
        "tree_draft": open_draft(actor=engineer, tree_id=revision.tree_id),
        "variant": add_variant(
            tree_id=revision.tree_id, actor=engineer, name="No valve", overrides={"events": {"valve": False}}
        ),
        "shared": add_item(
            actor=engineer, kind="parameter", name="rate", sent=Sent(1e-6, "judgement", "Two of us."), note="First."
        ).item,
        "run_done": make_done_run(engineer, revision),
        "run_queued": make_run(engineer, revision, list_count=2),
        "run_cancelled": cancel_run(run_id=cancelled.pk, actor=engineer),
    }


def _make_the_rest() -> dict[str, Any]:
    recorder = people.recorder()
    revoked = tokens.make(recorder)[0]
    shut = calendars.make(recorder)[0]
    share = make_share()[0]
    closed = make_share(share.activity)[0]
    views = {
        name: save_view(actor=recorder, name=name, query="state=open", is_shared=name == "shared_view")
        for name in ("own_view", "shared_view")
    }
    return views | {
        "telemetry": make_evidence(kind="telemetry", title="Temperature", **SERIES_OF, file=upload(SERIES, "t.csv")),
        "anomaly_accepted": basic.accept(people.make_open(), people.safety_engineer()),
        "access_token_usable": tokens.make(recorder)[0],
        "access_token_revoked": revoke_token(token_id=revoked.pk, actor=recorder),
        "calendar_key_usable": calendars.make(recorder)[0],
        "calendar_key_revoked": revoke_key(key_id=shut.pk, actor=recorder),
        "brief_share_usable": share,
        "brief_share_revoked": revoke_share(share_id=closed.pk, actor=people.activity_lead()),
    }
