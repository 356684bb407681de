"""Moves of what each kind of activity asks for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.models import Activity, HardwareType, Requirement, StandardPosition
from anomalies.services.requirements import (
    add_requirement,
    ask_position,
    drop_position,
    edit_requirement,
    restore_requirement,
    retire_requirement,
)
from anomalies.web.fields import RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form

COLUMNS: Mapping[str, str] = {"hardware_type": "hardware_type_id"}


class RequirementFields(forms.Form):
    """What every form of a requirement asks."""

    activity_kind = forms.ChoiceField(label="Activities that need it", choices=Activity.Kind.choices)
    sort = forms.ChoiceField(label="What it is", choices=Requirement.Sort.choices)
    statement = line("What has to be done", most=300, help_text="Like: suit fit check at working pressure.")
    scope = forms.ChoiceField(label="For whom or what", choices=Requirement.Scope.choices)
    role = line("Only those in this role", required=False, most=80, help_text="Empty: all of the crew.")
    hardware_type = RecordField(
        "Type of hardware", HardwareType.objects.all(), required=False, help_text="For what is done on each item."
    )
    within_days = forms.IntegerField(
        label="It counts for how many days before the start",
        required=False,
        min_value=1,
        max_value=3650,
        help_text="Empty: whenever it was done for the activity.",
    )


@new_form(
    "requirement",
    label="Ask for something before activities of a kind",
    button="Ask for it",
    rule="requirement.add",
    back="anomalies:requirements",
)
class AddRequirementForm(RequirementFields, MoveForm[Requirement]):
    """Adds a requirement."""

    columns: ClassVar[Mapping[str, str]] = COLUMNS
    done = "Activities of this kind are asked for it from now on."

    def act(self) -> Requirement:
        """Add."""
        return add_requirement(actor=self.actor, **self.values())


@move_form("requirement", "edit", label="Edit", button="Save")
class EditRequirementForm(RequirementFields, MoveForm[Requirement]):
    """Asks for it otherwise."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = COLUMNS

    @classmethod
    def start(cls, record: Requirement, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        names = ("activity_kind", "sort", "statement", "scope", "role", "within_days")
        return {name: getattr(record, name) for name in names} | {"hardware_type": record.hardware_type_id}

    def act(self) -> Requirement:
        """Edit."""
        return edit_requirement(
            requirement_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values()
        )


@move_form("requirement", "retire", label="Retire", button="Retire it")
class RetireRequirementForm(MoveForm[Requirement]):
    """Asks for it no more."""

    done = "Nobody is asked for it any more."

    reason = words("Why", rows=2)

    def act(self) -> Requirement:
        """Retire."""
        return retire_requirement(requirement_id=self.record.pk, actor=self.actor, **self.cleaned_data)


@move_form("requirement", "restore", label="Ask for it again", button="Ask for it")
class RestoreRequirementForm(MoveForm[Requirement]):
    """Asks for it again."""

    done = "It is asked for again."

    reason = words("Why", rows=2)

    def act(self) -> Requirement:
        """Restore."""
        return restore_requirement(requirement_id=self.record.pk, actor=self.actor, **self.cleaned_data)


@new_form(
    "standard_position",
    label="Ask a position in every poll",
    button="Ask it",
    rule="standard_position.set",
    back="anomalies:requirements",
)
class AskPositionForm(MoveForm[StandardPosition]):
    """Asks a position in the poll of every activity of a kind."""

    done = "Reviews that open from now on ask it."

    activity_kind = forms.ChoiceField(label="Kind of activity", choices=Activity.Kind.choices)
    name = line("Position", most=80, help_text="Like: life support.")

    def act(self) -> StandardPosition:
        """Ask."""
        return ask_position(actor=self.actor, **self.cleaned_data)


@move_form("standard_position", "drop", move="", rule="standard_position.set", label="Drop", button="Drop it")
class DropStandardForm(MoveForm[StandardPosition]):
    """Asks it no more."""

    intro = "Reviews that are open already go on asking it."
    done = "Reviews that open from now on don't ask it."

    def act(self) -> None:
        """Drop."""
        drop_position(actor=self.actor, activity_kind=self.record.activity_kind, name=self.record.name)
