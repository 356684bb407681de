"""What people are told: one row per person and entry of the ledger that asks something of them.

No records: they are derived from the ledger, say nothing of their own, and nobody's decision rests on them.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from config.kit.permissions import Actor


class PersonalNoticeQuerySet(models.QuerySet["PersonalNotice"]):
    """Filters in the words of the job."""

    def visible_to(self, actor: Actor) -> PersonalNoticeQuerySet:
        """One's own."""
        return self.filter(person=getattr(actor, "pk", None))

    def unseen(self) -> PersonalNoticeQuerySet:
        """Not looked at yet."""
        return self.filter(seen_at__isnull=True)


class PersonalNotice(models.Model):
    """That somebody was told what an entry of the ledger asks of them; `kind` and `record_id` say where to look."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notices")
    sequence = models.PositiveBigIntegerField()
    text = models.CharField(max_length=400)
    kind = models.CharField(max_length=40)
    record_id = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True, blank=True)
    mailed_at = models.DateTimeField(null=True, blank=True)

    objects = PersonalNoticeQuerySet.as_manager()

    class Meta:
        ordering = ("-sequence", "-pk")
        indexes = (models.Index(fields=("person", "seen_at"), name="notice_of_person"),)
        constraints = (models.UniqueConstraint(fields=("person", "sequence"), name="notice_once_per_entry"),)

    def __str__(self) -> str:
        return self.text


class NoticeMark(models.Model):
    """One row: the last entry of the ledger of which people were told."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1)
    sequence = models.PositiveBigIntegerField(default=0)

    class Meta:
        constraints = (models.CheckConstraint(condition=Q(id=1), name="notices_have_one_mark"),)

    def __str__(self) -> str:
        return str(self.sequence)


class MailChoice(models.Model):
    """What somebody wants to have by e-mail; without a row it's the default."""

    class Choice(models.TextChoices):
        """When a mail is sent."""

        AT_ONCE = "at_once", "Each notice at once, and a digest each morning"
        DAILY = "daily", "A digest each morning"
        NEVER = "never", "No e-mail"

    person = models.OneToOneField(
        settings.AUTH_USER_MODEL, primary_key=True, on_delete=models.CASCADE, related_name="mail_choice"
    )
    choice = models.CharField(max_length=8, choices=Choice.choices, default=Choice.AT_ONCE)
    digest_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.get_choice_display()
