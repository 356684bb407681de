"""People and records for tests, made with the services that make them in earnest."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth.models import Group, User

from anomalies import permissions
from anomalies.models import Activity, Anomaly, Constraint, HardwareItem, HardwareType
from anomalies.services.activities import plan_activity
from anomalies.services.anomalies import draft_anomaly, report_anomaly
from anomalies.services.hardware import add_hardware_item, add_hardware_type
from anomalies.services.screening import screen_anomaly
from anomalies.services.ties import constrain

SEEN_AT = datetime(2024, 3, 5, 9, 30, tzinfo=UTC)
TOMORROW = timedelta(days=1)


def make_person(role: str, username: str = "") -> User:
    """Somebody with the role; the same one when asked again."""
    name = username or role.replace(" ", "-")
    found = User.objects.filter(username=name, groups__name=role).first()
    if found is not None:
        return found
    user, _ = User.objects.get_or_create(username=name)
    user.groups.add(Group.objects.get(name=role))
    return User.objects.get(pk=user.pk)  # without cached permissions


def make_stranger(username: str = "sam") -> User:
    """Somebody who can log in and has no role."""
    user, _ = User.objects.get_or_create(username=username)
    return user


def recorder() -> User:
    return make_person(permissions.RECORDER)


def board_member() -> User:
    return make_person(permissions.BOARD_MEMBER)


def safety_engineer() -> User:
    return make_person(permissions.SAFETY_ENGINEER)


def activity_lead() -> User:
    return make_person(permissions.ACTIVITY_LEAD)


def viewer() -> User:
    return make_person(permissions.VIEWER)


def make_activity(**changes: Any) -> Activity:
    """A sortie that is planned."""
    lead = activity_lead()
    given = {
        "kind": "sortie",
        "title": "Sortie 7",
        "planned_start": SEEN_AT,
        "planned_end": SEEN_AT + timedelta(hours=7),
        "lead_id": lead.pk,
        "tasks": ["Inspect the coupling"],
    }
    return plan_activity(actor=lead, **given | changes)


def make_type(part_number: str = "UMB-200") -> HardwareType:
    """A type; the same one when asked again."""
    found = HardwareType.objects.filter(part_number=part_number).first()
    return found or add_hardware_type(actor=activity_lead(), part_number=part_number, name="Umbilical")


def make_item(serial: str = "B", part_number: str = "UMB-200") -> HardwareItem:
    """An item in service."""
    kind = make_type(part_number)
    return add_hardware_item(actor=activity_lead(), type_id=kind.pk, serial_number=serial, location="Locker 3")


def make_draft(**changes: Any) -> Anomaly:
    """A draft of the recorder's."""
    return draft_anomaly(actor=recorder(), **{"title": "Coolant wept", "occurred_at": SEEN_AT} | changes)


def make_reported(**changes: Any) -> Anomaly:
    """An anomaly that awaits screening."""
    return report_anomaly(actor=recorder(), **{"title": "Coolant wept", "occurred_at": SEEN_AT} | changes)


def make_open(**changes: Any) -> Anomaly:
    """A screened anomaly, risk 2C, led by the board member."""
    return screen_anomaly(
        anomaly_id=make_reported(**changes).pk,
        actor=safety_engineer(),
        severity=2,
        probability="C",
        rationale="Loss of cooling ends an outing.",
        lead_id=board_member().pk,
    )


def make_constraint(anomaly: Anomaly | None = None) -> Constraint:
    """A constraint on a type of hardware."""
    anomaly = anomaly or make_open()
    return constrain(
        anomaly_id=anomaly.pk,
        actor=safety_engineer(),
        statement="No umbilical of this type outside.",
        hardware_type_id=make_type().pk,
    )
