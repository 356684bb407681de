"""Procedures and their revisions as lists and pages show them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.models import User
from django.db.models import F, Prefetch, Q

from anomalies.models import Acknowledgement, CrewAssignment, Procedure, ProcedureRevision
from anomalies.models.procedure import UNDECIDED, ProcedureQuerySet
from anomalies.reads.procedure_standing import Standing
from anomalies.reads.procedures import find_readers, find_unread
from anomalies.states import RevisionState
from anomalies.steps import Notice, Step, Steps, measure_depth, number_steps
from config.kit.addresses import read_choice, read_text

SHOW = {"": "All", "unread": "For me to read", "undecided": "Being changed", "new": "Nothing released"}
HEADER = ("number", "title", "kind", "released revision", "in force from", "revision being changed", "its state")


@dataclass(frozen=True, slots=True)
class ProcedureFilter:
    """What the list shows; made from an address, and written as one."""

    show: str = ""
    kind: str = ""
    words: str = ""

    @classmethod
    def read(cls, query: Mapping[str, str]) -> ProcedureFilter:
        """Return what the address asks for; what makes no sense is left out."""
        kind = read_choice(query, "kind", Procedure.Kind.values)
        return cls(show=read_choice(query, "show", SHOW), kind=kind, words=read_text(query))

    @property
    def query(self) -> str:
        """The address of the filter, ending in & unless it's empty: a parameter may follow."""
        given = {name: getattr(self, name) for name in ("show", "kind", "words") if getattr(self, name)}
        return f"{urlencode(given)}&" if given else ""

    @property
    def is_narrow(self) -> bool:
        """Something is filtered, besides what the tabs choose."""
        return bool(self.kind or self.words)


def find_procedures(person: User, wanted: ProcedureFilter) -> ProcedureQuerySet:
    """Return the procedures that the filter lets through, each with its `current` revisions: `list_current`."""
    rows = Procedure.objects.visible_to(person)
    if wanted.show == "unread":
        rows = rows.filter(pk__in=find_unread(person).values("procedure"))
    elif wanted.show == "undecided":
        rows = rows.filter(revisions__state__in=UNDECIDED)
    elif wanted.show == "new":
        rows = rows.exclude(revisions__state=RevisionState.RELEASED)
    if wanted.kind:
        rows = rows.filter(kind=wanted.kind)
    for word in wanted.words.split():
        rows = rows.filter(Q(number__icontains=word) | Q(title__icontains=word))
    current = ProcedureRevision.objects.filter(state__in=(RevisionState.RELEASED, *UNDECIDED)).defer("steps")
    current = current.select_related("effective_from")
    return rows.prefetch_related(Prefetch("revisions", queryset=current, to_attr="current")).order_by("number")


def count_tabs(person: User) -> list[tuple[str, str, int]]:
    """Return name, label and number of rows of each tab."""
    return [(name, label, find_procedures(person, ProcedureFilter(show=name)).count()) for name, label in SHOW.items()]


@dataclass(frozen=True, slots=True)
class ProcedureRow:
    """A procedure with its released revision and the one that is being changed; None where there's none."""

    procedure: Procedure
    released: ProcedureRevision | None
    undecided: ProcedureRevision | None
    standing: Standing | None = None


def read_row(procedure: Any, standing: Standing | None = None) -> ProcedureRow:
    """Return the row of a procedure that `find_procedures` found; a page also says how it stands."""
    released = next((each for each in procedure.current if each.state == RevisionState.RELEASED), None)
    undecided = next((each for each in procedure.current if each.state in UNDECIDED), None)
    return ProcedureRow(procedure, released, undecided, standing)


def write_row(procedure: Procedure) -> list[Any]:
    """Return the cells of a procedure under HEADER."""
    row = read_row(procedure)
    return [
        procedure.number,
        procedure.title,
        Procedure.Kind(procedure.kind).label,
        row.released and row.released.number,
        row.released and str(row.released.effective_from),
        row.undecided and row.undecided.number,
        row.undecided and RevisionState(row.undecided.state).label,
    ]


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step as it's read: with its number, how deep it stands, and what warns of it."""

    step: Step
    number: str
    depth: int
    notices: tuple[Notice, ...]


def read_step_rows(steps: Steps) -> list[StepRow]:
    """Return the steps in reading order."""
    numbers = number_steps(steps)
    return [StepRow(step, numbers[step.key], measure_depth(numbers[step.key]), step.notices) for step in steps]


@dataclass(frozen=True, slots=True)
class Reader:
    """Somebody of a crew who must read a revision; None: hasn't yet."""

    crew: CrewAssignment
    read: Acknowledgement | None


def read_readers(revision: ProcedureRevision) -> list[Reader]:
    """Return who must read the revision for an activity to come, and who has; one query for each."""
    given = {each.person_id: each for each in find_acknowledgements(revision)}
    return [Reader(crew, given.get(crew.person_id)) for crew in find_readers(revision)]


def find_acknowledgements(revision: ProcedureRevision) -> Iterable[Acknowledgement]:
    """Return who has read it, in that order."""
    return revision.acknowledgements.select_related("person").order_by("acknowledged_at", "pk")


def find_uses(procedure: Procedure) -> Any:
    """Return the activities to come that use the procedure, each with the number of the revision that will hold."""
    uses = procedure.uses.all().to_come().with_revision()
    return uses.select_related("activity").order_by(F("activity__planned_start"), "pk")
