"""One site with everyone on it, a second site, and strangers."""

from dataclasses import dataclass

from django.contrib.auth.models import User
from folders import EXAMPLES

from lapel.exchange.record_transfer import import_survey
from lapel.records.models import Membership, Site, Survey

ROLES = ("lead", "technician", "reviewer", "viewer")
OUTSIDE = ("neighbour", "administrator", "left", "locked")


@dataclass
class People:
    """Everyone by what they are, and the survey of the site they are on."""

    users: dict[str, User]
    survey: Survey
    site: Site

    def __getattr__(self, name):
        return self.users[name]


def everyone(example="small"):
    """
    Import an example and give it people: one of each role, and those for whom its site must not exist.

    The neighbour leads another site; the administrator has every right on the server; who left was a member; who is
    locked still is one, but may not sign in.
    """
    survey = import_survey(EXAMPLES / example).survey
    site = survey.site
    users = {name: User.objects.create_user(name) for name in (*ROLES, *OUTSIDE)}
    for role in ROLES:
        Membership.objects.create(user=users[role], site=site, role=role)
    elsewhere = Site.objects.create(code="elsewhere", name="Elsewhere", zone="Europe/Oslo")
    Membership.objects.create(user=users["neighbour"], site=elsewhere, role="lead")
    users["administrator"].is_superuser = users["administrator"].is_staff = True
    users["administrator"].save()
    Membership.objects.create(user=users["left"], site=site, role="lead").delete()
    Membership.objects.create(user=users["locked"], site=site, role="lead")
    users["locked"].is_active = False
    users["locked"].save()
    return People(users, survey, site)
