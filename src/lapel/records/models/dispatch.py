"""Forms that went with parcels, and files that came back: each kept as it was, byte for byte."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.laboratory import LaboratoryReport
from lapel.records.models.surveys import Survey


class CustodyForm(models.Model):
    """
    One issue of the form of one parcel; it is only added to, so that an issue that was replaced stays visible.

    `data` is the parcel as open data, `pdf` the three copies as they were set.
    """

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="custody_forms")
    parcel = models.CharField(max_length=120)
    issue = models.PositiveIntegerField()
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=150)
    reason = models.TextField(blank=True)
    laboratory = models.CharField(max_length=200, blank=True)
    report_to = models.CharField(max_length=200, blank=True)
    wanted_by = models.CharField(max_length=100, blank=True)
    data = models.TextField()
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        """One form an issue."""

        constraints = (models.UniqueConstraint(fields=["survey", "parcel", "issue"], name="custody_form_issue"),)
        ordering = ("parcel", "issue")

    def __str__(self) -> str:
        return f"form of parcel {self.parcel}, issue {self.issue}"


class OriginalFile(models.Model):
    """The bytes of a file as it came, once for each content; what is decided about it stands beside, with a history."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="original_files")
    sha256 = models.CharField(max_length=64)
    content = models.BinaryField()

    class Meta:
        """One content once."""

        constraints = (models.UniqueConstraint(fields=["survey", "sha256"], name="original_file_once"),)

    def __str__(self) -> str:
        return f"{len(self.content)} bytes, SHA-256 {self.sha256}"


class FileBesideReport(models.Model):
    """
    A file that stands beside a report, under its place in the report's folder as a survey folder has it.

    Above all the files of earlier versions, each with its note; and what a folder brought along.
    """

    report = models.ForeignKey(LaboratoryReport, on_delete=models.CASCADE, related_name="files_beside")
    place = models.CharField(max_length=300)
    original = models.ForeignKey(OriginalFile, on_delete=models.PROTECT, related_name="beside")

    class Meta:
        """One file a place."""

        constraints = (models.UniqueConstraint(fields=["report", "place"], name="file_beside_report"),)
        ordering = ("place",)

    def __str__(self) -> str:
        return self.place


class DeliveredFile(Kept):
    """
    A laboratory's file as it came, with the answers given so far to what it leaves open.

    `report` is set once it was taken over; a file that was set aside keeps its reason.
    """

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="delivered_files")
    name = models.CharField(max_length=300)
    original = models.ForeignKey(OriginalFile, on_delete=models.PROTECT, related_name="delivered")
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    answers = models.TextField(default="{}")
    amends = models.CharField(max_length=120, blank=True)
    report = models.ForeignKey(
        LaboratoryReport, null=True, blank=True, on_delete=models.SET_NULL, related_name="delivered_files"
    )
    version = models.PositiveIntegerField(default=1)
    changes = models.JSONField(default=list, blank=True)
    set_aside = models.TextField(blank=True)

    class Meta:
        """In the order they came."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"file {self.name}"


class LaboratoryLayout(Kept):
    """How one laboratory writes its reports, remembered from what a person confirmed."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="laboratory_layouts")
    laboratory = models.CharField(max_length=200)
    answers = models.TextField(default="{}")

    class Meta:
        """One layout a laboratory."""

        constraints = (models.UniqueConstraint(fields=["survey", "laboratory"], name="layout_of_laboratory"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return f"layout of {self.laboratory}"
