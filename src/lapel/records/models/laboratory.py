"""What the laboratory delivered: the report with its original file, and the results read from it."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.surveys import OfSurvey, Survey


class LaboratoryReport(OfSurvey):
    """One report as delivered; `original` is the file byte for byte, `mapping` how its columns were read."""

    laboratory = models.CharField(max_length=200)
    received_on = models.DateField(null=True, blank=True)
    file = models.CharField(max_length=300)
    sha256 = models.CharField(max_length=64)
    original = models.BinaryField(null=True, blank=True)
    mapping = models.TextField(blank=True)
    samples_received_on = models.DateField(null=True, blank=True)
    receipt_temperature_k = models.FloatField(null=True, blank=True)
    recovery_corrected_by = models.CharField(max_length=20, default="nobody")
    blank_corrected_by = models.CharField(max_length=20, default="nobody")

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class LaboratoryResult(Kept):
    """One agent on one sampler, as reported."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="results")
    report = models.ForeignKey(LaboratoryReport, on_delete=models.CASCADE, related_name="results")
    sampler = models.CharField(max_length=120)
    agent = models.CharField(max_length=120)
    front_ug = models.FloatField()
    front_below = models.BooleanField()
    back_ug = models.FloatField(null=True, blank=True)
    back_below = models.BooleanField(default=False)
    reporting_limit_ug = models.FloatField(null=True, blank=True)
    recovery = models.FloatField(null=True, blank=True)
    relative_u = models.FloatField(null=True, blank=True)
    volume_l = models.FloatField(null=True, blank=True)
    concentration_mg_m3 = models.FloatField(null=True, blank=True)
    medium = models.CharField(max_length=120, blank=True)
    remark = models.TextField(blank=True)
    analysed_on = models.DateField(null=True, blank=True)
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """In the order of the report."""

        ordering = ("id",)
        indexes = (models.Index(fields=["survey", "sampler"], name="result_by_sampler"),)

    def __str__(self) -> str:
        return f"{self.agent} on {self.sampler}"
