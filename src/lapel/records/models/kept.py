"""What every ordinary record has: a history of who changed what, when and why."""

from __future__ import annotations

from django.db import models
from simple_history.models import HistoricalRecords


class Kept(models.Model):
    """A record whose every version is kept, with the person and, where one was given, the reason."""

    history = HistoricalRecords(inherit=True, history_change_reason_field=models.TextField(null=True))

    class Meta:
        """No table of its own."""

        abstract = True


class Coded(Kept):
    """A kept record with a code people know it by; `origin` is where it was first read from."""

    code = models.CharField(max_length=120)
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """No table of its own."""

        abstract = True

    def __str__(self) -> str:
        return self.code
