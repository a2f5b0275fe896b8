"""The sites one belongs to, their people, and the key from worker codes to names."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST
from django_otp import devices_for_user

from lapel.office.people import members, second_factor
from lapel.office.people.forms import InviteForm, NameForm, RemoveForm, RoleForm
from lapel.office.people.members import LastLeadError
from lapel.office.people.sign_in_log import changed
from lapel.records import sessions
from lapel.records.access import acts_of, membership_for, site_for, worker_for
from lapel.records.models import Membership, Site, Worker
from lapel.records.names import forget_name, name_worker, names_on


@login_required
def sites(request: HttpRequest) -> HttpResponse:
    """List the sites one belongs to, with one's role."""
    mine = Membership.objects.filter(user=cast(User, request.user)).select_related("site").order_by("site__code")
    return render(request, "people/sites.html", {"section": "people", "memberships": mine})


@login_required
def people(request: HttpRequest, site: str) -> HttpResponse:
    """Show who belongs to a site and as what; leads invite here."""
    return _people(request, site_for(request.user, site))


@never_cache
@login_required
@require_POST
def invite(request: HttpRequest, site: str) -> HttpResponse:
    """Invite somebody; the one-time link is shown once, to be handed over by the lead."""
    there = site_for(request.user, site, to="manage")
    form = InviteForm(request.POST)
    if form.is_valid():
        try:
            invited = members.invite(there, by=cast(User, request.user), **form.cleaned_data)
        except ValueError as fault:
            form.add_error("username", f"{fault}.")
        else:
            changed(request, "invited to a site", invited.member.user, about=_as_what(invited.member))
            if not invited.link:
                words = f"{invited.member.user.username} already had an account and may now use this site."
                messages.success(request, words, extra_tags="good")
                return redirect("people", site=there.code)
            changed(request, "one-time link made", invited.member.user)
            return _link(request, there, invited.member, invited.link)
    return _people(request, there, form=form)


@never_cache
@login_required
@require_http_methods(["GET", "POST"])
def member(request: HttpRequest, site: str, username: str) -> HttpResponse:
    """Change a member's role."""
    who = membership_for(request.user, site, username)
    form = RoleForm(request.POST or None, initial={"role": who.role})
    if request.method == "POST" and form.is_valid():
        try:
            members.change_role(who, by=cast(User, request.user), **form.cleaned_data)
        except LastLeadError as fault:
            who.refresh_from_db()
            form.add_error("role", str(fault))
        else:
            changed(request, "role changed", who.user, about=_as_what(who))
            words = f"{who.user.username} is now {who.get_role_display()} on this site."
            messages.success(request, words, extra_tags="good")
            return redirect("people", site=site)
    return _member(request, who, role_form=form)


@login_required
@require_POST
def remove(request: HttpRequest, site: str, username: str) -> HttpResponse:
    """Take a member off the site."""
    who = membership_for(request.user, site, username)
    form = RemoveForm(request.POST)
    if form.is_valid():
        try:
            members.remove(who, by=cast(User, request.user), **form.cleaned_data)
        except LastLeadError as fault:
            form.add_error(None, str(fault))
        else:
            changed(request, "taken off a site", who.user, about=str(who.site))
            messages.success(request, f"{username} is no longer on this site.", extra_tags="good")
            return redirect("sites") if who.user == request.user else redirect("people", site=site)
    return _member(request, who, remove_form=form)


def helping(act: Callable[[HttpRequest, Membership], HttpResponse]) -> Callable[..., HttpResponse]:
    """Give an act on somebody's account the member, where one may help them; else say who may."""

    @wraps(act)
    def answer(request: HttpRequest, site: str, username: str) -> HttpResponse:
        who = membership_for(request.user, site, username)
        if members.may_be_helped_by(cast(User, request.user), who.user):
            return act(request, who)
        words = f"{username} also belongs to a site you do not lead; a lead of all their sites can do this."
        messages.error(request, words, extra_tags="stop")
        return redirect("member", site=site, username=username)

    return answer


@never_cache
@login_required
@require_POST
@helping
def renew_link(request: HttpRequest, who: Membership) -> HttpResponse:
    """Make a new one-time link for somebody who lost the first one or the password."""
    changed(request, "one-time link made", who.user)
    return _link(request, who.site, who, members.one_time_link(who.user))


@login_required
@require_POST
@helping
def clear_second_factor(request: HttpRequest, who: Membership) -> HttpResponse:
    """End the second factor of somebody who lost both the phone and the backup codes."""
    second_factor.remove_second_factor(who.user)
    changed(request, "second factor ended", who.user)
    words = f"The second factor of {who.user.username} is off. They set up a new one after signing in."
    messages.success(request, words, extra_tags="good")
    return redirect("member", site=who.site.code, username=who.user.username)


@login_required
@require_POST
@helping
def end_sessions(request: HttpRequest, who: Membership) -> HttpResponse:
    """End all sessions of somebody whose phone or computer is in other hands."""
    ended = sessions.end_all(who.user)
    changed(request, "all sessions ended", who.user)
    words = f"{who.user.username} is signed out everywhere" if ended else f"{who.user.username} was signed in nowhere"
    messages.success(request, f"{words}.", extra_tags="good")
    return redirect("member", site=who.site.code, username=who.user.username)


@never_cache
@login_required
def worker_names(request: HttpRequest, site: str) -> HttpResponse:
    """Show the names behind worker codes, to leads; no other page shows one."""
    there = site_for(request.user, site, to="name")
    names = names_on(request.user, site)
    workers = Worker.objects.filter(site=there).select_related("group")
    rows = [(worker, names.get(worker.code, "")) for worker in workers]
    return render(request, "people/worker_names.html", {"section": "people", "site": there, "rows": rows})


@never_cache
@login_required
@sensitive_post_parameters("name")
@require_http_methods(["GET", "POST"])
def worker_name(request: HttpRequest, site: str, worker: str) -> HttpResponse:
    """Set a name, or forget it for good."""
    who = worker_for(request.user, site, worker, to="name")
    if "forget" in request.POST:
        forget_name(request.user, site, worker, reason=request.POST.get("reason", "")[:100])
        messages.success(request, f"The name behind {worker} is forgotten.", extra_tags="good")
        return redirect("worker-names", site=site)
    known = names_on(request.user, site).get(worker, "")
    form = NameForm(request.POST or None, initial={"name": known})
    if request.method == "POST" and form.is_valid():
        name_worker(request.user, site, worker, form.cleaned_data["name"], reason=form.cleaned_data["reason"])
        messages.success(request, f"The name behind {worker} is kept.", extra_tags="good")
        return redirect("worker-names", site=site)
    context = {"section": "people", "worker": who, "site": who.site, "form": form, "known": bool(known)}
    return render(request, "people/worker_name.html", context, status=422 if form.errors else 200)


def _as_what(who: Membership) -> str:
    return f"{who.site}: {who.get_role_display()}"


def _people(request: HttpRequest, site: Site, *, form: InviteForm | None = None) -> HttpResponse:
    context = {
        "section": "people",
        "site": site,
        "acts": acts_of(request.user, site),
        "members": Membership.objects.filter(site=site).select_related("user").order_by("user__username"),
        "form": form or InviteForm(),
    }
    return render(request, "people/people.html", context, status=422 if form else 200)


def _member(
    request: HttpRequest,
    who: Membership,
    *,
    role_form: RoleForm | None = None,
    remove_form: RemoveForm | None = None,
) -> HttpResponse:
    wrong = bool((role_form and role_form.errors) or (remove_form and remove_form.errors))
    context = {
        "section": "people",
        "site": who.site,
        "member": who,
        "role_form": role_form or RoleForm(initial={"role": who.role}, auto_id="role_%s"),
        "remove_form": remove_form or RemoveForm(auto_id="remove_%s"),
        "may_help": members.may_be_helped_by(cast(User, request.user), who.user),
        "has_second_factor": any(True for _ in devices_for_user(who.user)),
    }
    return render(request, "people/member.html", context, status=422 if wrong else 200)


def _link(request: HttpRequest, site: Site, who: Membership, link: str) -> HttpResponse:
    context = {"section": "people", "site": site, "member": who, "link": request.build_absolute_uri(link)}
    return render(request, "people/link.html", context)
