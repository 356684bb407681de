"""Dates as an iCalendar file (RFC 5545), written by the library `icalendar`, which folds and escapes."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.urls import reverse
from icalendar import Calendar, Event, vDuration

from anomalies.reads.dates import Entry

MEDIA_TYPE = "text/calendar; charset=utf-8"
ASK_AGAIN = timedelta(hours=1)
CAUTION = "Decision support: as the records had it when this was read. The programme's safety authority decides."


def write_calendar(name: str, entries: Iterable[Entry]) -> bytes:
    """Return the file; the same entries give the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", "-//Siftwood//Calendar//EN")
    calendar.add("version", "2.0")
    calendar.add("name", _clean(name))  # RFC 7986, section 5.1
    calendar.add("x-wr-calname", _clean(name))  # what most programs read instead
    calendar.add("refresh-interval", vDuration(ASK_AGAIN), parameters={"value": "DURATION"})  # RFC 7986, section 5.7
    for entry in entries:
        calendar.add_component(_write_event(entry))
    content: bytes = calendar.to_ical()
    return content


def _write_event(entry: Entry) -> Event:
    """A day blocks nobody's time, nor does a point in time; what is planned does."""
    event = Event()
    address = f"{settings.SITE_URL}{reverse('anomalies:record', args=(entry.record.KIND, entry.record.pk))}"
    event.add("uid", f"{entry.key}@{urlsplit(settings.SITE_URL).netloc}")
    event.add("dtstamp", _in_utc(entry.changed_at))
    event.add("last-modified", _in_utc(entry.changed_at))
    event.add("sequence", entry.sequence)
    event.add("summary", _clean(entry.title))
    event.add("description", _clean(f"{entry.text}\n\n{address}\n\n{CAUTION}"))
    event.add("url", address)
    event.add("dtstart", _in_utc(entry.start) if isinstance(entry.start, datetime) else entry.start)
    if entry.end:
        event.add("dtend", _in_utc(entry.end))
    event.add("transp", "OPAQUE" if entry.end else "TRANSPARENT")
    return event


def _in_utc(at: datetime) -> datetime:
    return at.astimezone(UTC).replace(microsecond=0)


def _clean(text: str) -> str:
    """Leave out characters that no text of a calendar may hold (RFC 5545, section 3.1: CONTROL)."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    return "".join(sign for sign in lines if sign in "\n\t" or unicodedata.category(sign) not in ("Cc", "Cs"))
