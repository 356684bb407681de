"""Whatever people try with a procedure, in whatever order: nobody approves their own, nothing is released unsigned."""

from __future__ import annotations

from functools import partial

import pytest
from django.db import transaction
from hypothesis import event, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from anomalies.models import Activity, LedgerEntry, Procedure, ProcedureRevision, SignOff
from anomalies.permissions import ROLES
from anomalies.reads.procedures import find_readers
from anomalies.services import revision_moves as moves
from anomalies.services.activities import add_crew
from anomalies.services.ledger_proof import prove_ledger
from anomalies.services.procedures import draft_revision, use_procedure
from anomalies.services.revision_steps import add_revision_step
from config.kit.errors import DomainError
from tests.anomalies.people import make_person
from tests.anomalies.procedures import make_procedure, make_sortie, prove
from tests.anomalies.refusals import everything

SORTIES, PEOPLE = 3, 3
MOVES = {
    "send_back": partial(moves.send_back_revision, reason="Unclear."),
    "withdraw": partial(moves.withdraw_revision, reason="No use."),
    "acknowledge": moves.acknowledge_revision,
}
NAMES = ("draft", "add", "submit", "approve", "release", *MOVES)
NEXT = {"drafted": ("add", "submit"), "submitted": ("approve",), "approved": ("release",)}
CALLS = st.tuples(
    st.sampled_from((*["go on"] * len(NAMES), *NAMES)),
    st.integers(0, PEOPLE - 1),
    st.integers(0, SORTIES - 1),
    st.booleans(),
)


def make_everybody(number):
    """Somebody with every role, so that only the rules are in the way."""
    for role in ROLES:
        person = make_person(role, f"person-{number}")
    return person


def call_all(name, actor, sortie, *, latest):
    """Try one thing, or what comes next for the latest revision, so that examples get somewhere."""
    if name == "go on":
        last = ProcedureRevision.objects.order_by("-number").first()
        for following in NEXT.get(last.state if last else "", ("draft",)):
            call(following, actor, sortie, latest=True)
    else:
        call(name, actor, sortie, latest=latest)


def call(name, actor, sortie, *, latest):
    """Try one thing on the latest revision, or on the first."""
    procedure = Procedure.objects.get()
    if name == "draft":
        draft_revision(procedure_id=procedure.pk, actor=actor, summary="Better.")
        return
    revision = procedure.revisions.order_by("-number" if latest else "number").first()
    if revision is None:
        return
    given = {"revision_id": revision.pk, "actor": actor}
    if name in MOVES:
        MOVES[name](**given)
    elif name == "add":
        add_revision_step(**given, version=revision.version, kind="do", text="Push.")
    elif name == "submit":
        moves.submit_revision(**given, version=revision.version)
    else:
        signed = given | {"version": revision.version, "proof": prove(actor)}
        if name == "approve":
            moves.approve_revision(**signed)
        else:
            moves.release_revision(**signed, effective_from_id=sortie.pk)


@pytest.mark.slow
@pytest.mark.database  # a class of unittest has no fixture to tell it by
class Anything(TestCase):
    """Each example starts from a procedure without revisions that three sorties use."""

    @settings(max_examples=15)
    @given(st.lists(CALLS, min_size=10, max_size=30))
    def test_no_order_of_calls_breaks_a_rule(self, calls):
        people = [make_everybody(number) for number in range(PEOPLE)]
        for person in people:
            prove(person)
        procedure, sorties = make_procedure(), [make_sortie(number) for number in range(SORTIES)]
        for sortie in sorties:
            use_procedure(activity_id=sortie.pk, procedure_id=procedure.pk, actor=people[0])
            add_crew(activity_id=sortie.pk, person_id=people[0].pk, role="outside", actor=people[0])
        for name, who, which, latest in calls:
            before = everything()
            try:
                with transaction.atomic():
                    call_all(name, people[who], sorties[which], latest=latest)
            except DomainError:
                assert everything() == before
        event(f"{ProcedureRevision.objects.ever_released().count()} released")
        self.check_rules()

    def check_rules(self):
        assert prove_ledger().is_whole
        revisions = list(ProcedureRevision.objects.order_by("number"))
        assert [revision.number for revision in revisions] == list(range(1, len(revisions) + 1))
        for revision in revisions:
            assert revision.approver is None or not revision.was_written_by(revision.approver)
            meanings = [signed.meaning.split(":")[0] for signed in SignOff.objects.of(revision)]
            assert revision.approver is None or "Approved" in meanings
            assert (revision.released_at is not None) == ("Released" in meanings)
            self.check_text_since_approval(revision)
        for sortie in Activity.objects.all():
            in_force = list(ProcedureRevision.objects.in_force_for(sortie))
            assert len(in_force) <= 1
            readers = [revision for revision in revisions if find_readers(revision).filter(activity=sortie).exists()]
            assert readers == in_force

    def check_text_since_approval(self, revision):
        """What was approved and not sent back since is, to the letter, what was signed."""
        if revision.approver is None:
            return
        signed = SignOff.objects.of(revision).filter(meaning__startswith="Approved").last()
        later = LedgerEntry.objects.of(revision.KIND, revision.pk).filter(version__gt=signed.signed_version)
        assert not any(name.startswith("step") for entry in later for name in entry.changes)
