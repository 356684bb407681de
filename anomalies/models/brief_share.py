"""A brief that is open to whoever has its address. The secret part of the address is kept nowhere."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from anomalies.clock import now
from anomalies.models.activity import Activity
from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import TokenState
from config.kit.permissions import Actor, allows


class BriefShareQuerySet(RecordQuerySet["BriefShare"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> BriefShareQuerySet:
        """All for those who may read briefs, none for the others."""
        return self if allows(actor, "readiness_review.view") else self.none()

    def usable(self, at: datetime) -> BriefShareQuerySet:
        """Neither revoked nor expired at that moment, and the account of who made it is open."""
        return self.filter(state=TokenState.USABLE, expires_at__gt=at, made_by__is_active=True)


class BriefShare(Record):
    """A brief as it was when it was shared; the address opens it until it expires or is revoked.

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
    revoked_at = models.DateTimeField(null=True, blank=True)
    state = models.CharField(max_length=12, choices=TokenState.choices, default=TokenState.USABLE)

    objects = BriefShareQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(condition=Q(state__in=TokenState.values), name="brief_share_state_known"),
            models.CheckConstraint(condition=~Q(audience=""), name="brief_share_has_an_audience"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=models.F("made_at")), name="brief_share_expires_after_it_is_made"
            ),
        )

    def __str__(self) -> str:
        return f"Brief shared with {self.audience}"

    def get_absolute_url(self) -> str:
        """Its place in the list of the activity's shared briefs."""
        return f"{reverse('anomalies:brief_shares', args=(self.activity_id,))}#brief_share-{self.pk}"

    @property
    def has_expired(self) -> bool:
        """Whether its time is over."""
        return self.expires_at <= now()

    @property
    def document_hash(self) -> str:
        """SHA-256 of the document, in hexadecimal."""
        return sha256(self.document.encode()).hexdigest()

    def content(self) -> dict[str, Any]:
        """Return all fields, the document by its hash."""
        content = super().content()
        del content["document"]
        return content | {"document_hash": self.document_hash}


class BriefShareUse(models.Model):
    """When a shared brief was last opened, to the minute. No record: it changes with every minute of use."""

    share = models.OneToOneField(BriefShare, on_delete=models.CASCADE, related_name="last_use")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.share_id} at {self.at:%Y-%m-%d %H:%M}"
