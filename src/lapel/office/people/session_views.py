"""Where one is signed in, what was changed about one's account, and how strong a password would be."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.contrib.auth.views import INTERNAL_RESET_SESSION_TOKEN, redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST

from lapel.office.appearance import safe_return
from lapel.office.people import news
from lapel.office.people.passwords import LONGEST, SHORTEST, strength_of
from lapel.office.people.second_factor import open_before_second_factor
from lapel.office.people.sign_in_log import changed
from lapel.records import sessions as kept_sessions
from lapel.records.models import AccountChange

MOST_CHANGES = 100
"""Changes shown of an account, the latest first; all of them are kept."""


@never_cache
@login_required
def sessions(request: HttpRequest) -> HttpResponse:
    """List where one is signed in, and what was changed about the account."""
    person = cast(User, request.user)
    rows = [
        {"of": row, "mark": kept_sessions.mark_of(row), "here": row.session_key == request.session.session_key}
        for row in kept_sessions.sessions_of(person)
    ]
    changes = AccountChange.objects.filter(user=person).order_by("-id")[:MOST_CHANGES]
    context = {"section": "account", "rows": rows, "changes": changes, "more": any(not row["here"] for row in rows)}
    return render(request, "people/sessions.html", context)


@login_required
@require_POST
def end_session(request: HttpRequest, mark: str) -> HttpResponse:
    """End one of one's own sessions; from then on its cookie opens nothing."""
    person = cast(User, request.user)
    if not kept_sessions.end_one(person, mark):
        raise Http404("There is nothing here.")
    changed(request, "one session ended", person, is_news=False)
    messages.success(request, "That session is ended.", extra_tags="good")
    return redirect("sessions")


@login_required
@require_POST
def end_other_sessions(request: HttpRequest) -> HttpResponse:
    """End all of one's own sessions but this one."""
    person = cast(User, request.user)
    kept_sessions.end_all(person, but=request.session.session_key)
    changed(request, "all other sessions ended", person, is_news=False)
    messages.success(request, "You are signed out everywhere else.", extra_tags="good")
    return redirect("sessions")


@login_required
@require_POST
def notice_changes(request: HttpRequest) -> HttpResponse:
    """Note that the person has read what was changed, as far as it was shown."""
    last = request.POST.get("last", "")
    if last.isascii() and last.isdigit() and len(last) < 19:
        news.acknowledge(request, int(last))
    return redirect(safe_return(request, request.POST.get("next", "")))


@open_before_second_factor
@never_cache
@sensitive_post_parameters()
@require_POST
def password_strength(request: HttpRequest) -> HttpResponse:
    """Say how strong what is being typed would be, to somebody signed in or with a one-time link; nothing is kept."""
    if not request.user.is_authenticated and INTERNAL_RESET_SESSION_TOKEN not in request.session:
        return redirect_to_login(request.path)
    typed = request.POST.get("new_password1", "")
    context: dict[str, object] = {"least": SHORTEST, "most": LONGEST, "length": len(typed)}
    if SHORTEST <= len(typed) <= LONGEST:
        context["strength"] = strength_of(typed, known=(request.user.get_username(),))
    return render(request, "people/parts/strength.html", context)
