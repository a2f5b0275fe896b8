"""A survey and what was planned in it: agents, limits, methods, media lots, shifts, samples ordered."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Coded, Kept
from lapel.records.models.places import Site, Worker


class Survey(Coded):
    """One survey of a site."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="surveys")
    title = models.CharField(max_length=300)
    purpose = models.TextField(blank=True)
    prepared_by = models.CharField(max_length=200, blank=True)
    assessed_on = models.DateField()
    rule_book = models.CharField(max_length=80)
    compared_rule_books = models.JSONField(default=list, blank=True)
    notes = models.JSONField(default=dict, blank=True)

    class Meta:
        """Codes are unique on a server, so that an address names one survey."""

        constraints = (models.UniqueConstraint(fields=["code"], name="survey_code"),)
        ordering = ("-assessed_on", "code")

    def __str__(self) -> str:
        return self.title


class OfSurvey(Coded):
    """What belongs to one survey; codes are unique within it."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="%(class)ss")

    class Meta:
        """No table of its own."""

        abstract = True
        constraints = (models.UniqueConstraint(fields=["survey", "code"], name="%(class)s_in_survey"),)
        ordering = ("id",)


class Agent(OfSurvey):
    """A substance looked for; the code is its key."""

    name = models.CharField(max_length=200)
    cas = models.CharField(max_length=20, blank=True)
    molar_mass = models.FloatField(null=True, blank=True)
    effect_groups = models.JSONField(default=list, blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class LimitChoice(Kept):
    """A limit the survey is judged by, as its authority states it, with its source."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="limits")
    agent = models.ForeignKey(Agent, on_delete=models.CASCADE, related_name="limits")
    authority = models.CharField(max_length=80)
    kind = models.CharField(max_length=20)
    value = models.FloatField()
    unit = models.CharField(max_length=10)
    averaging_min = models.FloatField(null=True, blank=True)
    source = models.TextField(blank=True)
    as_of = models.DateField(null=True, blank=True)
    binding = models.BooleanField(default=True)
    extended_shift_model = models.CharField(max_length=40, blank=True)
    note = models.TextField(blank=True)
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """In the order they were chosen."""

        ordering = ("id",)

    def __str__(self) -> str:
        unit = "mg/m³" if self.unit == "mg/m3" else self.unit
        return f"{self.authority} {self.kind} {self.value:g} {unit}"


class Method(OfSurvey):
    """A sampling and analytical method for one agent on one medium."""

    agent = models.ForeignKey(Agent, on_delete=models.CASCADE, related_name="methods")
    medium = models.CharField(max_length=120)
    flow_min_lpm = models.FloatField(null=True, blank=True)
    flow_max_lpm = models.FloatField(null=True, blank=True)
    volume_min_l = models.FloatField(null=True, blank=True)
    volume_max_l = models.FloatField(null=True, blank=True)
    reporting_limit_ug = models.FloatField(null=True, blank=True)
    analysis_cv = models.FloatField(null=True, blank=True)
    sampling_cv = models.FloatField(null=True, blank=True)
    holding_days = models.FloatField(null=True, blank=True)
    receipt_max_c = models.FloatField(null=True, blank=True)
    blanks_min = models.PositiveIntegerField(null=True, blank=True)
    blanks_share = models.FloatField(null=True, blank=True)
    duplicates_min = models.PositiveIntegerField(null=True, blank=True)
    duplicates_share = models.FloatField(null=True, blank=True)
    two_sections = models.BooleanField(default=True)
    source = models.TextField(blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class MediaLot(OfSurvey):
    """One lot of samplers; the code is the lot."""

    medium = models.CharField(max_length=120)
    expiry = models.DateField(null=True, blank=True)
    family = models.CharField(max_length=80, blank=True)
    catalogue = models.CharField(max_length=120, blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class Shift(OfSurvey):
    """One worker's shift; both ends are instants, with the offset the site's clock showed."""

    worker = models.ForeignKey(Worker, on_delete=models.PROTECT, related_name="shifts")
    start = models.DateTimeField()
    start_offset_min = models.SmallIntegerField()
    end = models.DateTimeField()
    end_offset_min = models.SmallIntegerField()
    reference_min = models.FloatField(default=480.0)
    unsampled = models.CharField(max_length=10, default="zero")
    unsampled_reason = models.TextField(blank=True)
    hours_per_week = models.FloatField(null=True, blank=True)
    respirator = models.CharField(max_length=200, blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class SampleOrder(OfSurvey):
    """What was wanted of one sampler; the code is the sampler's, as on its label."""

    shift = models.ForeignKey(Shift, on_delete=models.CASCADE, related_name="orders")
    purpose = models.CharField(max_length=20)
    methods = models.JSONField(default=list)
    averaging_min = models.FloatField(null=True, blank=True)
    task = models.CharField(max_length=200, blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class FindingOverride(Kept):
    """A person's decision that a finding does not have its usual effect on a sample, and why."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="overrides")
    sampler = models.CharField(max_length=120)
    rule = models.CharField(max_length=80)
    person = models.CharField(max_length=200)
    reason = models.TextField()
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """In the order they were made."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.rule} on {self.sampler}"
