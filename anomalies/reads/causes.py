"""Causes as pages show them: the why-chain, each with what it rests on and what is done about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet

from anomalies.models import (
    ActionCause,
    Anomaly,
    Cause,
    CauseEvidence,
    CauseFinding,
    CorrectiveAction,
    Evidence,
    Finding,
)
from anomalies.models.cause import CauseQuerySet
from anomalies.reads.findings import FindingView, read_board, view_finding, with_positions


@dataclass(frozen=True, slots=True)
class CauseView:
    """A cause; its reasons are the causes that led to it, contributing factors last."""

    cause: Cause
    findings: tuple[FindingView, ...]
    evidence: tuple[Evidence, ...]
    actions: tuple[CorrectiveAction, ...]
    reasons: tuple[CauseView, ...] = ()


def with_support(causes: CauseQuerySet) -> CauseQuerySet:
    """Return the causes with all that the views need, in a fixed number of queries."""

    findings = Prefetch("finding", queryset=with_positions(Finding.objects.all()))
    rests: QuerySet[Any] = CauseFinding.objects.filter(active=True).prefetch_related(findings)
    judged: QuerySet[Any] = CauseEvidence.objects.filter(active=True).select_related("evidence__anomaly")
    addressed: QuerySet[Any] = ActionCause.objects.filter(active=True).select_related("action__owner")
    return causes.select_related("author", "judged_by", "tree", "anomaly").prefetch_related(
        Prefetch("rests_on", queryset=rests),
        Prefetch("judged_on", queryset=judged),
        Prefetch("addressed_by", queryset=addressed),
    )


def read_why_chain(anomaly: Anomaly) -> list[CauseView]:
    """Return the causes that led directly to what happened, each with its reasons below it."""
    board = read_board(anomaly)
    rows = list(with_support(anomaly.causes.all()))
    below: dict[int | None, list[Cause]] = {}
    for cause in rows:
        below.setdefault(cause.parent_id, []).append(cause)

    def view(cause: Cause) -> CauseView:
        return CauseView(
            cause,
            tuple(view_finding(row.finding, board) for row in cause.rests_on.all()),
            tuple(row.evidence for row in cause.judged_on.all()),
            tuple(row.action for row in cause.addressed_by.all()),
            tuple(view(reason) for reason in order(below.get(cause.pk, []))),
        )

    def order(causes: list[Cause]) -> list[Cause]:
        return sorted(causes, key=lambda cause: (cause.kind == Cause.Kind.CONTRIBUTING, cause.position))

    return [view(cause) for cause in order(below.get(None, []))]


def find_in_chain(chain: list[CauseView], cause: Cause) -> list[CauseView]:
    """Return the way from what happened down to the cause, which is the last one; empty if it isn't there."""
    for view in chain:
        if view.cause.pk == cause.pk:
            return [view]
        way = find_in_chain(list(view.reasons), cause)
        if way:
            return [view, *way]
    return []
