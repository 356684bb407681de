"""Many writers at once, in a process of its own that prints what came of it as JSON.

    DATABASE_URL=... python -m tests.anomalies.parallel

A process of its own, because writers at once need real transactions, and a database that is a file or a server.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

WRITERS = 20
ROUNDS = 3
TOKENS_BEFORE = 15


def at_once(work: Callable[[int], Any]) -> list[Any]:
    """Run the work in all writers, started together; gives what each returned, or the code of its refusal."""
    from django.db import connection

    from config.kit.errors import DomainError

    start = Barrier(WRITERS)

    def run(number: int) -> Any:
        try:
            start.wait(30)
            return work(number)
        except DomainError as error:
            return error.code
        finally:
            connection.close()

    with ThreadPoolExecutor(WRITERS) as pool:
        return list(pool.map(run, range(WRITERS)))


def report(actor: Any, number: int) -> list[str]:
    """Report some anomalies; every other one is a draft first. Every third report fails and takes back its number."""
    from django.db import transaction

    from anomalies.services.anomalies import draft_anomaly, report_anomaly, submit_anomaly
    from tests.anomalies.people import SEEN_AT

    given: list[str] = []
    for turn in range(ROUNDS):
        story = {"title": f"{number}/{turn}", "occurred_at": SEEN_AT}
        with transaction.atomic():
            report_anomaly(actor=actor, **story)
            transaction.set_rollback(True)
        if turn % 2:
            draft = draft_anomaly(actor=actor, **story)
            given.append(str(submit_anomaly(anomaly_id=draft.pk, actor=actor).number))
        else:
            given.append(str(report_anomaly(actor=actor, **story).number))
    return given


def add_word(actor: Any, anomaly_id: int, number: int) -> int:
    """Add a word to the anomaly's description, merging as often as somebody else was first; gives how often."""
    from anomalies.errors import EditConflict
    from anomalies.models import Anomaly
    from anomalies.services.anomalies import edit_anomaly

    seen = Anomaly.objects.get(pk=anomaly_id)
    version, text = seen.version, seen.description
    for merges in range(1000):
        changes = {"description": f"{text} word{number}"}
        try:
            edit_anomaly(anomaly_id=anomaly_id, actor=actor, version=version, changes=changes)
        except EditConflict as conflict:
            version, text = conflict.version, conflict.theirs["description"]["after"]
        else:
            return merges
    raise RuntimeError("never came through")


def add_step(actor: Any, revision_id: int, number: int) -> None:
    """Add a step to the draft, as often as somebody else was first from what it is then."""
    from anomalies.errors import EditConflict
    from anomalies.services.revision_steps import add_revision_step

    version = 1
    for _ in range(1000):
        try:
            text = f"step{number}"
            add_revision_step(revision_id=revision_id, actor=actor, version=version, kind="do", text=text)
        except EditConflict as conflict:
            version = conflict.version
        else:
            return
    raise RuntimeError("never came through")


def gather_evidence(anomaly_id: int) -> dict[str, Any]:
    """Let all add the same photograph and an entry of the timeline to one anomaly, and open the file."""
    from anomalies.models import Anomaly, Evidence
    from anomalies.services.evidence import open_evidence
    from anomalies.services.timeline import add_timeline_entry
    from tests.anomalies import files, people

    anomaly = Anomaly.objects.get(pk=anomaly_id)
    actor = people.recorder()
    added = at_once(lambda number: files.make_photograph(anomaly, name=f"{number}.png").position)
    first = Evidence.objects.get(anomaly=anomaly, position=1)

    def read(number: int) -> bool:
        add_timeline_entry(anomaly_id=anomaly_id, actor=actor, at=people.SEEN_AT, text=str(number))
        with open_evidence(evidence_id=first.pk, actor=actor)[1] as file:
            return file.read() == files.PNG

    return {"evidence": added, "opened": at_once(read), "openings": first.openings.count()}


def take_a_procedure_through() -> dict[str, Any]:
    """Let all draft, write, approve and acknowledge the same revision at once."""
    from anomalies.models import ProcedureRevision
    from anomalies.services import revision_moves as moves
    from anomalies.services.procedures import draft_revision
    from tests.anomalies import people, procedures

    procedure, sortie = procedures.make_procedure(), procedures.make_sortie(1)
    writer, engineer, lead = procedures.writer(), people.safety_engineer(), people.activity_lead()
    proofs = {person.pk: procedures.prove(person) for person in (engineer, lead)}
    drafted = at_once(
        lambda number: draft_revision(procedure_id=procedure.pk, actor=writer, summary="x").pk and "drafted"
    )
    pk = ProcedureRevision.objects.get().pk
    at_once(lambda number: add_step(writer, pk, number))
    version = moves.submit_revision(revision_id=pk, actor=writer, version=1 + WRITERS).version
    signed = {"revision_id": pk, "version": version, "actor": engineer, "proof": proofs[engineer.pk]}
    approved = at_once(lambda number: moves.approve_revision(**signed).pk and "approved")
    signed = {"revision_id": pk, "version": version + 1, "actor": lead, "proof": proofs[lead.pk]}
    released = at_once(lambda number: moves.release_revision(**signed, effective_from_id=sortie.pk).pk and "released")
    read = at_once(lambda number: moves.acknowledge_revision(revision_id=pk, actor=lead).pk)
    steps = [step.text for step in ProcedureRevision.objects.get(pk=pk).read_steps()]
    return {"drafted": drafted, "steps": steps, "approved": approved, "released": released, "read": read}


def verify_and_close() -> dict[str, Any]:
    """Let all verify one action at once; then half close its anomaly while the others open the action again."""
    from anomalies.models import Anomaly, CorrectiveAction
    from anomalies.services.actions import reopen_action
    from anomalies.services.closing import close_anomaly
    from anomalies.services.verification import verify_action
    from tests.anomalies import actions, files, people, procedures

    action = actions.make_done()
    verifier, engineer, member = actions.verifier(), people.safety_engineer(), people.board_member()
    shown = files.make_evidence(action.anomaly)
    signed = {"version": action.version, "actor": verifier, "proof": procedures.prove(verifier)}
    given = {"action_id": action.pk, "note": "Watched.", "evidence_ids": [shown.pk]} | signed
    verified = at_once(lambda number: verify_action(**given).pk and "verified")
    anomaly = Anomaly.objects.get(pk=action.anomaly_id)
    proof = procedures.prove(engineer)

    def close_or_reopen(number: int) -> str:
        if number % 2:
            reopen_action(action_id=action.pk, actor=member, reason="Seen again.")
            return "reopened"
        given = {"version": anomaly.version, "statement": "Mended.", "proof": proof}
        close_anomaly(anomaly_id=anomaly.pk, actor=engineer, **given)
        return "closed"

    ended = at_once(close_or_reopen)
    states = [Anomaly.objects.get(pk=anomaly.pk).state, CorrectiveAction.objects.get(pk=action.pk).state]
    return {"verified": verified, "ended": ended, "end": states}


def take_positions() -> dict[str, Any]:
    """Let pairs of threads, each pair one member, take a position on one finding: one concurs, the other dissents."""
    from anomalies.services.board import seat_member
    from anomalies.services.findings import state_position
    from tests.anomalies import investigation, people

    finding = investigation.make_finding(people.make_open(title="Positions"))
    engineer = people.safety_engineer()
    members = [people.make_person("board member", f"member{number}") for number in range(WRITERS // 2)]
    for member in members:
        seat_member(anomaly_id=finding.anomaly_id, actor=engineer, person_id=member.pk)

    def stand(number: int) -> str:
        chosen = {"stand": "dissents", "text": "It was cold."} if number % 2 else {"stand": "concurs"}
        member = members[number // 2]
        return str(state_position(finding_id=finding.pk, actor=member, wording=finding.wording, **chosen).stand)

    stated = at_once(stand)
    held = sorted(finding.concurrences.values_list("member__username", flat=True))
    return {"stated": stated, "held": held, "members": sorted(member.username for member in members)}


def guess_a_password() -> list[Any]:
    """Let all guess one person's password at once."""
    from anomalies.services.sign_off import confirm_password
    from tests.anomalies import people

    person = people.viewer()
    return at_once(lambda number: confirm_password(actor=person, password=str(number)))


def make_tokens(before: int) -> list[Any]:
    """Let one person, who has so many, make tokens at once."""
    from anomalies.services.access_tokens import make_token
    from tests.anomalies import people, procedures, tokens

    owner = people.recorder()
    for _ in range(before):
        tokens.make(owner)
    given = {"actor": owner, "name": "import", "days": 1, "proof": procedures.prove(owner)}
    return at_once(lambda number: make_token(**given) and "made")


def next_of(ring: list[int], number: int) -> int:
    """The one after the nth, in a ring of as many as there are writers."""
    return ring[(number + 1) % WRITERS]


def main() -> dict[str, Any]:
    """Let the writers loose; returns what tests look at."""
    from anomalies.models import Anomaly
    from anomalies.services.hardware import install_hardware
    from anomalies.services.ledger_proof import prove_ledger
    from anomalies.services.ties import link_anomalies
    from tests.anomalies import people

    engineer, lead = people.safety_engineer(), people.activity_lead()
    anomaly = people.make_reported(title="Shared")
    items = [people.make_item(str(number)).pk for number in range(WRITERS)]
    numbers = at_once(lambda number: report(engineer, number))
    merges = at_once(lambda number: add_word(engineer, anomaly.pk, number))
    others = list(Anomaly.objects.exclude(pk=anomaly.pk).order_by("pk").values_list("pk", flat=True)[:WRITERS])

    installed = at_once(
        lambda number: (
            install_hardware(item_id=items[number], parent_id=next_of(items, number), actor=lead).pk and "installed"
        )
    )
    linked = at_once(
        lambda number: (
            link_anomalies(
                source_id=others[number], target_id=next_of(others, number), kind="duplicate", actor=engineer
            ).pk
            and "linked"
        )
    )
    procedure = take_a_procedure_through() | gather_evidence(people.make_open(title="Evidence").pk)
    checked = verify_and_close() | take_positions()
    made = make_tokens(before=TOKENS_BEFORE)
    proof = prove_ledger()
    return {
        "guessed": guess_a_password(),
        "tokens": made,
        **procedure,
        **checked,
        "numbers": sorted(number for given in numbers for number in given),
        "merges": merges,
        "words": Anomaly.objects.get(pk=anomaly.pk).description.split(),
        "installed": installed,
        "linked": linked,
        "whole": proof.is_whole,
        "entries": proof.entries,
    }


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings.test"
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    json.dump(main(), sys.stdout)
