"""Moves of evidence that bears on events, and of inspections."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.forms.investigations import hours_field, offer_events
from anomalies.models import Anomaly, Bearing, Evidence, Finding, Inspection, Investigation
from anomalies.services.bearings import weigh_evidence, withdraw_bearing
from anomalies.services.inspections import carry_out_inspection, drop_inspection, edit_inspection, plan_inspection
from anomalies.web.fields import RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form

RESULTS = (("", "Choose"), ("yes", "It found the event"), ("no", "It did not find it"))
SOURCES: Mapping[str, str] = {"evidence": "evidence_id", "finding": "finding_id"}


def rate_field(label: str, *, required: bool = True, help_text: str = "") -> forms.FloatField:
    """A probability."""
    return forms.FloatField(label=label, required=required, min_value=0.0, max_value=1.0, help_text=help_text)


def result_field(*, required: bool = True) -> forms.TypedChoiceField:
    """How a test ended: True, False or, if it may be left open, None."""
    return forms.TypedChoiceField(
        label="Result",
        choices=RESULTS,
        required=required,
        coerce=lambda value: {"yes": True, "no": False}.get(value),
        empty_value=None,
    )


class SourceFields(forms.Form):
    """What a statement rests on."""

    evidence = RecordField("By this evidence", Evidence.objects.none(), required=False, empty="None")
    finding = RecordField("By this finding", Finding.objects.none(), required=False, empty="None")

    def offer_sources(self, anomaly: Anomaly) -> None:
        """Offer what the anomaly holds."""
        self.fields["evidence"].queryset = anomaly.evidence.held()  # type: ignore[attr-defined]
        self.fields["finding"].queryset = anomaly.findings.standing()  # type: ignore[attr-defined]


class EventField(forms.Form):
    """The event or gate that it is about."""

    event = forms.ChoiceField(label="Event or gate")

    def offer_events(self, investigation: Investigation) -> None:
        """Offer those of the tree in use."""
        self.fields["event"].choices = [("", "Choose"), *offer_events(investigation)]  # type: ignore[attr-defined]


@move_form("investigation", "weigh", label="Enter evidence", button="Enter it")
class WeighForm(EventField, SourceFields, MoveForm[Investigation]):
    """Enters what a piece of evidence says of an event."""

    columns: ClassVar[Mapping[str, str]] = SOURCES
    layout = "anomalies/investigation/_weigh_fields.html"
    intro = (
        "Evidence seldom decides by itself. A test with known rates, or a likelihood ratio, says how much more likely "
        "the evidence is if the event occurred than if it did not."
    )
    done = "The evidence counts; the probabilities follow it."

    says = forms.ChoiceField(label="What it says", choices=Bearing.Says.choices, widget=forms.RadioSelect)
    sensitivity = rate_field(
        "Sensitivity", required=False, help_text="P(the test finds the event, if it occurred), 0 to 1."
    )
    false_alarm = rate_field(
        "False-alarm rate", required=False, help_text="P(the test finds it, if it did not occur), 0 to 1."
    )
    found = result_field(required=False)
    ratio = forms.FloatField(
        label="Likelihood ratio",
        required=False,
        help_text="P(this evidence, if the event occurred) ÷ P(this evidence, if it did not). Above 1 speaks for it.",
    )
    justification = words("Why it says so", rows=3, help_text="Where rates or ratio come from, and what was seen.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_sources(self.record.anomaly)
        self.offer_events(self.record)
        self.order_fields(("event", "says", "sensitivity", "false_alarm", "found", "ratio", "justification"))

    def goes_to(self, result: Any) -> str:
        """Go to the page of the investigation."""
        return self.record.get_absolute_url()

    def act(self) -> Bearing:
        """Enter."""
        return weigh_evidence(investigation_id=self.record.pk, actor=self.actor, **self.values())


@move_form("bearing", "withdraw", label="Withdraw", button="Withdraw it")
class WithdrawBearingForm(MoveForm[Bearing]):
    """Takes back what evidence was said to say."""

    intro = "It stays on record and doesn't count any more."
    done = "It doesn't count any more."

    reason = words("Why", rows=3)

    def act(self) -> Bearing:
        """Withdraw."""
        return withdraw_bearing(bearing_id=self.record.pk, actor=self.actor, **self.values())


class InspectionFields(forms.Form):
    """What every form of an inspection asks."""

    title = line("What would be done", help_text="Like: dye check of the coupling's seal.")
    sensitivity = rate_field("Sensitivity", help_text="P(it finds the event, if it occurred), 0 to 1.")
    false_alarm = rate_field("False-alarm rate", help_text="P(it finds it, if it did not occur), 0 to 1.")
    basis = words("Where these rates come from", required=False, rows=2)
    cost = forms.FloatField(label="Cost", required=False, min_value=0.0, help_text="In the unit your programme uses.")
    hours = hours_field("Working hours")
    needs_outing = forms.BooleanField(label="It needs an outing", required=False)


@move_form("investigation", "plan-inspection", label="Add a possible inspection", button="Add it")
class PlanForm(EventField, InspectionFields, MoveForm[Investigation]):
    """Adds a possible inspection."""

    intro = "It is ranked among the others by what its result is expected to tell."
    done = "The inspection is on the list."

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_events(self.record)

    def act(self) -> Inspection:
        """Add."""
        return plan_inspection(investigation_id=self.record.pk, actor=self.actor, **self.values())


@move_form("inspection", "edit", label="Edit", button="Save")
class EditInspectionForm(InspectionFields, MoveForm[Inspection]):
    """Puts an inspection otherwise."""

    versioned = True

    @classmethod
    def start(cls, record: Inspection, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {name: getattr(record, name) for name in InspectionFields.base_fields}

    def act(self) -> Inspection:
        """Edit."""
        return edit_inspection(inspection_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


@move_form("inspection", "carry-out", label="Record the result", button="Record it")
class CarryOutForm(SourceFields, MoveForm[Inspection]):
    """Records how an inspection ended."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = SOURCES
    done = "The result counts; the probabilities follow it."

    found = result_field()
    note = words("What was done and seen", rows=3)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_sources(self.record.anomaly)
        self.order_fields(("found", "note", "evidence", "finding"))

    def describe(self) -> str:
        """Return what the result will mean."""
        return (
            f"{self.record.title}, on {self.record.event}: sensitivity {self.record.sensitivity:g}, false-alarm rate "
            f"{self.record.false_alarm:g}. They give the likelihood ratio of the result."
        )

    def act(self) -> Bearing:
        """Record."""
        return carry_out_inspection(inspection_id=self.record.pk, actor=self.actor, version=self.seen, **self.values())


@move_form("inspection", "drop", label="Drop", button="Drop it")
class DropForm(MoveForm[Inspection]):
    """Takes an inspection off the list."""

    done = "The inspection is off the list."

    reason = words("Why", rows=3)

    def act(self) -> Inspection:
        """Drop."""
        return drop_inspection(inspection_id=self.record.pk, actor=self.actor, **self.values())
