"""A filter of the log that somebody keeps under a name.

No record: it is a setting of one person's, says nothing about an anomaly, and nobody's decision rests on it.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from config.kit.permissions import Actor


class SavedViewQuerySet(models.QuerySet["SavedView"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> SavedViewQuerySet:
        """One's own, and those that others share."""
        return self.filter(Q(owner=getattr(actor, "pk", None)) | Q(is_shared=True))


class SavedView(models.Model):
    """Name and query string of a filter."""

    owner = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="saved_views")
    name = models.CharField(max_length=80)
    query = models.CharField(max_length=1000, blank=True)
    is_shared = models.BooleanField(default=False)

    objects = SavedViewQuerySet.as_manager()

    class Meta:
        ordering = ("name", "pk")
        constraints = (models.UniqueConstraint(fields=("owner", "name"), name="saved_view_name_once"),)

    def __str__(self) -> str:
        return self.name
