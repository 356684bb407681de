"""The depot before anything went wrong: its hardware and its activities."""

from __future__ import annotations

from typing import Any

from anomalies.demo.stage import Stage, Story
from anomalies.services.activities import (
    add_activity_hardware,
    add_crew,
    complete_activity,
    end_activity_early,
    plan_activity,
    start_activity,
)
from anomalies.services.hardware import add_hardware_item, add_hardware_type, install_hardware

BEGINNING = -640

TYPES = {  # part number -> name, serials, where the spares are
    "PSA-40": ("Pressure suit", "S1 S2 S3", "Suit bay"),
    "UMB-12": ("Service umbilical", "B07 B11 B14", "Airlock locker 3"),
    "QDC-7": ("Quick disconnect, vehicle side", "Q31 Q36", "Airlock locker 3"),
    "GLV-5": ("Suit gloves, pair", "G102 G105 G109", "Suit bay"),
    "DSP-4": ("Suit display unit", "D18 D22", "Suit bay"),
    "ALP-3": ("Airlock pump", "P04", "Airlock"),
    "TTR-2": ("Tether reel", "R9 R12", "Airlock locker 1"),
    "COS-9": ("CO2 sensor", "C55 C61", "Suit bay"),
    "BAT-6": ("Tool battery", "T201 T202 T207", "Tool crib"),
    "PTC-1": ("Propellant transfer coupling", "X2 X3", "Port 2"),
}
PARTS = {"D18": "S1", "C55": "S1", "G102": "S1", "C61": "S2", "G105": "S2", "Q31": "B07"}

PAST = (  # title, kind, day, hours, crew, hardware, tasks, why it ended early
    ("Sortie 1", "sortie", -610, 6.2, "ketter farrant", "S1 S2 B07", ("Inspect port 2", "Fit handrail covers"), ""),
    ("Sortie 2", "sortie", -540, 6.8, "farrant osk", "S1 S2 B07 R9", ("Replace port light", "Route cable"), ""),
    ("Sortie 3", "sortie", -430, 5.9, "ketter osk", "S1 S2 B07 R9", ("Mount reflector", "Inspect radiator 1"), ""),
    ("Docking of the tender Halden", "docking", -350, 3.0, "osk", "", ("Dock at port 1",), ""),
    ("Sortie 4", "sortie", -300, 6.5, "ketter farrant", "S1 S3 B07 T201 G105", ("Free the latch of port 2",), ""),
    ("Propellant transfer 11", "transfer", -260, 9.0, "farrant", "X2", ("Chill down", "Transfer 3.4 t"), ""),
    ("Sortie 5", "sortie", -190, 7.1, "farrant ketter", "S1 S2 B07 R12 G105", ("Replace radiator 1 valve",), ""),
    ("Propellant transfer 12", "transfer", -90, 8.5, "ketter", "X2", ("Chill down", "Transfer 3.1 t"), ""),
    (
        "Sortie 6",
        "sortie",
        -21,
        2.4,
        "ketter farrant",
        "S1 S2 B07 B11",
        ("Replace the coolant line of radiator 2", "Inspect port 2"),
        "Umbilical B wept coolant at the vehicle-side quick disconnect.",
    ),
)


def set_up(stage: Stage) -> Story:
    """Add the hardware, and the activities up to today."""
    lead = stage.people["osk"]
    yield stage.when(BEGINNING)
    for part_number, (name, serials, place) in TYPES.items():
        kind = add_hardware_type(actor=lead, part_number=part_number, name=name)
        for serial in serials.split():
            stage.items[serial] = add_hardware_item(actor=lead, type_id=kind.pk, serial_number=serial, location=place)
    for serial, parent in PARTS.items():
        install_hardware(item_id=stage.items[serial].pk, parent_id=stage.items[parent].pk, actor=lead)


def play_activity(stage: Stage, title: str) -> Story:
    """Plan, start and end one of the past activities, each at its time."""
    _, kind, day, hours, crew, serials, tasks, cut = next(row for row in PAST if row[0] == title)
    lead = stage.people["osk"]
    start, end = stage.when(day, 8), stage.when(day, 15)
    yield stage.when(day - 30)
    given: dict[str, Any] = {
        "kind": kind,
        "title": title,
        "planned_start": start,
        "planned_end": end,
        "tasks": list(tasks),
    }
    activity = plan_activity(actor=lead, lead_id=lead.pk, **given)
    stage.activities[title] = activity
    for role, person in zip(("EV1", "EV2") if kind == "sortie" else ("operator",), crew.split(), strict=False):
        add_crew(activity_id=activity.pk, person_id=stage.people[person].pk, role=role, actor=lead)
    for serial in serials.split():
        add_activity_hardware(activity_id=activity.pk, item_id=stage.items[serial].pk, actor=lead)
    yield stage.when(day, 8.1)
    start_activity(activity_id=activity.pk, actor=lead)
    yield stage.when(day, 8.1 + hours)
    if cut:
        end_activity_early(activity_id=activity.pk, actor=lead, reason=cut)
    else:
        complete_activity(activity_id=activity.pk, actor=lead)


def plan_next(stage: Stage) -> Story:
    """Plan what is to come, long before."""
    yield stage.when(-300)
    lead = stage.people["osk"]
    coming = (
        ("Sortie 7", "sortie", 9, "ketter farrant", "S1 S2 B11 R12", ("Replace the coolant line of radiator 2",)),
        ("Propellant transfer 13", "transfer", 24, "farrant", "X2", ("Chill down", "Transfer 3.0 t")),
    )
    for title, kind, day, crew, serials, tasks in coming:
        start, end = stage.when(day, 8), stage.when(day, 15)
        given: dict[str, Any] = {
            "kind": kind,
            "title": title,
            "planned_start": start,
            "planned_end": end,
            "tasks": list(tasks),
        }
        activity = plan_activity(actor=lead, lead_id=lead.pk, **given)
        stage.activities[title] = activity
        for role, person in zip(("EV1", "EV2") if kind == "sortie" else ("operator",), crew.split(), strict=False):
            add_crew(activity_id=activity.pk, person_id=stage.people[person].pk, role=role, actor=lead)
        for serial in serials.split():
            add_activity_hardware(activity_id=activity.pk, item_id=stage.items[serial].pk, actor=lead)
