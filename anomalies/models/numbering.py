"""Numbers that people use, given one after the other."""

from __future__ import annotations

from django.db import models


class NumberSeries(models.Model):
    """The last number given in a series; its row is the lock under which the next one is given."""

    name = models.CharField(max_length=40, primary_key=True)
    last = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return f"{self.name}: {self.last}"
