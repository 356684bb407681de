"""A sign-off: somebody put their name to a record as it was, after giving their password again."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from anomalies.models.base import Record, RecordQuerySet


class SignOffQuerySet(RecordQuerySet["SignOff"]):
    """Filters in the words of the job."""

    def of(self, record: Record) -> SignOffQuerySet:
        """What was signed about one record, oldest first."""
        return self.filter(signed_kind=record.KIND, signed_id=record.pk).order_by("pk")


class SignOff(Record):
    """Who signed which version of which record, in what role, meaning what; never changed afterwards.

    `signed_hash` is the record's content hash at `signed_version`, which the ledger remembers too. Name and role are
    as they were then: people change both.
    """

    KIND = "sign_off"

    signed_kind = models.CharField(max_length=40)
    signed_id = models.PositiveBigIntegerField()
    signed_version = models.PositiveIntegerField()
    signed_hash = models.CharField(max_length=64)
    meaning = models.TextField()
    signer = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="sign_offs")
    signer_name = models.CharField(max_length=310)
    signer_role = models.CharField(max_length=200)
    signed_at = models.DateTimeField()

    objects = SignOffQuerySet.as_manager()

    class Meta:
        ordering = ("pk",)
        indexes = (models.Index(fields=("signed_kind", "signed_id"), name="sign_off_of_record"),)
        constraints = (models.CheckConstraint(condition=~models.Q(meaning=""), name="sign_off_means_something"),)

    def __str__(self) -> str:
        return f"{self.signer_name} ({self.signer_role}): {self.meaning}"
