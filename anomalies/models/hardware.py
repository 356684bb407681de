"""Hardware: types by part number, items by serial number, and where each was installed when."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import HardwareState, InstallationState
from config.kit.permissions import Actor, allows


class HardwareTypeQuerySet(RecordQuerySet["HardwareType"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> HardwareTypeQuerySet:
        """All types for those who may see hardware, none for the others."""
        return self if allows(actor, "hardware.view") else self.none()


class HardwareType(Record):
    """What a part number stands for."""

    KIND = "hardware_type"

    part_number = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=200)

    objects = HardwareTypeQuerySet.as_manager()

    class Meta:
        ordering = ("part_number",)

    def __str__(self) -> str:
        return f"{self.name} ({self.part_number})"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:hardware_type", args=(self.pk,))


class HardwareItemQuerySet(RecordQuerySet["HardwareItem"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> HardwareItemQuerySet:
        """All items for those who may see hardware, none for the others."""
        return self if allows(actor, "hardware.view") else self.none()

    def usable(self) -> HardwareItemQuerySet:
        """In service: neither quarantined nor retired."""
        return self.filter(state=HardwareState.IN_SERVICE)


class HardwareItem(Record):
    """One piece of hardware. `installed_in` is the item it is part of now; null: it is on its own at `location`."""

    KIND = "hardware"

    type = models.ForeignKey(HardwareType, on_delete=models.PROTECT, related_name="items")
    serial_number = models.CharField(max_length=60)
    location = models.CharField(max_length=200, blank=True)
    installed_in = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="parts")
    state = models.CharField(max_length=12, choices=HardwareState.choices, default=HardwareState.IN_SERVICE)

    objects = HardwareItemQuerySet.as_manager()

    class Meta:
        ordering = ("type__part_number", "serial_number")
        constraints = (
            models.UniqueConstraint(fields=("type", "serial_number"), name="hardware_serial_once_per_type"),
            models.CheckConstraint(condition=Q(state__in=HardwareState.values), name="hardware_state_known"),
            models.CheckConstraint(condition=~Q(installed_in=models.F("id")), name="hardware_not_in_itself"),
            models.CheckConstraint(
                condition=~Q(state=HardwareState.RETIRED) | Q(installed_in__isnull=True), name="hardware_retired_is_out"
            ),
        )

    def __str__(self) -> str:
        return f"serial {self.serial_number}"

    def get_absolute_url(self) -> str:
        """Return its page."""
        return reverse("anomalies:item", args=(self.pk,))


class InstallationQuerySet(RecordQuerySet["Installation"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> InstallationQuerySet:
        """All for those who may see hardware, none for the others."""
        return self if allows(actor, "hardware.view") else self.none()

    def current(self) -> InstallationQuerySet:
        """Not ended."""
        return self.filter(state=InstallationState.INSTALLED)


class Installation(Record):
    """That an item was part of another one, from when to when."""

    KIND = "installation"

    item = models.ForeignKey(HardwareItem, on_delete=models.PROTECT, related_name="installations")
    parent = models.ForeignKey(HardwareItem, on_delete=models.PROTECT, related_name="installations_within")
    position = models.CharField(max_length=100, blank=True)
    installed_at = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=InstallationState.choices, default=InstallationState.INSTALLED)

    objects = InstallationQuerySet.as_manager()

    class Meta:
        ordering = ("-installed_at", "-pk")
        constraints = (
            models.UniqueConstraint(
                fields=("item",), condition=Q(state=InstallationState.INSTALLED), name="installation_one_at_a_time"
            ),
            models.CheckConstraint(
                condition=Q(state=InstallationState.INSTALLED, removed_at__isnull=True)
                | Q(state=InstallationState.REMOVED, removed_at__gte=models.F("installed_at")),
                name="installation_removed_has_a_time",
            ),
        )

    def __str__(self) -> str:
        return f"item {self.item_id} in item {self.parent_id}"
