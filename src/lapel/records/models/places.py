"""Sites, their similar exposure groups, and workers by code."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Coded, Kept


class Site(Coded):
    """A place of work; the zone names its wall clock, the usual air stands in where none was recorded."""

    name = models.CharField(max_length=200)
    zone = models.CharField(max_length=64)
    temperature_k = models.FloatField(null=True, blank=True)
    pressure_kpa = models.FloatField(null=True, blank=True)
    area_class = models.CharField(max_length=200, blank=True)

    class Meta:
        """Codes are unique on a server."""

        constraints = (models.UniqueConstraint(fields=["code"], name="site_code"),)
        ordering = ("code",)

    def __str__(self) -> str:
        return self.name


class ExposureGroup(Coded):
    """A similar exposure group of a site."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="groups")
    name = models.CharField(max_length=200)
    tasks = models.TextField(blank=True)

    class Meta:
        """Codes are unique within a site."""

        constraints = (models.UniqueConstraint(fields=["site", "code"], name="group_code"),)
        ordering = ("code",)


class Worker(Coded):
    """
    A person, by code only; the name stands in `WorkerName`, which few may see.

    `group` and `job` hold from the day `since` on; what held before are `EarlierPlace` records.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="workers")
    group = models.ForeignKey(ExposureGroup, on_delete=models.PROTECT, related_name="workers")
    job = models.CharField(max_length=200, blank=True)
    since = models.DateField(null=True, blank=True)

    class Meta:
        """Codes are unique within a site."""

        constraints = (models.UniqueConstraint(fields=["site", "code"], name="worker_code"),)
        ordering = ("code",)


class EarlierPlace(Kept):
    """A group a worker belonged to before: shifts of that time go on counting for it."""

    worker = models.ForeignKey(Worker, on_delete=models.CASCADE, related_name="earlier_places")
    group = models.ForeignKey(ExposureGroup, on_delete=models.PROTECT, related_name="former_workers")
    job = models.CharField(max_length=200, blank=True)
    since = models.DateField(null=True, blank=True)
    origin = models.CharField(max_length=300, blank=True)

    class Meta:
        """One a day, the oldest first."""

        constraints = (models.UniqueConstraint(fields=["worker", "since"], name="place_once_a_day"),)
        ordering = (models.F("since").asc(nulls_first=True), "id")

    def __str__(self) -> str:
        return f"{self.worker}: {self.group} from {self.since or 'the first day'}"
