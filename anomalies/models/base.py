"""What every record has: a version, and content that the ledger can hash."""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn, Self, TypeVar

from django.apps import apps
from django.db import models

from config.kit.canonical import as_plain, hash_canonical
from config.kit.ledger import is_empty

R = TypeVar("R", bound="Record")


class RecordQuerySet(models.QuerySet[R]):
    """Rows that only services write, one at a time, each with its entry in the ledger."""

    def lock(self, pk: int) -> R:
        """Return the record, locked until the transaction ends; raises DoesNotExist."""
        return self.select_for_update(of=("self",)).get(pk=pk)

    def update(self, **values: Any) -> NoReturn:
        """Refuse: a change without an entry in the ledger is tampering."""
        raise TypeError("Records are changed by their services, which write the ledger.")

    def delete(self) -> NoReturn:
        """Refuse: records are never deleted."""
        raise TypeError("Records are never deleted.")


def record_models() -> list[type[Record]]:
    """Return every kind of record: all models whose rows the ledger answers for."""
    return [model for model in apps.get_app_config("anomalies").get_models() if issubclass(model, Record)]


class Record(models.Model):
    """A row whose every change is in the ledger. `version` counts the changes, so that a stale edit is noticed."""

    KIND: ClassVar[str]
    """What the ledger and the rules call this kind of record."""

    version = models.PositiveIntegerField(default=0)

    class Meta:
        abstract = True

    def content(self) -> dict[str, Any]:
        """Return all fields but the key, as JSON can hold them.

        Empty values are left out, so that a column that is added later changes no content that was recorded before.
        """
        fields = (field for field in self._meta.concrete_fields if not field.primary_key)
        values = {field.attname: as_plain(getattr(self, field.attname)) for field in fields}
        return {name: value for name, value in values.items() if not is_empty(value)}

    def content_hash(self) -> str:
        """Return the SHA-256 of the content: what a signature stands for, and what the ledger remembers."""
        return hash_canonical(self.content())

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Refuse: records are never deleted."""
        raise TypeError("Records are never deleted.")

    def reread(self) -> Self:
        """Return the record as the database has it now."""
        return type(self)._base_manager.get(pk=self.pk)


class Membership(Record):
    """That something is on a record's list. Not active: was taken off it again."""

    active = models.BooleanField(default=True)

    class Meta:
        abstract = True
