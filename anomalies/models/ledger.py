"""The ledger: one entry per change of a record, each holding the hash of the one before it."""

from __future__ import annotations

import json
from typing import Any, NoReturn

from django.conf import settings
from django.db import models

from config.kit.canonical import as_plain, hash_canonical

GENESIS = "0" * 64
"""What the first entry holds in place of the hash of one before it."""
FORMAT = 1
"""Which fields are hashed, and how; a later format leaves older entries as they are."""


class LedgerQuerySet(models.QuerySet["LedgerEntry"]):
    """Reads only; the database refuses changes too."""

    def of(self, kind: str, record_id: int) -> LedgerQuerySet:
        """The history of one record, oldest first."""
        return self.filter(kind=kind, record_id=record_id).order_by("sequence")

    def update(self, **values: Any) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only.")

    def delete(self) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only.")


class LedgerEntry(models.Model):
    """Who did what to which record, when and why, and what changed.

    `before` and `after` are canonical JSON of the fields that changed (null: was, or became, empty);
    `content_hash` stands for the whole record afterwards. They are text, not JSON columns: a database that
    rewrites JSON would change what was hashed.
    """

    sequence = models.PositiveBigIntegerField(primary_key=True)
    format = models.PositiveSmallIntegerField(default=FORMAT)
    at = models.DateTimeField()
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="ledger_entries"
    )
    actor_name = models.CharField(max_length=150)
    action = models.CharField(max_length=80)
    kind = models.CharField(max_length=40)
    record_id = models.PositiveBigIntegerField()
    version = models.PositiveIntegerField()
    before = models.TextField()
    after = models.TextField()
    content_hash = models.CharField(max_length=64)
    reason = models.TextField(blank=True)
    previous_hash = models.CharField(max_length=64, unique=True)
    hash = models.CharField(max_length=64, unique=True)

    objects = LedgerQuerySet.as_manager()

    class Meta:
        ordering = ("sequence",)
        verbose_name_plural = "ledger entries"
        constraints = (
            models.UniqueConstraint(fields=("kind", "record_id", "version"), name="ledger_version_once_per_record"),
            models.CheckConstraint(condition=models.Q(sequence__gte=1), name="ledger_sequence_from_1"),
        )

    def __str__(self) -> str:
        return f"{self.sequence}: {self.action} by {self.actor_name}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new entry; refuse to write over one."""
        if not self._state.adding:
            raise TypeError("The ledger is append-only.")
        super().save(*args, **kwargs | {"force_insert": True})

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Refuse."""
        raise TypeError("The ledger is append-only.")

    @property
    def changes(self) -> dict[str, tuple[Any, Any]]:
        """Field -> (before, after)."""
        before, after = json.loads(self.before), json.loads(self.after)
        return {name: (before[name], after[name]) for name in after}

    def compute_hash(self) -> str:
        """Return the SHA-256 over the canonical form of every field but the hash itself."""
        fields = (field.attname for field in self._meta.concrete_fields if field.attname != "hash")
        return hash_canonical({name: as_plain(getattr(self, name)) for name in fields})


class LedgerHead(models.Model):
    """One row: the newest entry. Whoever appends locks it, so that appends happen one after the other."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    sequence = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64, default=GENESIS)

    class Meta:
        constraints = (models.CheckConstraint(condition=models.Q(id=1), name="ledger_has_one_head"),)

    def __str__(self) -> str:
        return f"{self.sequence}: {self.hash}"
