"""The mission clock: time elapsed since the mission's epoch, written as days/hours:minutes:seconds.

The form DDD/HH:MM:SS is common practice, no source. Days count from 0, so the epoch itself is T+000/00:00:00.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from config.kit.errors import BadInput

FORM = re.compile(r"T?\s*([+-])?\s*(\d{1,5})/(\d{1,2}):(\d{2})(?::(\d{2}))?", re.IGNORECASE)
EXPECTED = "Write the mission time as days/hours:minutes:seconds, like T+012/04:33:10."


def write_mission_time(at: datetime, epoch: datetime) -> str:
    """Return the mission clock at a moment, whole seconds, rounded down; T- before the epoch."""
    seconds = (at - epoch) // timedelta(seconds=1)
    sign, seconds = ("-", -seconds) if seconds < 0 else ("+", seconds)
    minutes, second = divmod(seconds, 60)
    hours, minute = divmod(minutes, 60)
    day, hour = divmod(hours, 24)
    return f"T{sign}{day:03}/{hour:02}:{minute:02}:{second:02}"


def read_mission_time(text: str, epoch: datetime) -> datetime:
    """Return the moment at which the mission clock shows `text`; raises BadInput."""
    found = FORM.fullmatch(text.strip())
    if not found:
        raise BadInput(EXPECTED, code="bad_mission_time")
    sign, day, hour, minute, second = found.groups(default="0")
    if int(hour) > 23 or int(minute) > 59 or int(second) > 59:
        raise BadInput(EXPECTED + " There are 24 hours in a day, 60 minutes in an hour.", code="bad_mission_time")
    elapsed = timedelta(days=int(day), hours=int(hour), minutes=int(minute), seconds=int(second))
    try:
        return epoch - elapsed if sign == "-" else epoch + elapsed
    except OverflowError:
        raise BadInput(EXPECTED + " This one is out of the calendar.", code="bad_mission_time") from None
