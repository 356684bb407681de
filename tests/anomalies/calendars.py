"""Calendars for tests, read with the library `icalendar`."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.test import Client
from icalendar import Calendar

from anomalies.models import CalendarKey
from anomalies.services.calendar_keys import make_key
from tests.anomalies.procedures import prove


def make(owner: User, **changes: Any) -> tuple[CalendarKey, str]:
    """A key of somebody's, with its secret."""
    return make_key(actor=owner, proof=prove(owner), **{"name": "my phone", "reach": "mine"} | changes)


def ask(secret: str, **headers: str) -> Any:
    """What a calendar program gets."""
    return Client().get(f"/calendar/{secret}.ics", headers=headers)


def read(secret: str) -> dict[str, Any]:
    """The events of the calendar, by the part of their UID before the host."""
    calendar = Calendar.from_ical(ask(secret).content)
    return {str(event["uid"]).partition("@")[0]: event for event in calendar.walk("VEVENT")}
