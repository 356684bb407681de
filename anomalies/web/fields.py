"""Form fields as this service has them: texts, moments on two clocks, people, records."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.auth.models import User
from django.db.models import Model, QuerySet

from anomalies.mission_clock import read_mission_time
from anomalies.people import name_of as name_of
from anomalies.services.checks import LONGEST_TEXT
from config.kit.errors import BadInput

SHORT = 200


def line(label: str, *, required: bool = True, help_text: str = "", most: int = SHORT) -> forms.CharField:
    """One line of text."""
    return forms.CharField(label=label, required=required, help_text=help_text, max_length=most)


def words(label: str, *, required: bool = True, help_text: str = "", rows: int = 4) -> forms.CharField:
    """Text of any length that a service takes."""
    widget = forms.Textarea(attrs={"rows": rows})
    return forms.CharField(label=label, required=required, help_text=help_text, max_length=LONGEST_TEXT, widget=widget)


class MomentField(forms.CharField):
    """A moment in UTC, or on the mission clock where there's one."""

    def __init__(self, label: str, *, required: bool = True, help_text: str = "") -> None:
        example = "UTC, like 2031-04-05 09:30."
        if settings.MISSION_EPOCH:
            example = "UTC, like 2031-04-05 09:30, or mission time, like T+012/04:33:10."
        super().__init__(label=label, required=required, help_text=f"{help_text} {example}".strip(), max_length=40)

    def prepare_value(self, value: Any) -> Any:
        """Show a moment in UTC, to the second only if it has seconds."""
        if not isinstance(value, datetime):
            return value
        value = value.astimezone(UTC)
        return f"{value:%Y-%m-%d %H:%M:%S}" if value.second else f"{value:%Y-%m-%d %H:%M}"

    def clean(self, value: Any) -> datetime | None:
        """Return the moment, None for an empty field that may be empty."""
        text = super().clean(self.prepare_value(value))
        if not text:
            return None
        if settings.MISSION_EPOCH and "/" in text:
            try:
                return read_mission_time(text, settings.MISSION_EPOCH)
            except BadInput as error:
                raise forms.ValidationError(error.message) from None
        try:
            at = datetime.fromisoformat(text.removesuffix("UTC").strip())
        except ValueError:
            raise forms.ValidationError(f"“{text}” isn't a time. Write it in {self.help_text}") from None
        return at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)


class PersonField(forms.ModelChoiceField):  # type: ignore[type-arg]  # no generic at run time
    """One person out of those given, by name."""

    def __init__(
        self, label: str, people: QuerySet[User] | None = None, *, required: bool = True, help_text: str = ""
    ) -> None:
        found = (User.objects.all() if people is None else people).filter(is_active=True)
        ordered = found.order_by("last_name", "first_name", "username")
        super().__init__(ordered, label=label, required=required, help_text=help_text, empty_label="Choose somebody")

    def label_from_instance(self, obj: Model) -> str:
        """Show the name."""
        return name_of(obj)


class RecordField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """One record out of those given."""

    def __init__(
        self, label: str, records: QuerySet[Any], *, required: bool = True, help_text: str = "", empty: str = "None"
    ) -> None:
        super().__init__(records, label=label, required=required, help_text=help_text, empty_label=empty)


class ItemField(RecordField):
    """A hardware item, with its type in the label."""

    def label_from_instance(self, obj: Any) -> str:
        """Show type and serial number."""
        return f"{obj.type.name} {obj.type.part_number}, serial {obj.serial_number}"


class RecordsField(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """Any number of records out of those given, each with a box to tick."""

    def __init__(self, label: str, records: QuerySet[Any], *, required: bool = False, help_text: str = "") -> None:
        widget = forms.CheckboxSelectMultiple
        super().__init__(records, label=label, required=required, help_text=help_text, widget=widget)


class PeopleField(RecordsField):
    """Any number of people out of those given, by name."""

    def __init__(self, label: str, people: QuerySet[User], *, required: bool = False, help_text: str = "") -> None:
        ordered = people.filter(is_active=True).order_by("last_name", "first_name", "username")
        super().__init__(label, ordered, required=required, help_text=help_text)

    def label_from_instance(self, obj: Model) -> str:
        """Show the name."""
        return name_of(obj)
