"""What people add to the figures: the report's own texts, what is to be done, comments, signatures, who was told."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.places import Worker
from lapel.records.models.surveys import Survey


class ReportTerms(Kept):
    """How a survey is reported: whom to ask, by which calendar days are counted, when the assessment was completed."""

    survey = models.OneToOneField(Survey, on_delete=models.CASCADE, related_name="report_terms")
    contact = models.CharField(max_length=200, blank=True)
    calendar = models.CharField(max_length=20, blank=True)
    free_days = models.JSONField(default=list, blank=True)
    completed_on = models.DateField(null=True, blank=True)
    use_earlier = models.BooleanField(default=False)

    def __str__(self) -> str:
        return "terms of the report"


class ReportText(Kept):
    """One part of the report that only its author can write."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="report_texts")
    part = models.CharField(max_length=40)
    text = models.TextField(blank=True)

    class Meta:
        """One text a part."""

        constraints = (models.UniqueConstraint(fields=["survey", "part"], name="report_text_in_survey"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return f"text “{self.part}”"


class Recommendation(Kept):
    """One thing to do, by its place in the hierarchy of controls, with who does it and by when."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="recommendations")
    rung = models.CharField(max_length=20)
    action = models.TextField()
    reason = models.TextField(blank=True)
    owner = models.CharField(max_length=200, blank=True)
    by = models.DateField(null=True, blank=True)
    done_on = models.DateField(null=True, blank=True)

    class Meta:
        """In the order they were written."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"recommendation {self.pk or ''}".strip()


class ReviewComment(Kept):
    """A reviewer's question about a number or a sentence, and the answer; open until it is answered."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="review_comments")
    about = models.CharField(max_length=300)
    words = models.TextField()
    person = models.CharField(max_length=150)
    at = models.DateTimeField()
    answer = models.TextField(blank=True)
    answered_by = models.CharField(max_length=150, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        """Oldest first."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"comment {self.pk or ''}".strip()


class Signature(models.Model):
    """
    A person's name under what a survey said at one moment; it is only added to, never changed and never removed.

    `snapshot` is the assessment as data, compressed; `sha256` its hash before that. A later change of inputs does not
    touch it: it shows that the signature no longer speaks of what the survey says now.
    """

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="signatures")
    role = models.CharField(max_length=20)
    person = models.CharField(max_length=150)
    name = models.CharField(max_length=300, blank=True)
    statement = models.TextField()
    signed_at = models.DateTimeField()
    kernel_version = models.CharField(max_length=40)
    input_sha256 = models.CharField(max_length=64)
    sha256 = models.CharField(max_length=64)
    snapshot = models.BinaryField()

    class Meta:
        """Oldest first."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"signature of {self.person} as {self.role}"


class Telling(Kept):
    """One worker was told: how, when, by whom, and what proves it."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="tellings")
    worker = models.ForeignKey(Worker, on_delete=models.PROTECT, related_name="tellings")
    how = models.CharField(max_length=20)
    on = models.DateField()
    person = models.CharField(max_length=150)
    proof = models.TextField(blank=True)
    input_sha256 = models.CharField(max_length=64, blank=True)

    class Meta:
        """In the order they were recorded."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"worker {self.worker} told"
