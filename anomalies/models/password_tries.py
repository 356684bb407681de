"""How often somebody gave a wrong password in order to sign."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class PasswordTries(models.Model):
    """Wrong passwords of one person since a moment. No record: after a right one it is forgotten."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    count = models.PositiveSmallIntegerField(default=0)
    since = models.DateTimeField()

    class Meta:
        verbose_name_plural = "password tries"

    def __str__(self) -> str:
        return f"{self.count} wrong of person {self.person_id}"
