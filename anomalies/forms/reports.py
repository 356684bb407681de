"""The quick form: what was seen, sent at once or kept as a draft."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar, cast

from django import forms
from django.contrib.auth.models import User

from anomalies.clock import now
from anomalies.forms.anomalies import STORY
from anomalies.models import Activity, Anomaly
from anomalies.reads.activities import find_activities_near, find_current_activity
from anomalies.services.anomalies import discard_anomaly, draft_anomaly, report_anomaly, save_draft
from anomalies.states import AnomalyState
from anomalies.web.fields import MomentField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.hardware_picker import HardwareField
from anomalies.web.register import move_form

REPORT, DRAFT = "report", "draft"


class ReportForm(MoveForm[Anomaly]):
    """Reports what was seen, or keeps it as a draft."""

    columns: ClassVar[Mapping[str, str]] = {"activity": "activity_id", "hardware": "hardware_ids"}

    title = line("What was seen, in a sentence")
    description = words("What was seen, in full", required=False, rows=5)
    occurred_at = MomentField("When")
    place = line("Where", required=False)
    activity = RecordField("During which activity", Activity.objects.none(), required=False, empty="None")
    activity_cut_short = forms.BooleanField(label="The activity was ended early because of it", required=False)
    hardware = HardwareField("Which hardware", help_text="Find it by name, part number or serial number.")
    immediate_response = words("What was done at once", required=False, rows=3)
    then = forms.ChoiceField(choices=((REPORT, "Report"), (DRAFT, "Save as draft")), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        near = find_activities_near(self.actor, now(), *self._moments(), also=self.record.activity_id)
        cast(RecordField, self.fields["activity"]).queryset = near
        sent = str(self["activity"].value() or "")
        cast(HardwareField, self.fields["hardware"]).serve(self.actor, int(sent) if sent.isdecimal() else None)

    @classmethod
    def start(cls, record: Anomaly, actor: User) -> dict[str, Any]:
        """Begin with this moment, and with what is under way."""
        activity = find_current_activity(actor, now())
        return {"occurred_at": now().replace(second=0, microsecond=0), "activity": activity and activity.pk}

    def _moments(self) -> list[datetime]:
        """Return the time that stands in the form, if it is one."""
        try:
            at = self.fields["occurred_at"].clean(self["occurred_at"].value())
        except forms.ValidationError:
            return []
        return [at] if at else []

    @property
    def is_report(self) -> bool:
        """Tell whether it's to be reported; Enter in a field only keeps it."""
        return bool(self.cleaned_data["then"] == REPORT)

    @property
    def said(self) -> str:
        """What the next page says."""
        return "Reported: it has its number and awaits screening." if self.is_report else "Saved as a draft."

    def act(self) -> Anomaly:
        """Report it, or keep it."""
        service = report_anomaly if self.is_report else draft_anomaly
        return service(actor=self.actor, **self.values(*STORY, "hardware"))


class DraftForm(ReportForm):
    """Goes on with a draft."""

    versioned = True

    @classmethod
    def start(cls, record: Anomaly, actor: User) -> dict[str, Any]:
        """Begin with the draft."""
        listed = record.hardware_concerned.filter(active=True).values_list("item_id", flat=True)
        return {**{name: getattr(record, name) for name in STORY}, "hardware": list(listed)}

    def act(self) -> Anomaly:
        """Save it, and report it if asked."""
        return save_draft(
            anomaly_id=self.record.pk,
            actor=self.actor,
            version=self.seen,
            changes=self.values(*STORY),
            hardware_ids=self.cleaned_data["hardware"],
            report=self.is_report,
        )


@move_form("anomaly", "discard", label="Discard the draft")
class DiscardForm(MoveForm[Anomaly]):
    """Gives a draft up."""

    intro = "Nobody else has seen it. It can't be taken up again."
    done = "The draft was discarded."

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """Drafts only."""
        return record.state == AnomalyState.DRAFT

    def act(self) -> Anomaly:
        """Discard it."""
        return discard_anomaly(anomaly_id=self.record.pk, actor=self.actor)
