"""Shapes of hardware in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.activity_shapes import AtIn
from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import ReasonIn, open_moves
from anomalies.models import HardwareItem, HardwareType, Installation
from anomalies.states import HARDWARE, HardwareState, InstallationState
from config.kit.addresses import LAST_KEY


class HardwareTypeOut(serializers.ModelSerializer[HardwareType]):
    """What a part number stands for."""

    class Meta:
        model = HardwareType
        fields = ("id", "part_number", "name", "version")


class HardwareTypeIn(serializers.Serializer[Any]):
    """A new type."""

    part_number = serializers.CharField(max_length=60)
    name = serializers.CharField(max_length=200)


class HardwareItemOut(serializers.ModelSerializer[HardwareItem]):
    """One piece of hardware. `installed_in` is the id of the item that it is part of now."""

    part_number = serializers.CharField(source="type.part_number")
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = HardwareItem
        fields = (
            *("id", "type_id", "part_number", "serial_number", "location", "installed_in_id"),
            *("state", "version", "moves"),
        )

    def get_moves(self, item: HardwareItem) -> list[str]:
        """Return the moves that are open."""
        return open_moves(HARDWARE, item, self.context["request"].user)


class HardwareFilters(serializers.Serializer[Any]):
    """Which items are listed; what is left out lets all through."""

    words = serializers.CharField(required=False, max_length=200)
    state = serializers.ChoiceField(HardwareState.choices, required=False)
    type = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    serial_number = serializers.CharField(required=False, max_length=60)
    installed_in = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)


class HardwareItemIn(serializers.Serializer[Any]):
    """A new item."""

    type_id = key()
    serial_number = serializers.CharField(max_length=60)
    location = serializers.CharField(max_length=200, required=False, allow_blank=True)


class HardwareItemChanges(serializers.Serializer[Any]):
    """Corrections; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text="The version that you read.")
    serial_number = serializers.CharField(max_length=60, required=False)
    location = serializers.CharField(max_length=200, required=False, allow_blank=True)


class InstallIn(AtIn):
    """Into which item, where in it, when, why."""

    parent_id = key()
    position = serializers.CharField(max_length=100, required=False, allow_blank=True)
    reason = text()


class RemoveIn(AtIn, ReasonIn):
    """Where the item is now, when it was removed, why."""

    location = serializers.CharField(max_length=200, allow_blank=True)


class InstallationOut(serializers.ModelSerializer[Installation]):
    """That an item was part of another one, from when to when."""

    class Meta:
        model = Installation
        fields = ("id", "item_id", "parent_id", "position", "installed_at", "removed_at", "state", "version")


class InstallationFilters(serializers.Serializer[Any]):
    """Which installations are listed; what is left out lets all through."""

    item = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)
    parent = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)  # type: ignore[assignment]
    state = serializers.ChoiceField(InstallationState.choices, required=False)
