"""Moves of activities: planned, manned, equipped, started and ended."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Activity, CrewAssignment, HardwareItem, Procedure, ProcedureUse
from anomalies.people import find_people_who_may
from anomalies.services.activities import (
    add_activity_hardware,
    add_crew,
    complete_activity,
    edit_activity,
    end_activity_early,
    plan_activity,
    remove_activity_hardware,
    remove_crew,
    scrub_activity,
    start_activity,
)
from anomalies.services.procedures import drop_procedure, use_procedure
from anomalies.web.fields import ItemField, MomentField, PersonField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form


class TasksField(forms.CharField):
    """A list of lines."""

    def __init__(self) -> None:
        super().__init__(
            label="Tasks", required=False, help_text="One on each line.", widget=forms.Textarea(attrs={"rows": 5})
        )

    def prepare_value(self, value: Any) -> Any:
        """Show a list as lines."""
        return "\n".join(value) if isinstance(value, list) else value

    def clean(self, value: Any) -> list[str]:
        """Return the lines that aren't empty."""
        text: str = super().clean(self.prepare_value(value))
        return [each.strip() for each in text.splitlines() if each.strip()]


class PlanFields(forms.Form):
    """What a plan says."""

    kind = forms.ChoiceField(label="Kind", choices=Activity.Kind.choices)
    title = line("Title")
    planned_start = MomentField("Planned start")
    planned_end = MomentField("Planned end")
    lead = PersonField("Lead", find_people_who_may("change_activity"))
    tasks = TasksField()


@new_form("activity", label="Plan an activity", button="Plan it", rule="activity.plan", back="anomalies:activities")
class PlanForm(PlanFields, MoveForm[Activity]):
    """Plans an activity."""

    columns: ClassVar[Mapping[str, str]] = {"lead": "lead_id"}
    intro = "Crew, hardware and procedures are added on its page."
    done = "The activity is planned."

    @classmethod
    def start(cls, record: Activity, actor: User) -> dict[str, Any]:
        """Start with the actor as lead."""
        return {"lead": actor.pk}

    def act(self) -> Activity:
        """Plan."""
        return plan_activity(actor=self.actor, **self.values())


@move_form("activity", "edit", label="Change the plan", button="Save")
class EditPlanForm(PlanFields, MoveForm[Activity]):
    """Changes a plan."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"lead": "lead_id"}

    @classmethod
    def start(cls, record: Activity, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        plain = ("kind", "title", "planned_start", "planned_end", "tasks")
        return {name: getattr(record, name) for name in plain} | {"lead": record.lead_id}

    def act(self) -> Activity:
        """Edit."""
        return edit_activity(activity_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


class AtForm(MoveForm[Activity]):
    """Base of moves that happen at a moment."""

    at = MomentField("When", required=False, help_text="Now, if left empty.")


@move_form("activity", "start", label="Start", button="It has started")
class StartForm(AtForm):
    """Starts an activity."""

    done = "The activity is under way."

    def act(self) -> Activity:
        """Start."""
        return start_activity(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "complete", label="Complete", button="It is completed")
class CompleteForm(AtForm):
    """Completes an activity."""

    done = "The activity is completed."

    def act(self) -> Activity:
        """Complete."""
        return complete_activity(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "end-early", label="End early", button="It ended early")
class EndEarlyForm(AtForm):
    """Ends an activity early."""

    done = "The activity ended early. If something went wrong, report the anomaly."

    reason = words("Why", rows=3)

    def act(self) -> Activity:
        """End."""
        return end_activity_early(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "scrub", label="Scrub", button="Scrub it")
class ScrubForm(MoveForm[Activity]):
    """Scrubs an activity."""

    intro = "It won't take place."
    done = "The activity is scrubbed."

    reason = words("Why", rows=3)

    def act(self) -> Activity:
        """Scrub."""
        return scrub_activity(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "add-crew", move="edit", label="Add crew", button="Add", section="crew")
class AddCrewForm(MoveForm[Activity]):
    """Gives somebody a role."""

    columns: ClassVar[Mapping[str, str]] = {"person": "person_id"}

    person = PersonField("Who")
    role = line("Role", most=80, help_text="As EV1, EV2, IV, controller.")

    def act(self) -> CrewAssignment:
        """Add."""
        return add_crew(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "remove-crew", move="edit", label="Take off crew", button="Take off", section="crew")
class RemoveCrewForm(MoveForm[Activity]):
    """Takes somebody off a role."""

    assignment = RecordField("Who", CrewAssignment.objects.none(), empty="Choose")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = self.record.crew.filter(active=True).select_related("person")
        self.fields["assignment"].queryset = rows  # type: ignore[attr-defined]
        label = self.fields["assignment"]
        label.label_from_instance = lambda row: f"{row.person.get_full_name() or row.person.username}, {row.role}"  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """There is crew."""
        return record.crew.filter(active=True).exists()

    def act(self) -> None:
        """Remove."""
        row = self.cleaned_data["assignment"]
        remove_crew(activity_id=self.record.pk, actor=self.actor, person_id=row.person_id, role=row.role)


@move_form("activity", "add-hardware", move="edit", label="Add hardware", button="Add", section="hardware")
class AddItemForm(MoveForm[Activity]):
    """Adds an item to what is used."""

    columns: ClassVar[Mapping[str, str]] = {"item": "item_id"}

    item = ItemField("Item", HardwareItem.objects.usable().select_related("type"), empty="Choose")

    def act(self) -> None:
        """Add."""
        add_activity_hardware(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "remove-hardware", move="edit", label="Take off hardware", button="Take off", section="hardware")
class RemoveItemForm(MoveForm[Activity]):
    """Takes an item off the list."""

    columns: ClassVar[Mapping[str, str]] = {"item": "item_id"}

    item = ItemField("Item", HardwareItem.objects.none(), empty="Choose")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        used = self.record.hardware_uses.filter(active=True).values("item")
        items = HardwareItem.objects.filter(pk__in=used).select_related("type")
        self.fields["item"].queryset = items  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """Something is used."""
        return record.hardware_uses.filter(active=True).exists()

    def act(self) -> None:
        """Remove."""
        remove_activity_hardware(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "use-procedure", move="edit", label="Use a procedure", button="Use it", section="procedures")
class UseProcedureForm(MoveForm[Activity]):
    """Says that a procedure is used."""

    columns: ClassVar[Mapping[str, str]] = {"procedure": "procedure_id"}

    procedure = RecordField("Procedure", Procedure.objects.all(), empty="Choose")
    role = line("Who must have read it", required=False, most=80, help_text="A role of the crew; empty: everybody.")

    def act(self) -> None:
        """Use."""
        use_procedure(activity_id=self.record.pk, actor=self.actor, **self.values())


@move_form("activity", "drop-procedure", move="edit", label="Drop a procedure", button="Drop", section="procedures")
class DropProcedureForm(MoveForm[Activity]):
    """Says that a procedure isn't used."""

    use = RecordField("Procedure", ProcedureUse.objects.none(), empty="Choose")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["use"]
        field.queryset = ProcedureUse.objects.filter(activity=self.record, active=True).select_related("procedure")
        field.label_from_instance = lambda row: f"{row.procedure}{f', for {row.role}' if row.role else ''}"

    @classmethod
    def suits(cls, record: Activity) -> bool:
        """One is used."""
        return ProcedureUse.objects.filter(activity=record, active=True).exists()

    def act(self) -> None:
        """Drop."""
        row = self.cleaned_data["use"]
        drop_procedure(activity_id=self.record.pk, actor=self.actor, procedure_id=row.procedure_id, role=row.role)
