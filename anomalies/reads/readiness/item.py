"""One item of the list: what must be so, how it stands, and the record that shows it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from anomalies.models import Waiver
from anomalies.models.base import Record

MET, OPEN, ACCEPTED = "met", "open", "accepted"
GROUPS = {  # kind of item -> the group it stands in, in the order of the page
    "anomaly": "Anomalies",
    "constraint": "Constraints",
    "action": "Actions needed before",
    "kit": "Kit delivered and stowed",
    "retest": "Replaced hardware retested",
    "hardware": "Hardware in service",
    "procedure": "Procedures in force",
    "reading": "Procedures read",
    "requirement": "Fit checks, training and rehearsals",
    "condition": "Conditions of the poll",
}


@dataclass(frozen=True, slots=True)
class Item:
    """What must be so before the activity.

    key         what it's known by, like action-12: kind, then keys of records
    because     what shows that it's met, or what is missing, as a sentence
    mark        of what shows it: another mark is another reason to believe it
    record      what shows it, or where it is mended
    owed_by     who owes what is missing; "" where nobody is named
    waiver      what accepts it, or would if it didn't expire too early
    """

    key: str
    title: str
    standing: str
    because: str
    mark: str
    record: Record
    owed_by: str = ""
    due: date | datetime | None = None
    waiver: Waiver | None = None

    @property
    def kind(self) -> str:
        """Which kind of item it is."""
        return self.key.partition("-")[0]

    @property
    def is_open(self) -> bool:
        """Neither met nor accepted."""
        return self.standing == OPEN
