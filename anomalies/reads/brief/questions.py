"""The questions an outsider would ask, each answered by records or by none."""

from __future__ import annotations

from collections.abc import Iterator

from anomalies.models import Activity, Anomaly, CorrectiveAction, Procedure, ReadinessReview
from anomalies.people import name_of
from anomalies.reads.brief.gather import find_investigation
from anomalies.reads.brief.parts import Question, Sentence, end_sentence, say, say_item
from anomalies.reads.lessons.offers import read_offers
from anomalies.reads.readiness.checklist import Checklist
from anomalies.reads.readiness.figures import find_figure
from anomalies.reads.readiness.since import Since
from anomalies.reads.readiness.work import SETTLED
from anomalies.states import ActionState, CauseState


def ask_questions(
    activity: Activity,
    review: ReadinessReview | None,
    found: Checklist,
    since: Since | None,
    troubles: list[Anomaly],
) -> tuple[Question, ...]:
    """Return every question; the answers may be none."""
    actions = list(CorrectiveAction.objects.filter(anomaly__in=troubles).select_related("verifier", "doer"))
    return (
        Question("What ended the last one, or troubled it?", tuple(_say_last(found))),
        Question("Do you know why it happened?", tuple(_say_why(troubles))),
        Question("Could it happen again this time? How likely is it?", tuple(_say_likely(troubles))),
        Question("What is different from last time?", tuple(_say_different(since))),
        Question("How do you know that what you changed works?", tuple(_say_works(actions))),
        Question("Has somebody other than its doer checked each change?", tuple(_say_checked(actions))),
        Question("Does everybody who goes know of the changes?", tuple(_say_known(found))),
        Question("What have earlier crews learnt that bears on this, and was it heeded?", tuple(_say_learnt(activity))),
        Question("Who disagrees?", tuple(_say_disagrees(review))),
        Question("What are you still not sure of?", tuple(_say_unsure(troubles, found))),
        Question("What have you accepted, and who signed for it?", tuple(_say_accepted(found))),
        Question("What will you do if it happens again?", tuple(_say_cards(found))),
    )


def _say_last(found: Checklist) -> Iterator[Sentence]:
    before = found.scope.previous
    if before is None:
        return
    if before.state_reason:
        yield say(f"{before} ended early: {before.state_reason}", before)
    for row in before.anomalies.exclude(number=None).order_by("occurred_at"):
        yield say(f"{row}.", row)


def _say_why(troubles: list[Anomaly]) -> Iterator[Sentence]:
    for row in troubles:
        causes = (cause for cause in row.causes.all() if cause.kind in ("root", "proximate"))
        for cause in (cause for cause in causes if cause.state == CauseState.CONFIRMED):
            yield say(f"{row.number}: {cause.statement} Confirmed: {cause.rationale}", cause)


def _say_likely(troubles: list[Anomaly]) -> Iterator[Sentence]:
    for row in troubles:
        figure = find_figure(row) if find_investigation(row) else None
        if figure is not None:
            yield say(f"{row.number}: {figure.text}", figure.investigation)


def _say_different(since: Since | None) -> Iterator[Sentence]:
    for row in since.differences if since else ():
        if row.head not in ("Anomalies", "Risks"):
            yield say(row.text, row.record)


def _say_works(actions: list[CorrectiveAction]) -> Iterator[Sentence]:
    for row in actions:
        if row.retest == CorrectiveAction.Retest.PASSED:
            yield say(f"{row.number}, retest passed: {row.retest_note}", row)
        if row.state == ActionState.EFFECTIVE:
            yield say(f"{row.number} was found effective: {row.effectiveness_note}", row)


def _say_checked(actions: list[CorrectiveAction]) -> Iterator[Sentence]:
    for row in actions:
        if row.state in SETTLED:
            who = f"done by {name_of(row.doer)}, verified by {name_of(row.verifier)}"
            yield say(f"{row.number}: {who}: {row.verification_note}", row)
        elif row.state != ActionState.DROPPED:
            yield say(f"{row.number} hasn't been: it is {row.get_state_display().lower()}.", row)


def _say_known(found: Checklist) -> Iterator[Sentence]:
    for item in found.items:
        if item.kind == "reading":
            yield say_item(item)


def _say_learnt(activity: Activity) -> Iterator[Sentence]:
    """What was decided on lessons for the activity and its procedures, and what nobody has decided."""
    used = [row.procedure for row in activity.procedure_uses.filter(active=True).select_related("procedure")]
    places: list[Activity | Procedure] = [activity, *used]
    for place in places:
        offers = read_offers(place)
        for use in offers.decided:
            what = f"{use.lesson}, {use.get_decision_display().lower()} for {place}: {end_sentence(use.reason)}"
            changed = f" Changed for it: {use.changed}." if use.changed else ""
            if use.decision == "accepted" and not use.changed:
                changed = " Nothing is recorded as changed for it."
            yield say(f"{what}{changed}", use, *([use.changed] if use.changed else ()))
        for row in offers.offered if place == activity else ():
            yield say(f"{row.lesson}: nobody has decided on it for {place}.", row.lesson)


def _say_disagrees(review: ReadinessReview | None) -> Iterator[Sentence]:
    if review is not None:
        for row in review.answers.filter(round=review.round, stand="no_go").select_related("position", "answered_by"):
            yield say(f"{row.position.name} ({name_of(row.answered_by)}): {row.text}", row)


def _say_unsure(troubles: list[Anomaly], found: Checklist) -> Iterator[Sentence]:
    for row in troubles:
        for cause in (each for each in row.causes.all() if each.state in (CauseState.OPEN, CauseState.CREDIBLE)):
            yield say(f"{row.number}, not established: {cause.statement}", cause)
    for item in found.open:
        if item.kind in ("anomaly", "constraint"):
            yield say_item(item)


def _say_accepted(found: Checklist) -> Iterator[Sentence]:
    for item in found.items:
        if item.waiver and item.standing == "accepted":
            by = name_of(item.waiver.granted_by)
            yield say(f"{item.title}, risk {item.waiver.risk_code}, signed by {by}: {item.waiver.reason}", item.waiver)


def _say_cards(found: Checklist) -> Iterator[Sentence]:
    for item in found.items:
        procedure = getattr(item.record, "procedure", item.record)
        if item.kind == "procedure" and getattr(procedure, "kind", "") in ("card", "contingency"):
            yield say_item(item)
