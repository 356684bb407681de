"""The library: basic events and parameters that several trees share, and the numbered data sets of their values.

Every change makes a new data set. A value belongs to the data set that brought it; the state of the library at data
set N is, for each item, its newest value of a data set up to N. Nothing here is ever changed or removed.
"""

from __future__ import annotations

from typing import Any, ClassVar, NoReturn

from django.conf import settings
from django.db import models
from django.db.models import OuterRef, Q, Subquery
from django.urls import reverse

from config.kit.canonical import hash_canonical
from config.kit.ledger import kept, read_columns
from config.kit.permissions import Actor, allows


class FrozenQuerySet(models.QuerySet[Any]):
    """Refuses to change what is frozen."""

    def update(self, **values: Any) -> NoReturn:
        """Refuse."""
        raise TypeError("Data sets and their values are never changed; make a new data set.")


class DataSetQuerySet(FrozenQuerySet):
    """Filters in the words of the job."""

    def newest(self) -> DataSet | None:
        """The data set that is in use now; None while nothing is shared."""
        found: DataSet | None = self.order_by("-number").first()
        return found


@kept
class DataSet(models.Model):
    """The state of the whole library after one change."""

    KIND: ClassVar[str] = "data_set"
    version: ClassVar[int] = 1

    number = models.PositiveIntegerField(unique=True)
    note = models.CharField(max_length=500, blank=True)
    author = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="data_sets")
    created = models.DateTimeField(auto_now_add=True)

    objects = DataSetQuerySet.as_manager()

    class Meta:
        ordering = ("-number",)
        constraints = (models.CheckConstraint(condition=Q(number__gte=1), name="data_set_number_from_1"),)

    def __str__(self) -> str:
        return f"Data set {self.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new data set; refuse to write over one."""
        _refuse_change(self)
        super().save(*args, **kwargs)

    def content(self) -> dict[str, Any]:
        """Return what the ledger answers for: every column, and the values that this data set brought."""
        rows = self.values.select_related("item").order_by("item__kind", "item__name")
        values = [{"kind": row.item.kind, "name": row.item.name} | read_columns(row, "data_set_id") for row in rows]
        found = read_columns(self)
        return found | {"values": values} if values else found

    def content_hash(self) -> str:
        """Return the SHA-256 of the content."""
        return hash_canonical(self.content())


class SharedItemQuerySet(models.QuerySet["SharedItem"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> SharedItemQuerySet:
        """All items for those who may see trees, none for the others."""
        return self if allows(actor, "tree.view") else self.none()


class SharedItem(models.Model):
    """A basic event or a parameter of the library; trees know it by kind and name."""

    class Kind(models.TextChoices):
        """What it stands for in a tree."""

        EVENT = "event", "Basic event"
        PARAMETER = "parameter", "Parameter"

    kind = models.CharField(max_length=10, choices=Kind.choices)
    name = models.CharField(max_length=200)
    created = models.DateTimeField(auto_now_add=True)

    objects = SharedItemQuerySet.as_manager()

    class Meta:
        ordering = ("kind", "name")
        constraints = (
            models.UniqueConstraint(fields=("kind", "name"), name="shared_name_once_per_kind"),
            models.CheckConstraint(condition=Q(kind__in=("event", "parameter")), name="shared_kind_known"),
        )

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page of the item."""
        return reverse("faulttree:shared", args=[self.pk])


class SharedValueQuerySet(FrozenQuerySet):
    """Filters in the words of the job."""

    def at(self, number: int) -> SharedValueQuerySet:
        """The value that each item has in data set `number`; items that came later have none."""
        newest = SharedValue.objects.filter(item=OuterRef("item"), data_set__number__lte=number)
        return self.filter(pk=Subquery(newest.order_by("-data_set__number").values("pk")[:1]))


class SharedValue(models.Model):
    """What an item is worth from one data set on, and where the number comes from."""

    class Source(models.TextChoices):
        """What kind of source a number has."""

        HANDBOOK = "handbook", "Handbook or data base"
        TEST = "test", "Test"
        SERVICE = "service", "Service experience"
        JUDGEMENT = "judgement", "Engineering judgement"
        UNKNOWN = "unknown", "Not stated"

    item = models.ForeignKey(SharedItem, on_delete=models.PROTECT, related_name="values")
    data_set = models.ForeignKey(DataSet, on_delete=models.PROTECT, related_name="values")
    label = models.CharField(max_length=300, blank=True)
    unit = models.CharField(max_length=40, blank=True)
    expression = models.JSONField()
    """As in our JSON form: a number, the name of a shared parameter, or an object with one function."""
    source_kind = models.CharField(max_length=12, choices=Source.choices, default=Source.UNKNOWN)
    source = models.TextField(blank=True)
    is_retired = models.BooleanField(default=False)
    """No longer offered to trees; those that use it go on doing so."""

    objects = SharedValueQuerySet.as_manager()

    class Meta:
        ordering = ("item", "-data_set__number")
        constraints = (
            models.UniqueConstraint(fields=("item", "data_set"), name="shared_value_once_per_data_set"),
            models.CheckConstraint(
                condition=Q(source_kind__in=("handbook", "test", "service", "judgement", "unknown")),
                name="shared_source_known",
            ),
        )

    def __str__(self) -> str:
        return f"{self.item} in data set {self.data_set.number}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new value; refuse to write over one."""
        _refuse_change(self)
        super().save(*args, **kwargs)


def _refuse_change(row: models.Model) -> None:
    if not row._state.adding:
        raise TypeError("Data sets and their values are never changed; make a new data set.")
