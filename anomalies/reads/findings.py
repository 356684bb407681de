"""Findings as pages show them: with the evidence they rest on and with where everybody on the board stands."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.models import User
from django.db.models import Prefetch, QuerySet

from anomalies.models import Anomaly, Concurrence, Evidence, Finding, FindingEvidence
from anomalies.models.finding import FindingQuerySet
from anomalies.states import FindingState


@dataclass(frozen=True, slots=True)
class Position:
    """Where one person stands. `is_current`: on the wording as it is now; `is_seated`: a member of the board still."""

    person: User
    stand: Concurrence | None
    is_current: bool
    is_seated: bool

    @property
    def is_dissent(self) -> bool:
        """A dissent, on whatever wording: it's never left out."""
        return self.stand is not None and self.stand.stand == Concurrence.Stand.DISSENTS


@dataclass(frozen=True, slots=True)
class FindingView:
    """A finding, its evidence, and all positions: those who dissent first."""

    finding: Finding
    evidence: tuple[Evidence, ...]
    positions: tuple[Position, ...]

    @property
    def dissents(self) -> list[Position]:
        """The dissents."""
        return [each for each in self.positions if each.is_dissent]

    @property
    def concurring(self) -> list[Position]:
        """Those who concur with the wording as it is."""
        return [each for each in self.positions if each.stand and not each.is_dissent and each.is_current]

    @property
    def awaited(self) -> list[Position]:
        """Members who must still say where they stand on the wording as it is."""
        if self.finding.state != FindingState.PROPOSED:
            return []
        return [each for each in self.positions if each.is_seated and not each.is_current]


def read_dissents(finding_ids: Collection[int]) -> dict[int, list[Concurrence]]:
    """Return key of finding -> every dissent from it: for whatever shows a finding's text by itself; one query."""
    rows = Concurrence.objects.filter(finding__in=finding_ids, stand=Concurrence.Stand.DISSENTS)
    found: dict[int, list[Concurrence]] = {}
    for row in rows.select_related("member", "finding").order_by("pk"):
        found.setdefault(row.finding_id, []).append(row)
    return found


def with_positions(findings: FindingQuerySet) -> FindingQuerySet:
    """Return the findings with all that `view_finding` needs, in four queries however many they are."""
    rests: QuerySet[Any] = FindingEvidence.objects.filter(active=True).select_related("evidence__anomaly")
    stands: QuerySet[Any] = Concurrence.objects.select_related("member")
    return findings.select_related("author", "anomaly").prefetch_related(
        Prefetch("rests_on", queryset=rests), Prefetch("concurrences", queryset=stands)
    )


def read_board(anomaly: Anomaly) -> list[User]:
    """Return who sits on the board, in the order in which they were seated."""
    return [seat.person for seat in anomaly.board.filter(active=True).select_related("person")]


def view_finding(finding: Finding, board: Iterable[User]) -> FindingView:
    """Return a finding that `with_positions` gathered, seen against its board."""
    seated = {person.pk: person for person in board}
    stands = {row.member_id: row for row in finding.concurrences.all()}
    people = seated | {row.member_id: row.member for row in stands.values()}
    positions = [
        Position(person, stands.get(pk), pk in stands and stands[pk].wording == finding.wording, pk in seated)
        for pk, person in people.items()
    ]
    positions.sort(key=lambda each: not each.is_dissent)
    return FindingView(finding, tuple(row.evidence for row in finding.rests_on.all()), tuple(positions))


def read_findings(anomaly: Anomaly) -> list[FindingView]:
    """Return all findings of an anomaly, those withdrawn last."""
    board = read_board(anomaly)
    findings = list(with_positions(anomaly.findings.all()))
    for finding in findings:
        finding.anomaly = anomaly  # one object, which asks once who is seated
    views = [view_finding(finding, board) for finding in findings]
    return sorted(views, key=lambda view: view.finding.state == FindingState.WITHDRAWN)
