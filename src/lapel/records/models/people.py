"""Who may do what on which site, and the key from worker codes to names."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from lapel.records.models.kept import Kept
from lapel.records.models.places import Site, Worker


class Membership(Kept):
    """A person's role on a site; without one the site does not exist for them."""

    class Role(models.TextChoices):
        """From the widest to the narrowest."""

        LEAD = "lead", "lead hygienist"
        TECHNICIAN = "technician", "technician"
        REVIEWER = "reviewer", "reviewer"
        VIEWER = "viewer", "viewer"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role.choices)

    class Meta:
        """One role a person and site."""

        constraints = (models.UniqueConstraint(fields=["user", "site"], name="membership_once"),)

    def __str__(self) -> str:
        return f"{self.user}: {self.get_role_display()}"


class WorkerName(Kept):
    """The name behind a worker's code, kept apart: leads see it, exports leave it out."""

    worker = models.OneToOneField(Worker, on_delete=models.CASCADE, related_name="name_record")
    name = models.CharField(max_length=200)

    def __str__(self) -> str:
        return f"name of {self.worker}"
