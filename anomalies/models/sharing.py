"""What opens something of this service without a log-in: a shared brief, a calendar. The secrets are kept nowhere."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from anomalies.models.activity import Activity
from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import TokenState
from config.kit.permissions import Actor, allows


class BriefShareQuerySet(RecordQuerySet["BriefShare"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> BriefShareQuerySet:
        """All for those who may see activities, none for the others."""
        return self if allows(actor, "activity.view") else self.none()

    def usable(self, at: datetime) -> BriefShareQuerySet:
        """Neither revoked nor expired at that moment, and who made it still has an account."""
        return self.filter(state=TokenState.USABLE, expires_at__gt=at, made_by__is_active=True)


class BriefShare(Record):
    """A brief as it was when it was shared, open to whoever has the address until it expires.

    `document` is JSON text; the ledger holds its SHA-256 in its place.
    """

    KIND = "brief_share"

    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="brief_shares")
    audience = models.CharField(max_length=120)
    digest = models.CharField(max_length=64, unique=True)
    document = models.TextField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="brief_shares")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=TokenState.choices, default=TokenState.USABLE)

    objects = BriefShareQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=TokenState.values), name="brief_share_state_known"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("made_at")), name="brief_share_expires_after_it_is_made"
            ),
        )

    def __str__(self) -> str:
        return f"Brief shared with {self.audience}"

    def get_absolute_url(self) -> str:
        """Its place on the page of the brief."""
        return f"/readiness/{self.activity_id}/brief/#brief_share-{self.pk}"

    def content(self) -> dict[str, Any]:
        """Return all fields, the document by its hash."""
        content = super().content()
        del content["document"]
        return content | {"document_hash": sha256(self.document.encode()).hexdigest()}


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
        )

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The list: a key has no page of its own."""
        return f"/calendar/#calendar_key-{self.pk}"
