"""Moves of an anomaly: its story, and the hardware it concerns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.contrib.auth.models import User

from anomalies.clock import now
from anomalies.models import Activity, Anomaly, HardwareItem
from anomalies.reads.activities import find_activities_near
from anomalies.services.anomalies import add_anomaly_hardware, edit_anomaly, remove_anomaly_hardware
from anomalies.web.fields import MomentField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form

STORY = ("title", "description", "occurred_at", "place", "activity", "activity_cut_short", "immediate_response")


@move_form("anomaly", "edit", label="Edit the story", button="Save", section="story")
class StoryForm(MoveForm[Anomaly]):
    """Corrects what was reported."""

    versioned = True
    columns: ClassVar[Mapping[str, str]] = {"activity": "activity_id"}

    title = line("What was seen, in a sentence")
    description = words("What was seen, in full", required=False, rows=8)
    occurred_at = MomentField("When")
    place = line("Where", required=False)
    activity = RecordField("During which activity", Activity.objects.none(), required=False, empty="None")
    activity_cut_short = forms.BooleanField(label="The activity was ended early because of it", required=False)
    immediate_response = words("What was done at once", required=False)
    reason = line("Why it's corrected", required=False, help_text="Stands in the history, beside the changes.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        near = find_activities_near(self.actor, self.record.occurred_at, now(), also=self.record.activity_id)
        self.fields["activity"].queryset = near  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """A draft has a page of its own."""
        return record.number is not None

    @classmethod
    def start(cls, record: Anomaly, actor: User) -> dict[str, Any]:
        """Begin with the story as it is."""
        return {name: getattr(record, name) for name in STORY}

    def act(self) -> Anomaly:
        """Save what was changed."""
        return edit_anomaly(
            anomaly_id=self.record.pk,
            actor=self.actor,
            version=self.seen,
            changes=self.values(*STORY),
            reason=self.cleaned_data["reason"],
        )


@move_form("anomaly", "add-hardware", label="Add hardware", button="Add it", move="edit", section="hardware")
class AddHardwareForm(MoveForm[Anomaly]):
    """Names one more item that is concerned."""

    done = "The hardware was added."

    serial = line(
        "Serial number", help_text="As on the item. Where two types share it: part number, space, serial number."
    )

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """A draft has a page of its own."""
        return record.number is not None

    def clean_serial(self) -> HardwareItem:
        """Find the item."""
        return find_item(self.cleaned_data["serial"], self.actor)

    def act(self) -> Anomaly:
        """Add it."""
        add_anomaly_hardware(anomaly_id=self.record.pk, item_id=self.cleaned_data["serial"].pk, actor=self.actor)
        return self.record


@move_form("anomaly", "remove-hardware", label="Take off the list", move="edit", section="hardware")
class RemoveHardwareForm(MoveForm[Anomaly]):
    """Says that an item isn't concerned after all."""

    done = "The hardware was taken off the list."

    item = forms.ModelChoiceField(HardwareItem.objects.none(), label="Which one", empty_label=None)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        listed = self.record.hardware_concerned.filter(active=True).values("item")
        self.fields["item"].queryset = HardwareItem.objects.filter(pk__in=listed).select_related("type")  # type: ignore[attr-defined]
        self.fields["item"].label_from_instance = name_item  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: Anomaly) -> bool:
        """Only if there is something on the list."""
        return record.number is not None and record.hardware_concerned.filter(active=True).exists()

    def act(self) -> Anomaly:
        """Take it off."""
        remove_anomaly_hardware(anomaly_id=self.record.pk, item_id=self.cleaned_data["item"].pk, actor=self.actor)
        return self.record


def name_item(item: HardwareItem) -> str:
    """Return what an item is called in lists."""
    return f"{item.type.name} {item.type.part_number}, serial {item.serial_number}"


def find_item(text: str, actor: User) -> HardwareItem:
    """Return the item of this serial number; with the part number before it if two types share it."""
    part, _, serial = text.strip().rpartition(" ")
    items = HardwareItem.objects.visible_to(actor).filter(serial_number__iexact=serial)
    found = list((items.filter(type__part_number__iexact=part.strip()) if part else items)[:2])
    if len(found) == 1:
        return found[0]
    if found:
        raise forms.ValidationError("Several types have this serial number: write the part number before it.")
    raise forms.ValidationError(f"There's no hardware with the serial number {text.strip()}.")
