"""
The people of all page tests, on one site with the demonstration survey; the outsider leads a site of their own.

Everybody signs in with the same password. None has a second factor: a test that needs one gives it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.contrib.auth.models import User

from lapel.exchange.record_transfer import import_survey
from lapel.records.models import Membership, Site, Survey, WorkerName

PASSWORD = "three belts grind slowly"
EXAMPLES = Path(__file__).parents[1] / "examples"
NAME_BEHIND_A_CODE = "Quirina Abendroth-Vale"
"""The invented name of one worker: it may show on the leads' page of names and nowhere else."""


@dataclass(frozen=True, slots=True)
class Cast:
    """Who there is, and where."""

    lead: User
    technician: User
    reviewer: User
    viewer: User
    outsider: User
    site: Site
    survey: Survey
    other_site: Site

    @property
    def members(self) -> dict[str, User]:
        """Everybody on the site by role."""
        return {role: getattr(self, role) for role in ("lead", "technician", "reviewer", "viewer")}


def make_cast(example: str = "small") -> Cast:
    """Make the people, their site with an example as its survey, and the outsider's site."""
    people = {name: _person(name) for name in ("lead", "technician", "reviewer", "viewer", "outsider")}
    survey = import_survey(EXAMPLES / example, survey_code="demo", site_code="works", user=people["lead"]).survey
    site = survey.site
    for role in ("technician", "reviewer", "viewer"):
        Membership.objects.create(user=people[role], site=site, role=role)
    other = Site.objects.create(code="elsewhere", name="Works of somebody else", zone="UTC")
    Membership.objects.create(user=people["outsider"], site=other, role="lead")
    WorkerName.objects.create(worker=site.workers.order_by("code")[0], name=NAME_BEHIND_A_CODE)
    return Cast(**people, site=site, survey=survey, other_site=other)


def _person(name: str) -> User:
    return User.objects.create_user(name, password=PASSWORD)
