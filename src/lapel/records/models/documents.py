"""How a site's documents look and what they say in its own words; and documents that left the house, as they were."""

from __future__ import annotations

from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.places import Site
from lapel.records.models.surveys import Survey


class Letterhead(Kept):
    """
    A site's logo, and its own texts in place of the packaged ones.

    `words` holds texts by language, section and key, as a firm's own file of texts does.
    """

    site = models.OneToOneField(Site, on_delete=models.CASCADE, related_name="letterhead")
    firm = models.CharField(max_length=200, blank=True)
    logo = models.BinaryField(null=True, blank=True)
    logo_sha256 = models.CharField(max_length=64, blank=True)
    words = models.JSONField(default=dict, blank=True)

    def __str__(self) -> str:
        return "letterhead"


class KeptDocument(models.Model):
    """
    A document somebody had made, byte for byte, with its hash; it is only added to.

    `input_sha256` says what it was made from. A document with names of workers is never kept: the same one by code is.
    """

    survey = models.ForeignKey(Survey, on_delete=models.PROTECT, related_name="kept_documents")
    file = models.CharField(max_length=300)
    kind = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    input_sha256 = models.CharField(max_length=64)
    made_at = models.DateTimeField()
    made_by = models.CharField(max_length=150)
    content = models.BinaryField()

    class Meta:
        """One content once, oldest first."""

        constraints = (models.UniqueConstraint(fields=["survey", "sha256"], name="kept_document_once"),)
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.file}, SHA-256 {self.sha256}"
