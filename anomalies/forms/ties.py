"""Moves that tie an anomaly to other things: constraints, and links to other anomalies."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms

from anomalies.models import Activity, Anomaly, AnomalyLink, Constraint, HardwareType
from anomalies.services.ties import (
    constrain,
    link_anomalies,
    reinstate_constraint,
    resolve_constraint,
    withdraw_link,
)
from anomalies.states import ActivityState
from anomalies.web.fields import RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form


@move_form("anomaly", "constrain", label="Constrain", button="Put it in force", section="constraints")
class ConstrainForm(MoveForm[Anomaly]):
    """Says what must not be done, or only so, until the anomaly is dealt with."""

    columns: ClassVar[Mapping[str, str]] = {"activity": "activity_id", "hardware_type": "hardware_type_id"}
    intro = "It holds for one activity to come, or for one type of hardware wherever it's used."
    done = "The constraint is in force."

    statement = words("What must not be done, or only how")
    activity = RecordField("For this activity", Activity.objects.all(), required=False, empty="No activity")
    hardware_type = RecordField(
        "For this type of hardware", HardwareType.objects.all(), required=False, empty="No type"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        to_come = Activity.objects.filter(state__in=(ActivityState.PLANNED, ActivityState.UNDER_WAY))
        self.fields["activity"].queryset = to_come.order_by("planned_start")  # type: ignore[attr-defined]

    def act(self) -> Constraint:
        """Constrain."""
        return constrain(anomaly_id=self.record.pk, actor=self.actor, **self.values())


@move_form("constraint", "resolve", label="Resolve", button="Resolve the constraint")
class ResolveForm(MoveForm[Constraint]):
    """Takes a constraint out of force."""

    done = "The constraint is resolved."

    resolution = words("How it was dealt with")

    def describe(self) -> str:
        """Return the constraint."""
        return self.record.statement

    def act(self) -> Constraint:
        """Resolve it."""
        return resolve_constraint(
            constraint_id=self.record.pk, actor=self.actor, resolution=self.cleaned_data["resolution"]
        )


@move_form("constraint", "reinstate", label="Reinstate", button="Put it in force again")
class ReinstateForm(MoveForm[Constraint]):
    """Puts a constraint in force again."""

    done = "The constraint is in force again."

    reason = words("Why")

    def describe(self) -> str:
        """Return the constraint."""
        return self.record.statement

    def act(self) -> Constraint:
        """Reinstate it."""
        return reinstate_constraint(constraint_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])


@move_form("anomaly", "link", label="Link to another", button="Link them", section="links")
class LinkForm(MoveForm[Anomaly]):
    """Ties the anomaly to another one."""

    done = "The two are linked."

    kind = forms.ChoiceField(
        label="This anomaly is", choices=AnomalyLink.Kind.choices, widget=forms.RadioSelect, initial="related"
    )
    number = line("Number of the other one", help_text="Like A-2031-014.", most=20)
    note = words("What they have in common", required=False, rows=3)

    def clean_number(self) -> Anomaly:
        """Find the other one."""
        number = self.cleaned_data["number"].strip().upper()
        found = Anomaly.objects.visible_to(self.actor).filter(number=number).first()
        if found is None:
            raise forms.ValidationError(f"There's no anomaly with the number {number}.")
        return found

    def act(self) -> Anomaly:
        """Link them; the person stays where they are."""
        link_anomalies(
            source_id=self.record.pk,
            target_id=self.cleaned_data["number"].pk,
            kind=self.cleaned_data["kind"],
            note=self.cleaned_data["note"],
            actor=self.actor,
        )
        return self.record


@move_form("link", "withdraw", label="Withdraw", button="Withdraw the link")
class WithdrawLinkForm(MoveForm[AnomalyLink]):
    """Says that the two aren't linked after all."""

    done = "The link was withdrawn."

    reason = words("Why", rows=3)

    def describe(self) -> str:
        """Return the link."""
        link = self.record
        return f"{link.source.number} {AnomalyLink.Kind(link.kind).label} {link.target.number}"

    def act(self) -> AnomalyLink:
        """Withdraw it."""
        return withdraw_link(link_id=self.record.pk, actor=self.actor, reason=self.cleaned_data["reason"])
