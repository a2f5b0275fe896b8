"""Pumps, splitters and meters of a site, with what their certificates say."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Coded
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


class Meter(Equipment):
    """A flow meter with its certificate; `curve` holds pairs of indicated and true flow in L/min."""

    class Kind(models.TextChoices):
        """What it measures with."""

        PISTON = "piston", "piston"
        BURETTE = "burette", "burette"
        ROTAMETER = "rotameter", "rotameter"
        THERMAL = "thermal", "thermal"

    kind = models.CharField(max_length=20, choices=Kind.choices)
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

    class Meta(Equipment.Meta):
        """As all equipment."""
