"""Pumps, splitters and meters of a site, with what their certificates say."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Coded, Kept
from lapel.records.models.places import Site


class Equipment(Coded):
    """What all equipment shares."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="%(class)ss")
    retired_on = models.DateField(null=True, blank=True)
    service_due_on = models.DateField(null=True, blank=True)
    remark = models.TextField(blank=True)

    class Meta:
        """Codes are unique within a site and kind."""

        abstract = True
        constraints = (models.UniqueConstraint(fields=["site", "code"], name="%(class)s_code"),)
        ordering = ("code",)


class Pump(Equipment):
    """A pump; its certificate for classified areas is the firm's word, never ours."""

    flow_min_lpm = models.FloatField(null=True, blank=True)
    flow_max_lpm = models.FloatField(null=True, blank=True)
    area_certificate = models.CharField(max_length=200, blank=True)

    class Meta(Equipment.Meta):
        """As all equipment."""


class Splitter(Equipment):
    """A holder with its ports' letters, such as “A B C”."""

    ports = models.CharField(max_length=40)
    total_max_lpm = models.FloatField(null=True, blank=True)

    class Meta(Equipment.Meta):
        """As all equipment."""


class Certified(models.Model):
    """What a meter's certificate says; `curve` holds pairs of indicated and true flow in L/min."""

    certificate = models.CharField(max_length=120, blank=True)
    certified_on = models.DateField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    range_min_lpm = models.FloatField(null=True, blank=True)
    range_max_lpm = models.FloatField(null=True, blank=True)
    relative_u = models.FloatField(null=True, blank=True)
    full_scale_u_lpm = models.FloatField(default=0.0)
    reads = models.CharField(max_length=10, choices=[("actual", "actual"), ("standard", "standard")], default="actual")
    calibrated_at_k = models.FloatField(null=True, blank=True)
    calibrated_at_kpa = models.FloatField(null=True, blank=True)
    exponent = models.FloatField(null=True, blank=True)
    curve = models.JSONField(default=list, blank=True)

    class Meta:
        """No table of its own."""

        abstract = True


class Meter(Certified, Equipment):
    """A flow meter with its latest certificate; those before it are `EarlierCertificate` records."""

    class Kind(models.TextChoices):
        """What it measures with."""

        PISTON = "piston", "piston"
        BURETTE = "burette", "burette"
        ROTAMETER = "rotameter", "rotameter"
        THERMAL = "thermal", "thermal"

    kind = models.CharField(max_length=20, choices=Kind.choices)

    class Meta(Equipment.Meta):
        """As all equipment."""


class EarlierCertificate(Certified, Kept):
    """A certificate a meter had before its latest one: readings made while it was in force go on using it."""

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="earlier_certificates")
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """One a day, the oldest first."""

        constraints = (models.UniqueConstraint(fields=["meter", "certified_on"], name="certificate_once_a_day"),)
        ordering = (models.F("certified_on").asc(nulls_first=True), "id")

    def __str__(self) -> str:
        return f"{self.meter}: {self.certificate or 'no number'} of {self.certified_on or 'no day'}"
