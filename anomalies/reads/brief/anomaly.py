"""What the brief says of one anomaly: seen, cause and how sure, replaced, tested, changed, what remains, dissent."""

from __future__ import annotations

from collections.abc import Iterator

from anomalies.models import Anomaly, Cause, Concurrence, CorrectiveAction
from anomalies.people import name_of
from anomalies.reads.brief.gather import find_investigation, list_revisions
from anomalies.reads.brief.parts import Part, Sentence, end_sentence, say
from anomalies.reads.procedures import read_redline
from anomalies.reads.readiness.checklist import Checklist
from anomalies.reads.readiness.figures import find_figure
from anomalies.reads.readiness.work import SETTLED
from anomalies.redline import Line, Mark
from anomalies.states import ActionState, CauseState, ConstraintState, FindingState, InvestigationState

K = CorrectiveAction.Kind
SURE = {
    CauseState.CONFIRMED: "confirmed",
    CauseState.CREDIBLE: "credible, not confirmed",
    CauseState.OPEN: "not judged yet",
}


def describe_anomaly(anomaly: Anomaly, found: Checklist) -> Part:
    """Return all that the records say of it; headings under which nothing is recorded are left out."""
    actions = [row for row in anomaly.actions.all() if row.state != ActionState.DROPPED]
    parts = (
        Part("What was seen", tuple(_say_seen(anomaly))),
        Part("What caused it", tuple(_say_causes(anomaly))),
        Part("What was replaced, and how it was tested", tuple(_say_replaced(actions))),
        Part("What changed in the procedures", tuple(_say_procedures(anomaly))),
        Part("What else was done", tuple(_say_others(actions))),
        Part("What remains", tuple(_say_rest(anomaly, actions, found))),
        Part("Dissent", tuple(_say_dissent(anomaly))),
    )
    return Part(str(anomaly), (), tuple(part for part in parts if not part.is_empty))


def _say_seen(anomaly: Anomaly) -> Iterator[Sentence]:
    during = f" during {anomaly.activity}" if anomaly.activity else ""
    where = f" at {anomaly.place}" if anomaly.place else ""
    seen = end_sentence(anomaly.description or anomaly.title)
    yield say(f"On {anomaly.occurred_at:%Y-%m-%d %H:%M} UTC{during}{where}: {seen}", anomaly)
    if anomaly.activity_cut_short and anomaly.activity:
        yield say(f"It ended {anomaly.activity} early.", anomaly, anomaly.activity)
    if anomaly.immediate_response:
        yield say(f"At once: {end_sentence(anomaly.immediate_response)}", anomaly)
    if anomaly.risk:
        text = f"Its risk is {anomaly.risk_code} ({anomaly.risk.label}): {end_sentence(anomaly.risk_rationale)}"
        yield say(text, anomaly)


def _say_causes(anomaly: Anomaly) -> Iterator[Sentence]:
    for cause in (row for row in anomaly.causes.all() if row.state != CauseState.RULED_OUT):
        text = f"{cause.get_kind_display()}, {SURE[CauseState(cause.state)]}: {end_sentence(cause.statement)}"
        yield say(f"{text} {end_sentence(cause.rationale)}" if cause.rationale else text, cause, quiet=_is_minor(cause))
    for cause in (row for row in anomaly.causes.all() if row.state == CauseState.RULED_OUT):
        yield say(f"Ruled out: {end_sentence(cause.statement)} {end_sentence(cause.rationale)}", cause, quiet=True)
    for finding in (row for row in anomaly.findings.all() if row.state == FindingState.ADOPTED):
        yield say(f"The board found: {end_sentence(finding.statement)}", finding, quiet=True)
    yield from _say_tree(anomaly)
    if anomaly.unexplained_at:
        by = name_of(anomaly.unexplained_by)
        yield say(f"It stays unexplained; {by} accepted that: {end_sentence(anomaly.unexplained_rationale)}", anomaly)


def _is_minor(cause: Cause) -> bool:
    return cause.kind in (Cause.Kind.CONTRIBUTING, Cause.Kind.INTERMEDIATE)


def _say_tree(anomaly: Anomaly) -> Iterator[Sentence]:
    investigation = find_investigation(anomaly)
    if investigation is None:
        return
    if investigation.state == InvestigationState.CONCLUDED:
        yield say(f"The investigation by fault tree concluded: {end_sentence(investigation.conclusion)}", investigation)
    else:
        yield say("The investigation by fault tree isn't concluded.", investigation)
    figure = find_figure(anomaly)
    if figure is not None:
        head = "" if figure.value is None else "Probability of its top event: "
        yield say(f"{head}{figure.text}", investigation)


def _say_replaced(actions: list[CorrectiveAction]) -> Iterator[Sentence]:
    for row in actions:
        if row.kind != K.REPLACEMENT:
            continue
        if row.removed_item and row.installed_item:
            which = f"{row.removed_item.type.name}, {row.removed_item}, was replaced by {row.installed_item}"
            yield say(f"{which}: {end_sentence(row.done_note)}", row, row.removed_item, row.installed_item)
            yield say(f"Retest {row.get_retest_display().lower()}: {end_sentence(row.retest_note)}", row)
        else:
            yield say(f"Not replaced yet: {end_sentence(row.title)}", row)
        yield _say_verified(row)


def _say_verified(row: CorrectiveAction) -> Sentence:
    if row.state in SETTLED:
        return say(f"{row.number} was verified by {name_of(row.verifier)}: {end_sentence(row.verification_note)}", row)
    return say(f"{row.number} isn't verified: it is {row.get_state_display().lower()}.", row)


def _say_procedures(anomaly: Anomaly) -> Iterator[Sentence]:
    for row in list_revisions(anomaly):
        yield say(f"{row.procedure}, revision {row.number}: {end_sentence(row.summary)}", row)
        for line in read_redline(row, row.base).lines:
            if line.is_touched:
                yield from (say(text, row, quiet=True) for text in _say_line(line))


def _say_line(line: Line) -> Iterator[str]:
    """Give what became of a step, and of the warnings before it, each as a sentence."""
    number = line.new_number or line.old_number
    kept = "".join(span.text for span in line.words if span.mark != Mark.REMOVED)
    gone = "".join(span.text for span in line.words if span.mark != Mark.ADDED)
    if line.mark == Mark.ADDED:
        yield f"Step {number} is new: {end_sentence(kept)}"
    elif line.mark == Mark.REMOVED:
        yield f"Step {number} is gone: {end_sentence(gone)}"
    elif kept != gone:
        yield f"Step {number} now reads: {end_sentence(kept)} It read: {end_sentence(gone)}"
    if line.moved:
        yield f"Step {line.old_number} is step {line.new_number} now."
    for change in line.fields:
        yield f"Step {number}, {change.name}: {change.after or 'none'}; it was {change.before or 'none'}."
    for notice in line.notices if line.mark != Mark.REMOVED else ():
        if notice.mark != Mark.SAME:
            text = "".join(span.text for span in notice.words if span.mark != Mark.REMOVED) or "(gone)"
            kind = (notice.new_kind or notice.old_kind).capitalize()
            yield f"{kind} before step {number}, {notice.mark}: {end_sentence(text)}"


def _say_others(actions: list[CorrectiveAction]) -> Iterator[Sentence]:
    for row in actions:
        if row.kind in (K.REPLACEMENT, K.PROCEDURE):
            continue
        if row.done_at:
            yield say(f"{row.get_kind_display()}, {end_sentence(row.title)} {end_sentence(row.done_note)}", row)
        else:
            yield say(f"{row.get_kind_display()}, not done: {end_sentence(row.title)}", row)
        yield _say_verified(row)


def _say_rest(anomaly: Anomaly, actions: list[CorrectiveAction], found: Checklist) -> Iterator[Sentence]:
    for row in (each for each in anomaly.constraints.all() if each.state == ConstraintState.IN_FORCE):
        yield say(f"A constraint is in force: {end_sentence(row.statement)}", row)
    keys = (f"anomaly-{anomaly.pk}", *(f"action-{row.pk}" for row in actions))
    for item in (found.by_key[key] for key in keys if key in found.by_key):
        if item.waiver and item.standing == "accepted":
            waiver = item.waiver
            risk = f"with risk {waiver.risk_code}, until {waiver.expires_at:%Y-%m-%d}, by {name_of(waiver.granted_by)}"
            yield say(f"Accepted {risk}: {end_sentence(waiver.reason)}", waiver)
        elif item.is_open:
            yield say(f"Open: {end_sentence(item.title)} {end_sentence(item.because)}", item.record)
    if anomaly.closed_at:
        yield say(f"Closed by {name_of(anomaly.closed_by)}: {end_sentence(anomaly.closing_statement)}", anomaly)


def _say_dissent(anomaly: Anomaly) -> Iterator[Sentence]:
    for finding in (each for each in anomaly.findings.all() if each.state != FindingState.WITHDRAWN):
        for row in finding.concurrences.all():
            if row.stand == Concurrence.Stand.DISSENTS:
                what = f"{finding.label} ({end_sentence(finding.statement)[:-1]})"
                yield say(f"{name_of(row.member)} dissents from {what}: {end_sentence(row.text)}", finding)
