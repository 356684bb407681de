"""Writes of hardware: types, items, where items are installed, whether they may be used."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from anomalies.clock import now
from anomalies.models import HardwareItem, HardwareType, Installation
from anomalies.services.checks import ask_first, begin_move, clean_text, clean_values, lock_named, need_past, need_text
from anomalies.services.editing import edit_fields
from anomalies.services.ledger import change_record, create_record
from anomalies.services.numbers import hold_series
from anomalies.states import HARDWARE, INSTALLATION, HardwareState, InstallationState
from config.kit.errors import BadInput, Refused
from config.kit.permissions import require

PART_TAKEN = "This part number is already here."
SERIAL_TAKEN = "This serial number is already here for this part number."
WHY = "Say why."


@transaction.atomic
def add_hardware_type(*, actor: User, part_number: str, name: str) -> HardwareType:
    """A type with this part number is there."""
    require(actor, "hardware_type.add")
    record = HardwareType()
    values = clean_values(record, {"part_number": part_number, "name": name}, ("part_number", "name"))
    hold_series("hardware")  # or two at once would pass the check below
    if HardwareType.objects.filter(part_number=values["part_number"]).exists():
        raise BadInput(PART_TAKEN, code="part_number_taken", fields={"part_number": [PART_TAKEN]})
    record = HardwareType(**values)
    create_record(record, actor=actor, action="hardware_type.add")
    return record


@transaction.atomic
def add_hardware_item(*, actor: User, type_id: int, serial_number: str, location: str = "") -> HardwareItem:
    """An item with this serial number is in service, on its own at the location."""
    require(actor, "hardware.add")
    given = {"type_id": type_id, "serial_number": serial_number, "location": location}
    values = clean_values(HardwareItem(), given, tuple(given))
    hold_series("hardware")
    _check_serial(values["type_id"], values["serial_number"])
    item = HardwareItem(**values)
    create_record(item, actor=actor, action="hardware.add")
    return item


@transaction.atomic
def edit_hardware_item(*, item_id: int, actor: User, version: int, changes: Mapping[str, Any]) -> HardwareItem:
    """The serial number or the location is corrected; raises EditConflict if the item changed since `version`."""
    hold_series("hardware")
    item = HardwareItem.objects.lock(item_id)
    allowed = ("serial_number", "location")
    changed = edit_fields(item, HARDWARE, actor=actor, version=version, changes=changes, allowed=allowed)
    if "serial_number" in changed:
        _check_serial(item.type_id, changed["serial_number"])
    if changed:
        change_record(item, changed, actor=actor, action="hardware.edit")
    return item


@transaction.atomic
def install_hardware(
    *, item_id: int, parent_id: int, actor: User, position: str = "", at: datetime | None = None, reason: str = ""
) -> Installation:
    """The item is part of the parent, from `at` (now, if not said) on.

    Refused if it is part of something already, if the parent is retired, or if the parent is part of the item.
    """
    ask_first(actor, "hardware.install", HardwareItem.objects.all(), item_id)
    hold_series("hardware")  # the tree can't change while it's walked
    item, parent = _lock_both(item_id, parent_id)
    move = begin_move(item, HARDWARE, "install", actor)
    installed_at = need_past("at", at or now())
    reason = clean_text("reason", reason)
    values = clean_values(Installation(), {"position": position}, ("position",))
    if item.installed_in_id is not None:
        raise Refused("This item is installed already: remove it first.", code="installed_already")
    if parent.state == HardwareState.RETIRED:
        raise Refused("Nothing can be installed in a retired item.", code="parent_retired")
    _check_no_circle(item, parent)
    last = item.installations.order_by("-removed_at").first()
    if last is not None and last.removed_at is not None and installed_at < last.removed_at:
        message = "At that time the item was still installed elsewhere."
        raise BadInput(message, code="still_installed", fields={"at": [message]})
    change_record(item, {"installed_in_id": parent.pk, "state": move.target}, actor=actor, action="hardware.install")
    record = Installation(item=item, parent=parent, installed_at=installed_at, **values)
    create_record(record, actor=actor, action="installation.begin", reason=reason)
    return record


@transaction.atomic
def remove_hardware(
    *, item_id: int, actor: User, location: str, reason: str, at: datetime | None = None
) -> Installation:
    """The item is on its own at the location; its installation ended at `at` (now, if not said)."""
    item = HardwareItem.objects.lock(item_id)
    move = begin_move(item, HARDWARE, "remove", actor)
    removed_at = need_past("at", at or now())
    reason = need_text("reason", reason, WHY)
    values = clean_values(item, {"location": location}, ("location",))
    installation = item.installations.current().select_for_update().first()
    if installation is None:
        raise Refused("This item isn't installed in anything.", code="not_installed")
    if removed_at < installation.installed_at:
        message = "This is before the item was installed."
        raise BadInput(message, code="before_installation", fields={"at": [message]})
    end = begin_move(installation, INSTALLATION, "end", actor)
    changes = {"installed_in_id": None, "state": move.target, **values}
    change_record(item, changes, actor=actor, action="hardware.remove", reason=reason)
    ended = {"state": InstallationState(end.target), "removed_at": removed_at}
    change_record(installation, ended, actor=actor, action="installation.end", reason=reason)
    return installation


@transaction.atomic
def quarantine_hardware(*, item_id: int, actor: User, reason: str) -> HardwareItem:
    """The item may not be installed until it is released; where it is, it stays."""
    return _change_state(item_id, "quarantine", actor, reason)


@transaction.atomic
def release_hardware(*, item_id: int, actor: User, reason: str) -> HardwareItem:
    """The item is in service again."""
    return _change_state(item_id, "release", actor, reason)


@transaction.atomic
def retire_hardware(*, item_id: int, actor: User, reason: str) -> HardwareItem:
    """The item is out of use for good. Refused while it is part of something, or something is part of it."""
    hold_series("hardware")
    return _change_state(item_id, "retire", actor, reason)


def _change_state(item_id: int, name: str, actor: User, reason: str) -> HardwareItem:
    item = HardwareItem.objects.lock(item_id)
    move = begin_move(item, HARDWARE, name, actor)
    reason = need_text("reason", reason, WHY)
    if name == "retire" and (item.installed_in_id is not None or item.parts.exists()):
        message = "This item is installed, or something is installed in it: remove that first."
        raise Refused(message, code="installed")
    change_record(item, {"state": move.target}, actor=actor, action=f"hardware.{name}", reason=reason)
    return item


def _lock_both(item_id: int, parent_id: int) -> tuple[HardwareItem, HardwareItem]:
    if item_id == parent_id:
        raise Refused("An item can't be installed in itself.", code="installed_in_itself")
    names = {item_id: "item_id", parent_id: "parent_id"}
    found = {pk: lock_named(names[pk], HardwareItem.objects.all(), pk) for pk in sorted(names)}
    return found[item_id], found[parent_id]


def _check_no_circle(item: HardwareItem, parent: HardwareItem) -> None:
    above: HardwareItem | None = parent
    while above is not None:
        if above.pk == item.pk:
            raise Refused("The parent is itself part of this item.", code="installed_in_itself")
        above = above.installed_in


def _check_serial(type_id: int, serial_number: str) -> None:
    if HardwareItem.objects.filter(type_id=type_id, serial_number=serial_number).exists():
        raise BadInput(SERIAL_TAKEN, code="serial_number_taken", fields={"serial_number": [SERIAL_TAKEN]})
