"""The stored field log: entries that are never changed, and the devices they came from."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.places import Site
from lapel.records.models.surveys import Survey


class Device(Kept):
    """A phone, tablet or paper pad entries are made on, paired with a site by a person."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="devices")
    code = models.CharField(max_length=120)
    name = models.CharField(max_length=200, blank=True)
    key_hash = models.CharField(max_length=64, blank=True)
    paired_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_because = models.TextField(blank=True)

    class Meta:
        """Codes are unique on a server: they are part of every chain."""

        constraints = (models.UniqueConstraint(fields=["code"], name="device_code"),)

    def __str__(self) -> str:
        return self.name or self.code


class DevicePairing(models.Model):
    """
    An offer to pair a device: a code good for one use and a short time, of which only the hash is kept.

    An offer that was used, withdrawn or past its time stays, so that it can be said what became of it.
    """

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="pairings")
    code_hash = models.CharField(max_length=64, unique=True)
    offered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT)
    offered_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        """The latest first."""

        ordering = ("-id",)

    def __str__(self) -> str:
        return f"pairing of {self.device}"


class DeviceContact(models.Model):
    """
    When a device was last heard of, by the office's clock, and what it then said of itself.

    `ahead_s` is its clock less the office's, the way of the message included; `last_made` the highest sequence it had
    made by then, sent or not. It is no evidence, and is written over at every contact.
    """

    device = models.OneToOneField(Device, on_delete=models.CASCADE, related_name="contact")
    at = models.DateTimeField()
    ahead_s = models.FloatField(null=True, blank=True)
    last_made = models.PositiveBigIntegerField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.device}, last heard of {self.at}"


class LogEntry(models.Model):
    """
    One act in the field, as recorded; database triggers refuse every change.

    `receipt` is the office's own count, and the proof of acceptance a device waits for. `at` is the instant; `at_text`
    is the time as written on the device, with its offset, which the hash covers. Only `lapel.records.append` writes.
    """

    receipt = models.BigAutoField(primary_key=True)
    entry_id = models.CharField(max_length=120)
    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=40)
    at = models.DateTimeField()
    at_text = models.CharField(max_length=40)
    device = models.CharField(max_length=120)
    sequence = models.PositiveBigIntegerField()
    author = models.CharField(max_length=120)
    fields = models.JSONField(default=dict)
    corrects = models.CharField(max_length=120, null=True, blank=True)
    reason = models.TextField(blank=True)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True)
    previous_hash = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64, blank=True)
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """An entry's id is unique within its survey; found by instant, and by device and sequence."""

        constraints = (models.UniqueConstraint(fields=["survey", "entry_id"], name="entry_once"),)
        indexes = (
            models.Index(fields=["survey", "at"], name="entry_by_instant"),
            models.Index(fields=["device", "sequence"], name="entry_by_device"),
        )
        ordering = ("at", "device", "sequence")

    def __str__(self) -> str:
        return f"{self.kind} {self.entry_id}"
