"""Lessons of the first two years: one that changed a procedure, one that nobody has applied, one declined, a draft."""

from __future__ import annotations

from typing import Any

from anomalies.demo.stage import Stage, Story
from anomalies.models import Anomaly, Lesson, Procedure, Requirement
from anomalies.services.lesson_uses import decide_lesson, tie_lesson_use
from anomalies.services.lessons import issue_lesson, place_lesson, write_lesson


def teach(stage: Stage) -> Story:
    """Write them after their anomalies were closed, and take some of them up."""
    yield stage.when(-440, 12)
    cooling = _write(
        stage,
        Anomaly.objects.get(title__startswith="Airlock pump tripped"),
        title="Let a tripped motor cool before it is started again",
        what_happened="The airlock pump was started again right after it had tripped, and tripped for good.",
        why="The card told the crew to restart it and didn't say to wait.",
        what_to_do="Write the cooling time into every card that restarts a motor, before the step that restarts it.",
    )
    card = Procedure.objects.get(title="Airlock pump has tripped")
    place_lesson(lesson_id=cooling.pk, actor=stage.people["hollin"], procedure_id=card.pk)
    place_lesson(lesson_id=cooling.pk, actor=stage.people["hollin"], hardware_type_id=stage.items["P04"].type_id)
    _issue(stage, cooling)
    use = _decide(stage, cooling, "accepted", "The card is rewritten.", procedure_id=card.pk)
    newest = card.revisions.filter(released_at__isnull=False).order_by("-number").first()
    assert newest is not None  # its first revision was in force before the pump tripped
    tie_lesson_use(use_id=use.pk, actor=stage.people["thorne"], changed_revision_id=newest.pk)
    yield stage.when(-410)
    edges = _write(
        stage,
        Anomaly.objects.get(title__startswith="Cut in the outer layer"),
        title="Feel every fitting with gauze before hands go along it",
        what_happened="A glove was cut by a burr on a handrail clamp; nobody felt it during the sortie.",
        why="Clamps were shortened and not deburred; fittings were looked at, not felt.",
        what_to_do="Draw a gauze glove over every fitting of a new route in the last survey before the sortie.",
    )
    place_lesson(lesson_id=edges.pk, actor=stage.people["hollin"], activity_kind="sortie")
    place_lesson(lesson_id=edges.pk, actor=stage.people["hollin"], hardware_type_id=stage.items["G102"].type_id)
    _issue(stage, edges)
    yield stage.when(-400)
    dates = _write(
        stage,
        Anomaly.objects.get(title__icontains="CO2"),
        title="Look at the calibration date of a sensor before the suit goes out",
        what_happened="A suit went out with a CO2 sensor that was past its calibration date, and read low.",
        why="Nothing in the suit bay showed the date; the list was kept elsewhere.",
        what_to_do="Read the date of every sensor out at the leak check, and write it down with its result.",
    )
    place_lesson(lesson_id=dates.pk, actor=stage.people["hollin"], hardware_type_id=stage.items["S1"].type_id)
    _issue(stage, dates)
    yield stage.when(-160)
    charging = _write(
        stage,
        Anomaly.objects.get(title__icontains="battery"),
        title="Charge tool batteries at the slow rate",
        what_happened="A cell of a tool battery swelled in the charger.",
        why="The fast rate heats the cells past their limit.",
        what_to_do="Lock the charger to the slow rate, and plan a night for charging.",
    )
    place_lesson(lesson_id=charging.pk, actor=stage.people["hollin"], hardware_type_id=stage.items["T201"].type_id)
    _issue(stage, charging)
    yield stage.when(-11)
    sortie = stage.activities["Sortie 7"]
    training = Requirement.objects.get(sort="rehearsal")
    taken = _decide(stage, edges, "accepted", "The route to radiator 2 is new.", activity_id=sortie.pk)
    tie_lesson_use(use_id=taken.pk, actor=stage.people["osk"], changed_requirement_id=training.pk)
    transfer = stage.activities["Propellant transfer 13"]
    _decide(stage, charging, "declined", "No battery tool is used in a transfer.", activity_id=transfer.pk)
    write_lesson(
        actor=stage.people["anselm"],
        activity_id=stage.activities["Sortie 5"].pk,
        title="Two people read valve positions back",
        what_happened="The valve of radiator 1 was replaced without a single position in doubt.",
        why="Each position was read back by voice and ticked by a second person at the panel.",
        what_to_do="Do so in every task with more than one valve.",
    )


def _write(stage: Stage, anomaly: Anomaly, **said: Any) -> Lesson:
    return write_lesson(actor=stage.people["hollin"], anomaly_id=anomaly.pk, **said)


def _issue(stage: Stage, lesson: Lesson) -> None:
    version = lesson.reread().version
    issue_lesson(lesson_id=lesson.pk, actor=stage.people["engineer"], version=version, proof=stage.sign("engineer"))


def _decide(stage: Stage, lesson: Lesson, decision: str, reason: str, **place: int) -> Any:
    return decide_lesson(lesson_id=lesson.pk, actor=stage.people["osk"], decision=decision, reason=reason, **place)
