"""Moves of an anomaly's timeline."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.contrib.auth.models import User

from anomalies.models import Anomaly, Evidence, TimelineEntry
from anomalies.services.timeline import add_timeline_entry, edit_timeline_entry, withdraw_timeline_entry
from anomalies.states import ANOMALY
from anomalies.web.fields import MomentField, RecordField, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form

TEXT_LABEL, EVIDENCE_LABEL = "What happened", "On which evidence"


@move_form(
    "anomaly", "add-timeline-entry", move="gather", label="Add to the timeline", button="Add it", section="timeline"
)
class AddEntryForm(MoveForm[Anomaly]):
    """Says what happened at a moment."""

    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_id"}
    done = "It's on the timeline."

    at = MomentField("When")
    text = words(TEXT_LABEL, rows=3)
    evidence = RecordField(EVIDENCE_LABEL, Evidence.objects.none(), required=False, empty="None")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        held = self.record.evidence.held().order_by("position")
        self.fields["evidence"].queryset = held  # type: ignore[attr-defined]

    def act(self) -> TimelineEntry:
        """Add it."""
        return add_timeline_entry(anomaly_id=self.record.pk, actor=self.actor, **self.values())


class EntryForm(MoveForm[TimelineEntry]):
    """Base of the moves of an entry: none is offered once its anomaly takes no more."""

    @classmethod
    def suits(cls, record: TimelineEntry) -> bool:
        """The anomaly takes evidence."""
        return "gather" in ANOMALY.names_from(record.anomaly.state)


@move_form("timeline_entry", "edit", label="Edit", button="Save")
class EditEntryForm(EntryForm):
    """Corrects an entry."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"evidence": "evidence_id"}
    done = "The entry was corrected."

    at = MomentField("When")
    text = words(TEXT_LABEL, rows=3)
    evidence = RecordField(EVIDENCE_LABEL, Evidence.objects.none(), required=False, empty="None")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = self.record.anomaly.evidence
        held = rows.held() | rows.filter(timeline_entries=self.record)
        self.fields["evidence"].queryset = held.distinct().order_by("position")  # type: ignore[attr-defined]

    @classmethod
    def start(cls, record: TimelineEntry, actor: User) -> dict[str, Any]:
        """Return the entry."""
        return {"at": record.at, "text": record.text, "evidence": record.evidence_id}

    def act(self) -> TimelineEntry:
        """Correct it."""
        changes = self.values()
        return edit_timeline_entry(entry_id=self.record.pk, actor=self.actor, version=self.seen, changes=changes)


@move_form("timeline_entry", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawEntryForm(EntryForm):
    """Says that the entry doesn't count any more."""

    intro = "It stays on record, marked as withdrawn."
    done = "The entry was withdrawn."

    reason = words("Why", rows=3)

    def describe(self) -> str:
        """Return the entry."""
        return f"{self.record.at:%Y-%m-%d %H:%M:%S} UTC: {self.record.text} {self.intro}"

    def act(self) -> TimelineEntry:
        """Withdraw it."""
        return withdraw_timeline_entry(entry_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])
