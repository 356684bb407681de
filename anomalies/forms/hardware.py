"""Moves of hardware: types and items added, installed, removed, quarantined, released, retired."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from django.contrib.auth.models import User

from anomalies.models import HardwareItem, HardwareType, Installation
from anomalies.services.hardware import (
    add_hardware_item,
    add_hardware_type,
    edit_hardware_item,
    install_hardware,
    quarantine_hardware,
    release_hardware,
    remove_hardware,
    retire_hardware,
)
from anomalies.states import HardwareState
from anomalies.web.fields import ItemField, MomentField, RecordField, line, words
from anomalies.web.forms import MoveForm
from anomalies.web.register import move_form, new_form


@new_form(
    "hardware_type", label="Add a type of hardware", button="Add", rule="hardware_type.add", back="anomalies:hardware"
)
class AddTypeForm(MoveForm[HardwareType]):
    """Adds a type."""

    done = "The type is here."

    part_number = line("Part number", most=60)
    name = line("What it is")

    def act(self) -> HardwareType:
        """Add."""
        return add_hardware_type(actor=self.actor, **self.values())


@new_form("hardware", label="Add a hardware item", button="Add", rule="hardware.add", back="anomalies:hardware")
class AddItemForm(MoveForm[HardwareItem]):
    """Adds an item."""

    columns: ClassVar[Mapping[str, str]] = {"type": "type_id"}
    done = "The item is here, in service."

    type = RecordField("Type", HardwareType.objects.all(), empty="Choose")
    serial_number = line("Serial number", most=60)
    location = line("Where it is", required=False)

    def act(self) -> HardwareItem:
        """Add."""
        return add_hardware_item(actor=self.actor, **self.values())


@move_form("hardware", "edit", label="Correct", button="Save")
class EditItemForm(MoveForm[HardwareItem]):
    """Corrects serial number or location."""

    versioned = True

    serial_number = line("Serial number", most=60)
    location = line("Where it is", required=False)

    @classmethod
    def start(cls, record: HardwareItem, actor: User) -> dict[str, Any]:
        """Start from what is there."""
        return {"serial_number": record.serial_number, "location": record.location}

    def act(self) -> HardwareItem:
        """Edit."""
        return edit_hardware_item(item_id=self.record.pk, actor=self.actor, version=self.seen, changes=self.values())


@move_form("hardware", "install", label="Install", button="It is installed")
class InstallForm(MoveForm[HardwareItem]):
    """Installs an item in another one."""

    columns: ClassVar[Mapping[str, str]] = {"parent": "parent_id"}
    done = "The installation is on record."

    parent = ItemField("In", HardwareItem.objects.none(), empty="Choose")
    position = line("Position", required=False, most=100)
    at = MomentField("When", required=False, help_text="Now, if left empty.")
    reason = words("Why", required=False, rows=2)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = HardwareItem.objects.exclude(state=HardwareState.RETIRED).exclude(pk=self.record.pk)
        self.fields["parent"].queryset = others.select_related("type")  # type: ignore[attr-defined]

    @classmethod
    def suits(cls, record: HardwareItem) -> bool:
        """It isn't part of something."""
        return record.installed_in_id is None

    def act(self) -> Installation:
        """Install."""
        return install_hardware(item_id=self.record.pk, actor=self.actor, **self.values())

    def goes_to(self, result: Any) -> str:
        """Stay with the item."""
        return self.record.get_absolute_url()


@move_form("hardware", "remove", label="Remove", button="It is removed")
class RemoveForm(MoveForm[HardwareItem]):
    """Removes an item from what it is part of."""

    done = "The removal is on record."

    location = line("Where it is now")
    reason = words("Why", rows=2)
    at = MomentField("When", required=False, help_text="Now, if left empty.")

    @classmethod
    def suits(cls, record: HardwareItem) -> bool:
        """It is part of something."""
        return record.installed_in_id is not None

    def act(self) -> Installation:
        """Remove."""
        return remove_hardware(item_id=self.record.pk, actor=self.actor, **self.values())

    def goes_to(self, result: Any) -> str:
        """Stay with the item."""
        return self.record.get_absolute_url()


class ItemReasonForm(MoveForm[HardwareItem]):
    """Base of moves that only need a reason."""

    service: ClassVar[Any]

    reason = words("Why", rows=3)

    def act(self) -> HardwareItem:
        """Do it."""
        serve = type(self).service
        item: HardwareItem = serve(item_id=self.record.pk, actor=self.actor, **self.values())
        return item


@move_form("hardware", "quarantine", label="Quarantine", button="Quarantine it")
class QuarantineForm(ItemReasonForm):
    """Nobody may use it."""

    service = staticmethod(quarantine_hardware)
    intro = "It may not be installed or used until it is released; where it is, it stays."
    done = "The item is quarantined."


@move_form("hardware", "release", label="Release", button="Release it")
class ReleaseForm(ItemReasonForm):
    """It may be used again."""

    service = staticmethod(release_hardware)
    done = "The item is in service again."


@move_form("hardware", "retire", label="Retire", button="Retire it")
class RetireForm(ItemReasonForm):
    """It won't be used any more."""

    service = staticmethod(retire_hardware)
    intro = "For good: a retired item can't be taken into service again."
    done = "The item is retired."
