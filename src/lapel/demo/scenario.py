"""
The demonstration as records: two sites, two surveys, people of every role, and one who has no part in either.

Everything in it is invented. Loading it again adds what is missing and changes nothing else.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from django.contrib.auth.models import User
from django.db import transaction

from lapel.demo.folders import example_folder
from lapel.exchange.record_transfer import import_survey
from lapel.records.audit import signed
from lapel.records.models import Device, Membership, Site, Survey, Worker, WorkerName


@dataclass(frozen=True, slots=True)
class DemoPerson:
    """Someone of the demonstration: what they sign in with, their name, what they do, and their role by site."""

    username: str
    first_name: str
    last_name: str
    about: str
    roles: Mapping[str, Membership.Role]


@dataclass(frozen=True, slots=True)
class DemoSurvey:
    """A survey of the demonstration: the example it is read from, its code, and its site's."""

    example: str
    code: str
    site: str


@dataclass(frozen=True, slots=True)
class Demonstration:
    """
    What was loaded.

    Attributes
    ----------
    people : tuple of DemoPerson
        Everyone.
    surveys : tuple of Survey
        The records.
    password : str
        Of everyone who was made now; empty when all were there, with the passwords they have.
    """

    people: tuple[DemoPerson, ...]
    surveys: tuple[Survey, ...]
    password: str


class ServerInUse(RuntimeError):  # noqa: N818 - reads as what it is
    """The server has people or surveys of its own; a demonstration with known accounts has no place on it."""


BELT_WORKS, HULL_WORKSHOP = "tarn-hollow", "fernbrook"

SURVEYS = (
    DemoSurvey("hard", "belt-works", BELT_WORKS),
    DemoSurvey("small", "hull-workshop", HULL_WORKSHOP),
)

_LEAD, _TECHNICIAN = Membership.Role.LEAD, Membership.Role.TECHNICIAN
_REVIEWER, _VIEWER = Membership.Role.REVIEWER, Membership.Role.VIEWER

PEOPLE = (
    DemoPerson(
        "thornquist", "Iselin", "Thornquist", "lead hygienist of both sites", {BELT_WORKS: _LEAD, HULL_WORKSHOP: _LEAD}
    ),
    DemoPerson(
        "kestrelby", "Noor", "Kestrelby", "technician at the belt works, on nights too", {BELT_WORKS: _TECHNICIAN}
    ),
    DemoPerson("ashgrove", "Teodor", "Ashgrove", "reviewer of the belt works' surveys", {BELT_WORKS: _REVIEWER}),
    DemoPerson("millrace", "Petra", "Millrace", "safety officer of the belt works, who reads", {BELT_WORKS: _VIEWER}),
    DemoPerson("quillfeather", "Rowan", "Quillfeather", "lead of the hull workshop only", {HULL_WORKSHOP: _LEAD}),
    DemoPerson("wanderley", "Sol", "Wanderley", "has an account and no part in either site", {}),
)

WORKER_NAMES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        BELT_WORKS: {
            "W-01": "Ambrose Tallowin",
            "W-02": "Bettina Corriemar",
            "W-03": "Caspian Dunlethe",
            "W-04": "Delphine Ostergate",
            "W-05": "Emeric Vanbrook",
            "W-06": "Floriana Hessop",
            "W-07": "Gideon Maplethorn",
            "W-08": "Hedda Lorimund",
            "W-09": "Ivo Passerley",
        },
        HULL_WORKSHOP: {"W-1": "Juniper Salthouse", "W-2": "Kasimir Oakhanger"},
    }
)
"""Invented, like everything here."""

_PHONE = "phone-3"


def load_demonstration(*, password: str = "") -> Demonstration:
    """
    Load the demonstration into the records, or what of it is missing.

    Parameters
    ----------
    password : str
        For everyone who is made now; made up if left out.

    Returns
    -------
    Demonstration

    Raises
    ------
    ServerInUse
        There are people or surveys that are not of the demonstration. Nothing was changed.
    """
    with transaction.atomic():
        _refuse_a_server_in_use()
        chosen = password or secrets.token_urlsafe(12)
        users, anyone_new = _people(chosen)
        lead = users[PEOPLE[0].username]
        surveys = tuple(_survey(one, lead) for one in SURVEYS)
        for person in PEOPLE:
            _roles(person, users[person.username], lead)
        for site, names in WORKER_NAMES.items():
            _names(site, names, lead)
        _phone(lead)
    return Demonstration(PEOPLE, surveys, chosen if anyone_new else "")


def _refuse_a_server_in_use() -> None:
    people = User.objects.exclude(username__in=[person.username for person in PEOPLE]).count()
    surveys = Survey.objects.exclude(code__in=[survey.code for survey in SURVEYS]).count()
    if people or surveys:
        raise ServerInUse(
            f"This server has {people} people and {surveys} surveys that are not of the demonstration. Its accounts "
            "are for trying only: load it with a LAPEL_HOME of its own. Nothing was changed."
        )


def _people(password: str) -> tuple[dict[str, User], bool]:
    users = {user.username: user for user in User.objects.all()}
    before = len(users)
    for person in PEOPLE:
        if person.username not in users:
            users[person.username] = User.objects.create_user(
                person.username, password=password, first_name=person.first_name, last_name=person.last_name
            )
    return users, len(users) > before


def _survey(one: DemoSurvey, lead: User) -> Survey:
    survey = Survey.objects.filter(code=one.code).first()
    if survey is not None:
        return survey
    return import_survey(example_folder(one.example), survey_code=one.code, site_code=one.site, user=lead).survey


def _roles(person: DemoPerson, user: User, lead: User) -> None:
    for site, role in person.roles.items():
        if not Membership.objects.filter(user=user, site__code=site).exists():
            membership = Membership(user=user, site=Site.objects.get(code=site), role=role)
            signed(membership, lead, "the demonstration").save()


def _names(site: str, names: Mapping[str, str], lead: User) -> None:
    nameless = Worker.objects.filter(site__code=site, code__in=names, name_record=None)
    for worker in nameless:
        signed(WorkerName(worker=worker, name=names[worker.code]), lead, "the demonstration").save()


def _phone(lead: User) -> None:
    if not Device.objects.filter(code=_PHONE).exists():
        site = Site.objects.get(code=BELT_WORKS)
        phone = Device(site=site, code=_PHONE, name="Phone 3, the technicians'", paired_by=lead)
        signed(phone, lead, "the demonstration").save()
