"""Readiness of Sortie 7: what sorties ask for, the review, half of it met."""

from __future__ import annotations

from typing import Any

from anomalies.demo.stage import Stage, Story
from anomalies.models import PollPosition, Requirement
from anomalies.reads.readiness.checklist import read_checklist
from anomalies.services.readiness import answer_poll, open_review, set_position
from anomalies.services.requirements import add_requirement, ask_position, record_fulfilment
from anomalies.services.waivers import grant_waiver

POSITIONS = (("Outing lead", "osk"), ("Suits", "thorne"), ("Airlock and loop", "corvo"), ("Safety", "engineer"))


def ask_for(stage: Stage) -> Story:
    """Say what every sortie needs, long before."""
    yield stage.when(-635)
    lead = stage.people["osk"]
    suit = stage.items["S1"].type_id
    asked: tuple[dict[str, Any], ...] = (
        {"sort": "fit_check", "statement": "Fit check at working pressure", "scope": "crew", "within_days": 60},
        {
            "sort": "training",
            "statement": "Emergency return, with the umbilical closed",
            "scope": "crew",
            "within_days": 365,
        },
        {"sort": "rehearsal", "statement": "Rehearsal of the tasks in the mock-up", "scope": "once", "within_days": 30},
        {
            "sort": "checkout",
            "statement": "Leak check at 30 kPa",
            "scope": "item",
            "hardware_type_id": suit,
            "within_days": 30,
        },
    )
    for each in asked:
        add_requirement(actor=lead, activity_kind="sortie", **each)
    for name, _ in POSITIONS:
        ask_position(actor=lead, activity_kind="sortie", name=name)


def review(stage: Stage) -> Story:
    """Open the review of Sortie 7; some of it is met, one item is accepted, one position has spoken."""
    yield stage.when(-4)
    sortie, lead, engineer = stage.activities["Sortie 7"], stage.people["osk"], stage.people["engineer"]
    opened = open_review(activity_id=sortie.pk, actor=lead)
    for name, who in POSITIONS:
        set_position(activity_id=sortie.pk, actor=lead, name=name, person_id=stage.people[who].pk)
    requirements = {row.sort: row.pk for row in Requirement.objects.all()}
    notes: tuple[tuple[str, dict[str, Any], str], ...] = (
        ("fit_check", {"person_id": stage.people["ketter"].pk}, "Fits; shoulder ring one hole wider. Sheet 44."),
        ("training", {"person_id": stage.people["ketter"].pk}, "Run three times, the last in 6 minutes."),
        ("training", {"person_id": stage.people["farrant"].pk}, "Run three times, the last in 7 minutes."),
        ("checkout", {"item_id": stage.items["S1"].pk}, "Lost 0.2 kPa in 20 minutes; limit 1 kPa. Sheet 45."),
    )
    for sort, of, note in notes:
        given: dict[str, Any] = {"activity_id": sortie.pk, "requirement_id": requirements[sort], "note": note} | of
        record_fulfilment(actor=stage.people["thorne"], done_at=stage.when(-6), **given)
    yield stage.when(-2)
    display = next(
        (item for item in read_checklist(sortie, opened.reread()).open if "display dropped out again" in item.title),
        None,
    )
    if display is not None:
        grant_waiver(
            activity_id=sortie.pk,
            actor=engineer,
            item=display.key,
            reason="The display is for comfort: pressures and times are called from inside, and both crew have done a "
            "sortie without it.",
            severity=4,
            probability="C",
            expires_at=stage.when(30),
            carries=False,
            proof=stage.sign("engineer"),
        )
    yield stage.when(-1)
    position = PollPosition.objects.get(activity=sortie, name="Suits")
    found = read_checklist(sortie, opened.reread())
    answer_poll(
        position_id=position.pk,
        actor=stage.people["thorne"],
        stand="no_go",
        text="Not before the leak check of S2 and the fit check of EV2.",
        list_hash=found.hash,
        proof=stage.sign("thorne"),
    )
