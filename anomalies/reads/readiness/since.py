"""What differs between two activities: hardware, procedures, kit, training, limits, risks, anomalies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from anomalies.clock import now
from anomalies.models import (
    Activity,
    Anomaly,
    Baseline,
    CorrectiveAction,
    Installation,
    LedgerEntry,
    ProcedureRevision,
    ProcedureUse,
    Requirement,
)
from anomalies.models.base import Record
from anomalies.reads.procedures import read_redline
from anomalies.reads.readiness.scope import Scope, find_previous, read_scope
from anomalies.risk import write_code
from anomalies.states import ActionState, InstallationState
from config.kit.figures import write_plain

DONE = (ActionState.DONE, ActionState.VERIFIED, ActionState.EFFECTIVE)
K = CorrectiveAction.Kind
HEADS = {K.KIT: "Kit", K.TRAINING: "Training", K.LIMIT: "Limits", K.DESIGN: "Design", K.INSPECTION: "Inspections"}
ORDER = ("Hardware", "Design", "Procedures", "Kit", "Training", "Limits", "Inspections", "Risks", "Anomalies")


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that isn't as it was, as a sentence, with the record that shows it."""

    head: str
    text: str
    record: Record


@dataclass(frozen=True, slots=True)
class Since:
    """Everything that differs from an earlier activity; `groups` gives the differences under their heads."""

    earlier: Activity
    later: Activity
    differences: tuple[Difference, ...]

    @property
    def groups(self) -> list[tuple[str, list[Difference]]]:
        """Head -> differences, heads without any left out."""
        found = [(head, [each for each in self.differences if each.head == head]) for head in ORDER]
        return [(head, rows) for head, rows in found if rows]


def read_since(later: Activity, earlier: Activity | None = None) -> Since | None:
    """Return what differs from the earlier activity, or from the last of its kind; None if there was none."""
    before = earlier or find_previous(later)
    if before is None:
        return None
    span = (_begin(before), min(later.actual_start or now(), now()))
    scope = read_scope(later)
    found = [
        *_list_hardware(before, scope),
        *_list_installations(scope, span),
        *_list_procedures(before, later),
        *_list_actions(scope, span),
        *_list_requirements(later, span),
        *_list_risks(span),
        *_list_anomalies(scope, span),
    ]
    return Since(before, later, tuple(found))


def _begin(activity: Activity) -> datetime:
    return activity.actual_start or activity.planned_start


def _list_hardware(before: Activity, scope: Scope) -> Iterator[Difference]:
    then = {row.item_id: row.item for row in before.hardware_uses.filter(active=True).select_related("item__type")}
    uses = scope.activity.hardware_uses.filter(active=True).select_related("item__type")
    isn = {row.item_id: row.item for row in uses}
    for key in sorted(isn.keys() - then.keys()):
        yield Difference("Hardware", f"{isn[key].type.name}, {isn[key]}, is used; it wasn't.", isn[key])
    for key in sorted(then.keys() - isn.keys()):
        yield Difference("Hardware", f"{then[key].type.name}, {then[key]}, isn't used any more.", then[key])


def _list_installations(scope: Scope, span: tuple[datetime, datetime]) -> Iterator[Difference]:
    within = Installation.objects.filter(Q(parent__in=scope.items) | Q(item__in=scope.items))
    came = within.filter(installed_at__range=span, state=InstallationState.INSTALLED)
    for row in came.select_related("item__type", "parent__type").order_by("installed_at"):
        where = f"{row.parent.type.name}, {row.parent}"
        text = f"{row.item.type.name}, {row.item}, was installed in {where}, on {row.installed_at:%Y-%m-%d}."
        yield Difference("Hardware", text, row.item)
    for row in (
        within.filter(removed_at__range=span).select_related("item__type", "parent__type").order_by("removed_at")
    ):
        where = f"{row.parent.type.name}, {row.parent}"
        text = f"{row.item.type.name}, {row.item}, was removed from {where}, on {row.removed_at:%Y-%m-%d}."
        yield Difference("Hardware", text, row.item)


def _list_procedures(before: Activity, later: Activity) -> Iterator[Difference]:
    used = ProcedureUse.objects.filter(activity=later, active=True).values("procedure")
    then, isn = (
        {
            row.procedure_id: row
            for row in ProcedureRevision.objects.in_force_for(each)
            .filter(procedure__in=used)
            .select_related("procedure")
        }
        for each in (before, later)
    )
    for key, row in sorted(isn.items(), key=lambda pair: pair[1].procedure.number):
        old = then.get(key)
        if old == row:
            continue
        if old is None:
            yield Difference("Procedures", f"{row.procedure} is in force, revision {row.number}; it wasn't.", row)
            continue
        counts = ", ".join(f"{count} {word}" for word, count in read_redline(row, old).count().items() if count)
        said = f" ({counts})" if counts else ""
        text = f"{row.procedure}: revision {row.number} in place of {old.number}{said}. {row.summary}"
        yield Difference("Procedures", text, row)


def _list_actions(scope: Scope, span: tuple[datetime, datetime]) -> Iterator[Difference]:
    rows = CorrectiveAction.objects.filter(state__in=DONE, done_at__range=span)
    concerns = Q(needed_before=scope.activity) | Q(anomaly__hardware_concerned__item__type__in=scope.types)
    for row in rows.filter(concerns).exclude(kind__in=(K.REPLACEMENT, K.PROCEDURE)).distinct().order_by("done_at"):
        verified = "" if row.state != ActionState.DONE else " It awaits verification."
        yield Difference(HEADS[K(row.kind)], f"{row}: {row.done_note}{verified}", row)


def _list_requirements(later: Activity, span: tuple[datetime, datetime]) -> Iterator[Difference]:
    added = LedgerEntry.objects.filter(action="requirement.add", at__range=span).values_list("record_id", flat=True)
    for row in Requirement.objects.asked_of(later.kind).filter(pk__in=list(added)):
        text = f"{row.get_sort_display()} asked for since: {row.statement}."
        yield Difference("Training", text, row)


def _list_risks(span: tuple[datetime, datetime]) -> Iterator[Difference]:
    entries = LedgerEntry.objects.filter(kind=Anomaly.KIND, action="anomaly.reassess", at__range=span)
    rows = list(entries.order_by("sequence"))
    anomalies = Anomaly.objects.in_bulk([entry.record_id for entry in rows])
    for entry in rows:
        moved = {name: entry.changes.get(name) for name in ("severity", "probability")}
        if not any(moved.values()):
            continue
        row = anomalies[entry.record_id]
        was = [pair[0] if (pair := moved[name]) else getattr(row, name) for name in moved]
        isn = [pair[1] if (pair := moved[name]) else getattr(row, name) for name in moved]
        text = f"{row} was reassessed from {write_code(*was)} to {write_code(*isn)}: {entry.reason}".rstrip(": ")
        yield Difference("Risks", text, row)
    for base in Baseline.objects.filter(taken_at__range=span).select_related("investigation__anomaly"):
        if base.before is None or base.after is None:
            continue
        moved_by = f"from {write_plain(base.before)} to {write_plain(base.after)} with {', '.join(base.actions)}"
        text = f"The top event of {base.investigation.anomaly} went {moved_by} in the tree."
        yield Difference("Risks", text, base)


def _list_anomalies(scope: Scope, span: tuple[datetime, datetime]) -> Iterator[Difference]:
    touches = Q(hardware_concerned__item__type__in=scope.types) | Q(activity__kind=scope.activity.kind)
    rows = Anomaly.objects.filter(touches | Q(constraints__activity=scope.activity)).distinct()
    for row in rows.filter(reported_at__range=span).order_by("reported_at"):
        yield Difference("Anomalies", f"{row} was reported on {row.reported_at:%Y-%m-%d}.", row)
    for row in rows.filter(closed_at__range=span, state="closed").order_by("closed_at"):
        yield Difference("Anomalies", f"{row} was closed on {row.closed_at:%Y-%m-%d}: {row.closing_statement}", row)
