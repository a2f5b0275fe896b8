"""
The plan of a survey: what is to be learned, of whom, when, with what; the searches made, and the plan in force.

Subject for subject as in the folder `plan` of a survey folder, so that either can be made of the other without loss.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.places import ExposureGroup, Worker
from lapel.records.models.surveys import Agent, Method, OfSurvey, Survey


class Product(OfSurvey):
    """A product or task people may be exposed by: where it is used, and which agents come of it."""

    name = models.CharField(max_length=200)
    task = models.TextField(blank=True)
    groups = models.JSONField(default=list, blank=True)
    agents = models.JSONField(default=list, blank=True)
    source = models.TextField(blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class PlanTerms(Kept):
    """What holds for the whole plan; `None` where nobody said anything, and then nothing is assumed."""

    survey = models.OneToOneField(Survey, on_delete=models.CASCADE, related_name="plan_terms")
    strategy = models.TextField(blank=True)
    seed = models.CharField(max_length=200, blank=True)
    label_prefix = models.CharField(max_length=40, default="S")
    air_temperature_k = models.FloatField(null=True, blank=True)
    air_humidity_percent = models.FloatField(null=True, blank=True)
    port_min_lpm = models.FloatField(null=True, blank=True)
    port_max_lpm = models.FloatField(null=True, blank=True)
    main_flow_lpm = models.FloatField(null=True, blank=True)
    suction_kpa = models.FloatField(null=True, blank=True)
    droop_kpa_per_lpm = models.FloatField(default=0.0)
    may_cap = models.BooleanField(default=True)
    hang_min = models.PositiveIntegerField(default=4)
    before_min = models.PositiveIntegerField(default=20)
    after_min = models.PositiveIntegerField(default=4)
    set_min = models.PositiveIntegerField(default=8)
    check_min = models.PositiveIntegerField(default=2)
    check_every_min = models.PositiveIntegerField(default=120)
    first_check_min = models.PositiveIntegerField(default=30)
    change_min = models.PositiveIntegerField(default=3)
    take_down_min = models.PositiveIntegerField(default=3)
    post_min = models.PositiveIntegerField(default=5)
    pack_min = models.PositiveIntegerField(default=45)
    pumps_per_technician = models.PositiveIntegerField(default=12)
    changes_per_technician = models.PositiveIntegerField(default=30)
    currency = models.CharField(max_length=40, default="units")
    technician_day = models.FloatField(null=True, blank=True)
    pump_day = models.FloatField(null=True, blank=True)
    duplicates_share = models.FloatField(default=0.05)
    spares_share = models.FloatField(default=0.10)
    notes = models.JSONField(default=dict, blank=True)

    class Meta:
        """One for each survey that has a plan."""

        verbose_name_plural = "plan terms"

    def __str__(self) -> str:
        return f"terms of the plan of {self.survey}"


class PlanQuestion(OfSurvey):
    """One thing to be learned of a group or one worker about one agent."""

    group = models.ForeignKey(ExposureGroup, on_delete=models.PROTECT, null=True, blank=True, related_name="questions")
    worker = models.ForeignKey(Worker, on_delete=models.PROTECT, null=True, blank=True, related_name="questions")
    agent = models.ForeignKey(Agent, on_delete=models.CASCADE, related_name="questions")
    methods = models.JSONField(default=list, blank=True)
    purpose = models.CharField(max_length=20)
    minutes = models.FloatField(null=True, blank=True)
    task = models.CharField(max_length=200, blank=True)
    see_share = models.FloatField(null=True, blank=True)
    least_share = models.FloatField(default=1.0)
    samplers_max = models.PositiveIntegerField(null=True, blank=True)
    others_mg_m3 = models.FloatField(default=0.0)
    who = models.CharField(max_length=20, default="draw")
    named = models.JSONField(default=list, blank=True)
    results = models.PositiveIntegerField(null=True, blank=True)
    test = models.CharField(max_length=40, blank=True)
    chance = models.FloatField(default=0.80)
    assumed_gm_share = models.FloatField(null=True, blank=True)
    assumed_gsd = models.FloatField(null=True, blank=True)
    why = models.TextField(blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class OfferedShift(Kept):
    """A shift on which field work may be done; for every group where none is named."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="offered_shifts")
    start = models.DateTimeField()
    start_offset_min = models.SmallIntegerField()
    end = models.DateTimeField()
    end_offset_min = models.SmallIntegerField()
    group = models.ForeignKey(
        ExposureGroup, on_delete=models.PROTECT, null=True, blank=True, related_name="offered_shifts"
    )

    class Meta:
        """In the order they were entered."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"shift of {self.start + timedelta(minutes=self.start_offset_min):%Y-%m-%d}"


class PlanTechnician(OfSurvey):
    """Who hangs and watches pumps, by code."""

    away_on = models.JSONField(default=list, blank=True)

    class Meta(OfSurvey.Meta):
        """As all that belongs to a survey."""


class PlanWorker(Kept):
    """What the plan must know of one worker; without a row two pumps are worn at most."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="plan_workers")
    worker = models.ForeignKey(Worker, on_delete=models.PROTECT, related_name="plan_terms")
    area_class = models.CharField(max_length=200, blank=True)
    pumps_at_once = models.PositiveIntegerField(default=2)
    days_at_most = models.PositiveIntegerField(null=True, blank=True)
    away_on = models.JSONField(default=list, blank=True)

    class Meta:
        """One a worker."""

        constraints = (models.UniqueConstraint(fields=["survey", "worker"], name="plan_worker_once"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return self.worker.code


class PlanMedium(Kept):
    """Price, pack and resistance of a medium, in the words of the methods."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="plan_media")
    medium = models.CharField(max_length=120)
    cost = models.FloatField(default=0.0)
    pack = models.PositiveIntegerField(default=1)
    loss_kpa_per_lpm = models.FloatField(default=3.4)

    class Meta:
        """One a medium."""

        verbose_name_plural = "plan media"
        constraints = (models.UniqueConstraint(fields=["survey", "medium"], name="plan_medium_once"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return self.medium


class PlanLaboratory(Kept):
    """What the laboratory said about a method."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="plan_laboratories")
    method = models.ForeignKey(Method, on_delete=models.CASCADE, related_name="plan_terms")
    laboratory = models.CharField(max_length=200)
    desorption = models.CharField(max_length=200)
    shared_analysis = models.CharField(max_length=200, blank=True)
    cost = models.FloatField(default=0.0)
    reporting_limit_ug = models.FloatField(null=True, blank=True)
    breakthrough_l = models.FloatField(null=True, blank=True)
    tested_humidity_percent = models.FloatField(null=True, blank=True)
    source = models.TextField(blank=True)

    class Meta:
        """One a method."""

        verbose_name_plural = "plan laboratories"
        constraints = (models.UniqueConstraint(fields=["survey", "method"], name="plan_laboratory_once"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.laboratory}: {self.method}"


class AcceptedArea(Kept):
    """A person's word that pumps with a certificate may enter an area class."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="accepted_areas")
    area_class = models.CharField(max_length=200)
    area_certificate = models.CharField(max_length=200)
    accepted_by = models.CharField(max_length=200)

    class Meta:
        """In the order they were entered."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.area_certificate} in {self.area_class}"


class PlannedTrain(Kept):
    """
    One pump on one worker for a day, of the plan in force.

    Pump, splitter and technician are codes, kept as somebody wrote them even where they are not there any more: the
    checker says so. `ports` holds for each port its letter, its flow in L/min and what its sampler is (medium, agents,
    methods, purpose, task, samplers in a row, minutes), because a kind's short code changes with what is asked.
    """

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="planned_trains")
    day = models.DateField()
    worker = models.ForeignKey(Worker, on_delete=models.PROTECT, related_name="planned_trains")
    pump = models.CharField(max_length=120)
    splitter = models.CharField(max_length=120, blank=True)
    technician = models.CharField(max_length=120)
    hang_at_min = models.SmallIntegerField()
    ports = models.JSONField(default=list)

    class Meta:
        """Day by day as they are hung."""

        ordering = ("day", "hang_at_min", "technician", "id")

    def __str__(self) -> str:
        return f"{self.pump} on {self.worker} on {self.day}"


class PlanSearch(models.Model):
    """
    One search for a plan, worked on by a process of its own.

    `standing` and `words` are what that process says; `outcome` holds what was found: the trains, what each goal
    reached with its bound, what is missing and why. `stop_asked` is read by the process while it works.
    """

    class Standing(models.TextChoices):
        """Where it is."""

        WAITING = "waiting", "waiting"
        WORKING = "working", "working"
        DONE = "done", "done"
        STOPPED = "stopped", "stopped"
        FAILED = "failed", "failed"

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="plan_searches")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True)
    asked_at = models.DateTimeField(auto_now_add=True)
    seconds = models.FloatField()
    bend = models.JSONField(null=True, blank=True)
    standing = models.CharField(max_length=10, choices=Standing.choices, default=Standing.WAITING)
    words = models.TextField(blank=True)
    heard_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    stop_asked = models.BooleanField(default=False)
    input_sha256 = models.CharField(max_length=64, blank=True)
    outcome = models.JSONField(default=dict, blank=True)

    class Meta:
        """The last one first."""

        verbose_name_plural = "plan searches"
        ordering = ("-id",)

    def __str__(self) -> str:
        return f"search {self.pk}: {self.standing}"
