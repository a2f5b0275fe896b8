"""What reached the office: every delivery of entries, hashed and chained, and the refused entries, as sent."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.log import LogEntry
from lapel.records.models.surveys import Survey


class Delivery(models.Model):
    """
    Entries taken into the log in one transaction; database triggers refuse every change.

    `digests` holds the SHA-256 of each row as stored, receipts `first_receipt` and on, then of each refused one;
    `hash` covers them and the delivery before. Paper sheets, receipt times and the survey an entry was filed under,
    which no device's chain covers, are proven by it. `sent_at` is the sender's clock, to see how far it is off.
    """

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="deliveries")
    device = models.CharField(max_length=120, blank=True)
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True)
    received_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    first_receipt = models.BigIntegerField(null=True, blank=True)
    entries = models.PositiveIntegerField()
    first_refused = models.BigIntegerField(null=True, blank=True)
    refused = models.PositiveIntegerField(default=0)
    digests = models.JSONField()
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64)

    class Meta:
        """In the order they came."""

        verbose_name_plural = "deliveries"
        ordering = ("id",)

    def __str__(self) -> str:
        return f"delivery {self.pk}"


class RefusedEntry(models.Model):
    """
    An entry the log did not take, kept as it was sent; database triggers refuse every change.

    `kept` is the entry of the same id that was there first: then this one is a conflict, with both to be shown.
    `content` is the JSON it came as, all letters beyond ASCII escaped, so that even what no database can hold is kept.
    """

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="refused_entries")
    entry_id = models.CharField(max_length=120)
    device = models.CharField(max_length=120, blank=True)
    sequence = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64, blank=True)
    kept = models.ForeignKey(LogEntry, on_delete=models.PROTECT, null=True, blank=True, related_name="refused")
    problems = models.JSONField()
    content = models.TextField()
    content_hash = models.CharField(max_length=64)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True)

    class Meta:
        """Sent again it is the same refusal; found by device and sequence, where it explains a gap in a chain."""

        verbose_name_plural = "refused entries"
        constraints = (models.UniqueConstraint(fields=["survey", "content_hash"], name="refused_once"),)
        indexes = (models.Index(fields=["device", "sequence"], name="refused_by_device"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return f"refused: {self.entry_id}"


class RefusalSettlement(Kept):
    """A person's decision about a refused entry, and why; what they decided to record is an entry of its own."""

    refused = models.OneToOneField(RefusedEntry, on_delete=models.PROTECT, related_name="settlement")
    settled_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    settled_at = models.DateTimeField(auto_now_add=True)
    reason = models.TextField()

    def __str__(self) -> str:
        return f"settled: {self.refused.entry_id}"
