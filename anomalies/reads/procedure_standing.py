"""How procedures stand: what is in force now, what comes next, who must still read it, and who signed it.

Gathered for many procedures at once, in as many queries as for one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from anomalies.clock import now
from anomalies.models import (
    Acknowledgement,
    CrewAssignment,
    LedgerEntry,
    Procedure,
    ProcedureRevision,
    ProcedureUse,
    SignOff,
)
from anomalies.states import RevisionState

PARTS = {"submit": "Author", "approve": "Approver", "release": "Releaser"}
"""Move -> the part that its last maker has in a revision that is approved or released."""


@dataclass(frozen=True, slots=True)
class Signed:
    """Who took which part in a revision, when, and the hash of the content as it was then."""

    part: str
    name: str
    at: datetime
    content_hash: str


@dataclass(slots=True)
class StandingRevision:
    """A revision that is in force or comes next, with what people owe it. `readers` is how many people must read it."""

    revision: ProcedureRevision
    missing: list[CrewAssignment] = field(default_factory=list)
    readers: int = 0
    signed: list[Signed] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Standing:
    """What is in force now, None if nothing is, and what comes next, soonest first."""

    in_force: StandingRevision | None
    coming: tuple[StandingRevision, ...]

    @property
    def revisions(self) -> tuple[StandingRevision, ...]:
        """All of them, what is in force first."""
        return ((self.in_force,) if self.in_force else ()) + self.coming


def read_standings(procedures: Iterable[Procedure]) -> dict[int, Standing]:
    """Return key of procedure -> how it stands; five queries for any number of them."""
    keys = [procedure.pk for procedure in procedures]
    known = ProcedureRevision.objects.filter(procedure_id__in=keys).defer("steps")
    by_procedure: dict[int, list[ProcedureRevision]] = defaultdict(list)
    for revision in known.select_related("procedure", "author", "effective_from").order_by("number"):
        by_procedure[revision.procedure_id].append(revision)
    moment = now()
    standings = {key: _find_standing(by_procedure[key], moment) for key in keys}
    shown = {each.revision.pk: each for standing in standings.values() for each in standing.revisions}
    _add_readers(shown)
    _add_signatures(shown)
    return standings


def _find_standing(revisions: Sequence[ProcedureRevision], moment: datetime) -> Standing:
    """Choose as `in_force_for` does: the newest that is effective by now, and nothing if that one is withdrawn."""
    released = [(each.effective_from.planned_start, each) for each in revisions if each.effective_from]
    effective = [each for start, each in released if start <= moment]
    in_force = effective[-1] if effective and effective[-1].state != RevisionState.WITHDRAWN else None
    newest = effective[-1].number if effective else 0
    later = [
        (start, each)
        for start, each in released
        if start > moment and each.number > newest and each.state != RevisionState.WITHDRAWN
    ]
    later.sort(key=lambda pair: (pair[0], pair[1].number))
    coming = [each for _, each in later] + [each for each in revisions if each.state == RevisionState.APPROVED]
    return Standing(StandingRevision(in_force) if in_force else None, tuple(StandingRevision(each) for each in coming))


def _add_readers(shown: dict[int, StandingRevision]) -> None:
    """Add who of the crews to come must read each revision and hasn't; a person counts once for each revision."""
    uses: Any = ProcedureUse.objects.to_come().with_revision()
    concerned = list(uses.filter(revision_id__in=list(shown)))
    crews: dict[int, list[CrewAssignment]] = defaultdict(list)
    crew = CrewAssignment.objects.filter(active=True, activity_id__in={use.activity_id for use in concerned})
    for each in crew.select_related("person", "activity").order_by("activity__planned_start", "activity_id", "pk"):
        crews[each.activity_id].append(each)
    given = Acknowledgement.objects.filter(revision_id__in=list(shown)).values_list("revision_id", "person_id")
    read = set(given)
    must: dict[int, dict[int, CrewAssignment]] = defaultdict(dict)
    for use in concerned:
        for each in crews[use.activity_id]:
            if use.role in ("", each.role):
                must[use.revision_id].setdefault(each.person_id, each)
    for key, people in must.items():
        shown[key].readers = len(people)
        shown[key].missing = [each for person, each in people.items() if (key, person) not in read]


def _add_signatures(shown: dict[int, StandingRevision]) -> None:
    """Add who submitted, approved and released each revision last: what was sent back before doesn't hold."""
    actions = {f"{ProcedureRevision.KIND}.{move}": part for move, part in PARTS.items()}
    entries = LedgerEntry.objects.filter(kind=ProcedureRevision.KIND, record_id__in=list(shown), action__in=actions)
    last = {(entry.record_id, entry.action): entry for entry in entries.order_by("sequence")}
    signatures = SignOff.objects.filter(signed_kind=ProcedureRevision.KIND, signed_id__in=list(shown))
    by_version = {(each.signed_id, each.signed_version): each for each in signatures}
    for key, each in shown.items():
        each.signed = list(_read_signed(each.revision, [last.get((key, action)) for action in actions], by_version))


def _read_signed(
    revision: ProcedureRevision, entries: Sequence[LedgerEntry | None], signatures: dict[tuple[int, int], SignOff]
) -> Iterator[Signed]:
    """An author submits and gives no password, so the ledger's hash stands for the one that others signed."""
    for part, entry in zip(PARTS.values(), entries, strict=True):
        signature = signatures.get((revision.pk, entry.version - 1)) if entry else None
        if entry and part == PARTS["submit"]:
            yield Signed(
                part, revision.author.get_full_name() or revision.author.username, entry.at, entry.content_hash
            )
        elif signature:
            yield Signed(part, signature.signer_name, signature.signed_at, signature.signed_hash)
