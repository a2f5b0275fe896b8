"""Who belongs to a site: the acts behind the people page, each kept in the history with the person and the reason."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from lapel.records.audit import signed
from lapel.records.models import Membership, Site


class LastLeadError(ValueError):
    """The site would be left without a lead hygienist."""


@dataclass(frozen=True, slots=True)
class Invited:
    """A new member; `link` is empty where the person already had an account."""

    member: Membership
    link: str


def invite(site: Site, *, by: User, username: str, role: str) -> Invited:
    """
    Make somebody a member of a site, with a new account if there is none of this name.

    Raises
    ------
    ValueError
        The person is a member already.

    Notes
    -----
    The account has no usable password until the link was used; the link works once, and for `PASSWORD_RESET_TIMEOUT`.
    """
    with transaction.atomic():
        person = User.objects.filter(username__iexact=username).first()
        is_new = person is None
        if person is None:
            person = User.objects.create_user(username)
        elif Membership.objects.filter(user=person, site=site).exists():
            raise ValueError(f"{person.username} is on this site already; change the role in the list below")
        member = signed(Membership(user=person, site=site, role=role), by, "invited")
        member.save()
    return Invited(member, one_time_link(person) if is_new else "")


def change_role(member: Membership, *, by: User, role: str, reason: str) -> None:
    """
    Give a member another role.

    Raises
    ------
    LastLeadError
        The member is the site's only lead and would be one no more.
    """
    with transaction.atomic():
        _keep_a_lead(member, role)
        member.role = role
        signed(member, by, reason).save()


def remove(member: Membership, *, by: User, reason: str) -> None:
    """
    Take a member off the site; the account stays, and what the person did stays on record under their name.

    Raises
    ------
    LastLeadError
        The member is the site's only lead.
    """
    with transaction.atomic():
        _keep_a_lead(member, "")
        signed(member, by, reason).delete()


def may_be_helped_by(lead: User, person: User) -> bool:
    """
    Say whether a lead may make a new link for somebody, or clear their second factor.

    Only for people none of whose sites are led by others alone: otherwise the link would open a site the lead has no
    part in. Administrators of the server are helped on the server.
    """
    if person == lead or person.is_staff or person.is_superuser:
        return False
    led = Membership.objects.filter(user=lead, role=Membership.Role.LEAD).values("site")
    return not Membership.objects.filter(user=person).exclude(site__in=led).exists()


def one_time_link(person: User) -> str:
    """Return the path under which the person chooses a password; used or after three days it is nothing."""
    who = urlsafe_base64_encode(force_bytes(person.pk))
    return reverse("invitation", args=[who, default_token_generator.make_token(person)])


def _keep_a_lead(member: Membership, role: str) -> None:
    leads = Membership.objects.select_for_update().filter(site=member.site, role=Membership.Role.LEAD)
    others = [lead for lead in leads if lead.pk != member.pk]
    if member.role == Membership.Role.LEAD and role != Membership.Role.LEAD and not others:
        raise LastLeadError(
            f"{member.user.username} is the only lead hygienist of {member.site}. Make somebody else lead first."
        )
