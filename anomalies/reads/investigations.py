"""An investigation as its page shows it: what is held of every event, and what follows from all that is known."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch, QuerySet

from anomalies.models import (
    Bearing,
    Cause,
    Disposition,
    DispositionEvidence,
    DispositionFinding,
    Inspection,
    Investigation,
)
from anomalies.reads.known import Known, decides, find_posterior, list_known, split_known
from anomalies.states import CauseState
from config.kit.errors import DomainError
from faulttree.facade import (
    Explanation,
    InspectionAsked,
    Moved,
    Part,
    Parts,
    Posterior,
    TreeRevision,
    Worth,
    describe_difference,
    find_newest,
    read_parts,
    read_worth,
)


@dataclass(frozen=True, slots=True)
class EventRow:
    """A basic event or gate; `moved` is None where there is no posterior, `covered` where gates above decide it."""

    part: Part
    moved: Moved | None
    disposition: Disposition | None
    covered: bool
    causes: tuple[Cause, ...] = ()

    @property
    def belief(self) -> float:
        """What it is ranked by: the posterior, or the probability given the top event."""
        if self.moved is None:
            return -1.0
        return self.moved.given_top if self.moved.posterior is None else self.moved.posterior

    @property
    def is_open(self) -> bool:
        """Nothing decides it yet."""
        return not self.covered and (self.disposition is None or self.disposition.state == CauseState.OPEN)


@dataclass(frozen=True, slots=True)
class InspectionRow:
    """A possible inspection with what it would tell; `per_cost` is bits per unit of what was chosen, None without."""

    inspection: Inspection
    worth: Worth | None
    per_cost: float | None


@dataclass(frozen=True, slots=True)
class Mismatch:
    """Where causes and events don't go together: a sentence, and the record it concerns, if there is one."""

    text: str
    cause: Cause | None = None
    event: str = ""


@dataclass
class InvestigationView:
    """Everything on the page. `stopped` says why there is no posterior; `lost` is what no event is left for."""

    investigation: Investigation
    parts: Parts
    known: list[Known]
    lost: list[Known]
    posterior: Posterior | None
    stopped: str
    events: list[EventRow]
    gates: list[EventRow]
    inspections: list[InspectionRow]
    carried_out: list[Inspection]
    mismatches: list[Mismatch]
    newest: TreeRevision | None = None
    origin_newest: TreeRevision | None = None
    differences: list[str] = field(default_factory=list)
    labels: dict[str, str] = field(default_factory=dict)

    @property
    def open_events(self) -> int:
        """How many basic events nothing decides yet."""
        return sum(row.is_open for row in self.events)

    @property
    def conflict(self) -> list[Known]:
        """The fewest pieces that can't be true together."""
        found = self.posterior.conflict if self.posterior else None
        return [each for each in self.known if found and each.key in found.keys]

    @property
    def explanations(self) -> tuple[Explanation, ...]:
        """The leading minimal cut sets."""
        return self.posterior.explanations if self.posterior else ()

    @property
    def has_newer(self) -> bool:
        """A newer revision of its own tree waits to be taken up."""
        return self.newest is not None and self.newest.pk != self.investigation.revision_id


def read_investigation(investigation: Investigation, *, order: str = "hours") -> InvestigationView:
    """Return the whole page; raises BadAssembly for a tree that can't be put together.

    order : what inspections are ranked by: bits per "cost", per "hours", or plain "bits"
    """
    parts = read_parts(investigation.revision, investigation.top)
    known, lost = split_known(list_known(investigation), parts)
    posterior, stopped = None, ""
    try:
        posterior = find_posterior(investigation, known)
    except DomainError as error:
        stopped = error.message
    dispositions = {row.event: row for row in read_dispositions(investigation)}
    causes = list_causes(investigation)
    rows = _list_rows(parts, posterior, dispositions, causes)
    inspections = list(investigation.inspections.select_related("added_by"))
    possible = [row for row in inspections if row.state == "possible"]
    return InvestigationView(
        investigation,
        parts,
        known,
        lost,
        posterior,
        stopped,
        sorted((row for row in rows if not row.part.is_gate), key=lambda row: (-row.belief, row.part.depth)),
        [row for row in rows if row.part.is_gate and row.part.name != parts.top],
        rank_inspections(investigation, known, possible, order)
        if posterior and not posterior.conflict
        else [InspectionRow(row, None, None) for row in possible],
        [row for row in inspections if row.state == "carried_out"],
        find_mismatches(investigation, dispositions, causes, parts),
        newest=find_newest(investigation.tree_id),
        origin_newest=find_newest(investigation.origin.tree_id),
        labels={part.name: part.label or part.name for part in parts.by_name.values()},
    )


def read_differences(view: InvestigationView) -> list[str]:
    """Return how the tree in use differs from the newest revision of the tree it was copied from, in sentences."""
    if view.origin_newest is None:
        return []
    return describe_difference(view.origin_newest, view.investigation.revision)


def read_dispositions(investigation: Investigation) -> QuerySet[Disposition]:
    """Return the dispositions with all that pages show of them."""
    evidence: QuerySet[Any] = DispositionEvidence.objects.filter(active=True).select_related("evidence")
    findings: QuerySet[Any] = DispositionFinding.objects.filter(active=True).select_related("finding")
    return investigation.dispositions.select_related("judged_by").prefetch_related(
        Prefetch("judged_on", queryset=evidence), Prefetch("rests_on", queryset=findings)
    )


def list_causes(investigation: Investigation) -> dict[str, list[Cause]]:
    """Return the causes that name an event of this tree or of the one it was copied from, by event; "" names none."""
    trees = {investigation.tree_id, investigation.origin.tree_id}
    found: dict[str, list[Cause]] = {}
    for cause in investigation.anomaly.causes.all():
        event = cause.event_code if cause.tree_id in trees else ""
        found.setdefault(event, []).append(cause)
    return found


def find_mismatches(
    investigation: Investigation,
    dispositions: dict[str, Disposition],
    causes: dict[str, list[Cause]],
    parts: Parts,
) -> list[Mismatch]:
    """Return confirmed causes without an event, confirmed events without a cause, and what contradicts each other."""
    found = [
        Mismatch(f"{cause.label} is confirmed, and no event of this tree stands for it.", cause)
        for cause in causes.get("", [])
        if cause.state == CauseState.CONFIRMED
    ]
    for event, rows in causes.items():
        judged = dispositions.get(event)
        for cause in rows if event else []:
            if event not in parts.by_name:
                found.append(Mismatch(f"{cause.label} stands for {event}, which this tree doesn't have.", cause))
            elif {cause.state, judged.state if judged else ""} == {CauseState.CONFIRMED, CauseState.RULED_OUT}:
                words = (
                    f"{cause.label} is {cause.get_state_display().lower()}, but {event} isn't: one of them is wrong."
                )
                found.append(Mismatch(words, cause, event))
    found += [
        Mismatch(f"{event} is confirmed, and no cause stands for it: state one.", None, event)
        for event, judged in dispositions.items()
        if judged.state == CauseState.CONFIRMED and event not in causes and not _is_gate(parts, event)
    ]
    return found


def rank_inspections(
    investigation: Investigation, known: list[Known], possible: list[Inspection], order: str
) -> list[InspectionRow]:
    """Return the possible inspections, the one that tells most for its price first; those without a price come last."""
    here = read_parts(investigation.revision, investigation.top).by_name
    asked = [
        InspectionAsked(row.label, row.event, row.sensitivity, row.false_alarm) for row in possible if row.event in here
    ]
    pieces = tuple(each.piece for each in known)
    try:
        worth = read_worth(investigation.revision, investigation.top, investigation.mission_time, pieces, tuple(asked))
    except DomainError:
        worth = ()
    by_key = {each.key: each for each in worth}
    rows = [_weigh(row, by_key.get(row.label), order) for row in possible]
    return sorted(rows, key=lambda row: (row.per_cost is None, -(row.per_cost or 0.0), row.inspection.position))


def _weigh(inspection: Inspection, worth: Worth | None, order: str) -> InspectionRow:
    if worth is None:
        return InspectionRow(inspection, None, None)
    price = {"cost": inspection.cost, "hours": inspection.hours}.get(order, 1.0)
    if price is None:
        return InspectionRow(inspection, worth, None)
    return InspectionRow(inspection, worth, worth.bits / price if price else float("inf"))


def _list_rows(
    parts: Parts,
    posterior: Posterior | None,
    dispositions: dict[str, Disposition],
    causes: dict[str, list[Cause]],
) -> list[EventRow]:
    moved = {each.name: each for each in (*posterior.events, *posterior.gates)} if posterior else {}
    decided = {name for name, row in dispositions.items() if decides(row, parts)}
    waiting = {part.name for part in parts.find_open(decided)}
    return [
        EventRow(
            part,
            moved.get(name),
            dispositions.get(name),
            not part.is_gate and name not in waiting and name not in decided,
            tuple(causes.get(name, ())),
        )
        for name, part in parts.by_name.items()
    ]


def _is_gate(parts: Parts, name: str) -> bool:
    part = parts.by_name.get(name)
    return part is None or part.is_gate


def describe_bearing(bearing: Bearing) -> str:
    """Return what a bearing says, in words."""
    if bearing.says == Bearing.Says.TEST:
        result = "found it" if bearing.found else "did not find it"
        return f"a test of sensitivity {bearing.sensitivity:g} and false-alarm rate {bearing.false_alarm:g} {result}"
    if bearing.says == Bearing.Says.RATIO:
        return f"likelihood ratio {bearing.ratio:g}"
    return bearing.get_says_display().lower()
