"""What opens a person's calendar to a program that can't log in. The secret part of the address is kept nowhere."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import TokenState
from config.kit.permissions import Actor


class CalendarKeyQuerySet(RecordQuerySet["CalendarKey"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> CalendarKeyQuerySet:
        """One's own, and nobody else's."""
        return self.filter(owner=getattr(actor, "pk", None))

    def usable(self) -> CalendarKeyQuerySet:
        """Not revoked, and the owner's account is open."""
        return self.filter(state=TokenState.USABLE, owner__is_active=True)


class CalendarKey(Record):
    """The secret part of the address of a person's calendar, by its SHA-256."""

    class Reach(models.TextChoices):
        """Whose dates the calendar holds."""

        MINE = "mine", "What is mine"
        ALL = "all", "Everything that I may see"

    KIND = "calendar_key"

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="calendar_keys")
    name = models.CharField(max_length=80)
    reach = models.CharField(max_length=6, choices=Reach.choices)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=TokenState.choices, default=TokenState.USABLE)

    objects = CalendarKeyQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=TokenState.values), name="calendar_key_state_known"),
            models.CheckConstraint(condition=~Q(name=""), name="calendar_key_has_a_name"),
            models.CheckConstraint(condition=Q(reach__in=("mine", "all")), name="calendar_key_reach_known"),
        )

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The list: a key has no page of its own."""
        return f"{reverse('anomalies:calendar')}#calendar_key-{self.pk}"


class CalendarUse(models.Model):
    """When a key last opened its calendar, to the minute. No record: it changes with every minute of use."""

    key = models.OneToOneField(CalendarKey, on_delete=models.CASCADE, related_name="last_use")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.key_id} at {self.at:%Y-%m-%d %H:%M}"
