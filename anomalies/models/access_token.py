"""What lets a program act in somebody's name through the API. The secret itself is kept nowhere."""

from __future__ import annotations

from datetime import datetime
from hashlib import sha256

from django.conf import settings
from django.db import models

from anomalies.clock import now
from anomalies.models.base import Record, RecordQuerySet
from anomalies.states import TokenState
from config.kit.permissions import Actor

PREFIX = "siftwood_"
"""Every secret begins with it, so that one that was left in a file can be found."""


class AccessTokenQuerySet(RecordQuerySet["AccessToken"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> AccessTokenQuerySet:
        """One's own, and nobody else's."""
        return self.filter(owner=getattr(actor, "pk", None))

    def usable(self, at: datetime) -> AccessTokenQuerySet:
        """Neither revoked nor expired at that moment, and the owner's account is open."""
        return self.filter(state=TokenState.USABLE, expires_at__gt=at, owner__is_active=True)


class AccessToken(Record):
    """One secret of one person's, by its SHA-256: it is random and long, so a slow hash would protect nothing more."""

    KIND = "access_token"

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="access_tokens")
    name = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=TokenState.choices, default=TokenState.USABLE)
    revoked_at = models.DateTimeField(null=True, blank=True)

    objects = AccessTokenQuerySet.as_manager()

    class Meta:
        ordering = ("-pk",)
        constraints = (
            models.CheckConstraint(condition=~models.Q(name=""), name="access_token_has_a_name"),
            models.CheckConstraint(
                condition=models.Q(expires_at__gt=models.F("made_at")), name="access_token_expires_after_it_is_made"
            ),
        )

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The list: a token has no page of its own."""
        return f"/tokens/#access_token-{self.pk}"

    @property
    def has_expired(self) -> bool:
        """Whether its time is over."""
        return self.expires_at <= now()


class TokenUse(models.Model):
    """When a token last opened the API, to the minute. No record: it changes with every minute of use."""

    token = models.OneToOneField(AccessToken, on_delete=models.CASCADE, related_name="last_use")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.token_id} at {self.at:%Y-%m-%d %H:%M}"


def hash_secret(secret: str) -> str:
    """Return the SHA-256 by which a token is known."""
    return sha256(secret.encode()).hexdigest()
