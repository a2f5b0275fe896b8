"""Signing in and out, the second factor, and one's own account."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.contrib.auth.forms import SetPasswordForm
from django.contrib.auth.models import User
from django.contrib.auth.views import LoginView, PasswordResetConfirmView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST
from django_otp import login as mark_verified
from django_otp import user_has_device

from lapel.office.people import second_factor
from lapel.office.people.forms import (
    ChangePasswordForm,
    ChoosePasswordForm,
    CodeForm,
    ConfirmPasswordForm,
    SignInForm,
)
from lapel.office.people.second_factor import open_before_second_factor
from lapel.office.people.sign_in_log import changed, second_factor_refused
from lapel.records import sessions
from lapel.records.models import Membership

CODES_IN_SESSION = "backup_codes_to_show"


class SignIn(LoginView):
    """Name and password; too many wrong ones close the door for a while (django-axes)."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class Invitation(PasswordResetConfirmView):
    """A one-time link: the person chooses a password, and then signs in with it."""

    template_name = "people/invitation.html"
    form_class = ChoosePasswordForm
    success_url = reverse_lazy("sign-in")
    reset_url_token = "choose-password"

    def form_valid(self, form: SetPasswordForm[User]) -> HttpResponse:
        """Say what comes next."""
        messages.success(self.request, "The password is set. Sign in with it now.", extra_tags="good")
        changed(self.request, "password set by a one-time link", form.user)
        sessions.end_all(form.user)
        return super().form_valid(form)


sign_in = open_before_second_factor(SignIn.as_view())
invitation = open_before_second_factor(
    method_decorator(never_cache, name="dispatch")(Invitation).as_view()  # the address holds a key
)


@open_before_second_factor
@never_cache
@login_required
@sensitive_post_parameters("code")
@require_http_methods(["GET", "POST"])
def give_second_factor(request: HttpRequest) -> HttpResponse:
    """Ask for the code; wrong ones slow the next attempt down (django-otp)."""
    person = cast(User, request.user)
    if person.is_verified() or not user_has_device(person):  # type: ignore[attr-defined]
        return redirect("surveys")
    form = CodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        device = second_factor.matching_device(person, form.cleaned_data["code"])
        if device is not None:
            request.session.cycle_key()
            mark_verified(request, device)
            return redirect("surveys")
        second_factor_refused(request, person)
        form.add_error("code", "This code does not fit, or was used already. Wait for the next one and type that.")
    return render(request, "people/second_factor.html", {"form": form}, status=422 if form.errors else 200)


@open_before_second_factor
@never_cache
@login_required
@sensitive_post_parameters("code")
@require_http_methods(["GET", "POST"])
def set_up_second_factor(request: HttpRequest) -> HttpResponse:
    """Show the secret as a picture and as text, and confirm it with its first code."""
    person = cast(User, request.user)
    if user_has_device(person) and not person.is_verified():  # type: ignore[attr-defined]
        return redirect("second-factor")
    device = second_factor.started_device(person)
    form = CodeForm(request.POST or None)
    form.fields["code"].help_text = "The six digits your authenticator shows now."
    if request.method == "POST" and form.is_valid():
        codes = second_factor.confirm(person, device, form.cleaned_data["code"])
        if codes is not None:
            changed(request, "second factor set up", person)
            request.session.cycle_key()
            mark_verified(request, device)
            request.session[CODES_IN_SESSION] = codes
            return redirect("backup-codes")
        form.add_error("code", "This code does not fit. Is the phone's clock right? Type the next code it shows.")
    context = {
        "form": form,
        "picture": second_factor.secret_picture(device),
        "secret": second_factor.secret_in_groups(device),
        "must": second_factor.must_have(person),
        "section": "account",
    }
    return render(request, "people/second_factor_new.html", context, status=422 if form.errors else 200)


@never_cache
@login_required
def backup_codes(request: HttpRequest) -> HttpResponse:
    """Show new backup codes, once."""
    codes = request.session.pop(CODES_IN_SESSION, None)
    if codes is None:
        return redirect("account")
    return render(request, "people/backup_codes.html", {"codes": codes, "section": "account"})


@never_cache
@login_required
@sensitive_post_parameters("password")
@require_POST
def renew_backup_codes(request: HttpRequest) -> HttpResponse:
    """Make new backup codes after the password was given once more."""
    person = cast(User, request.user)
    form = ConfirmPasswordForm(person, request.POST)
    if not user_has_device(person) or not form.is_valid():
        return _account(request, codes_form=form)
    request.session[CODES_IN_SESSION] = second_factor.new_backup_codes(person)
    changed(request, "backup codes renewed", person)
    return redirect("backup-codes")


@never_cache
@login_required
@sensitive_post_parameters("password")
@require_POST
def end_second_factor(request: HttpRequest) -> HttpResponse:
    """End the second factor after the password was given once more, where the server lets people go without."""
    person = cast(User, request.user)
    form = ConfirmPasswordForm(person, request.POST)
    if not form.is_valid():
        return _account(request, end_form=form)
    second_factor.remove_second_factor(person)
    changed(request, "second factor ended", person)
    words = "The second factor is off."
    if second_factor.must_have(person):
        words += " Your role needs one: set up the new one now."
    messages.success(request, words, extra_tags="good")
    return redirect("account")


@never_cache
@login_required
def account(request: HttpRequest) -> HttpResponse:
    """Who one is here, on which sites, and how one signs in."""
    return _account(request)


@never_cache
@login_required
@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def change_password(request: HttpRequest) -> HttpResponse:
    """Change the password; every other session of the person ends."""
    person = cast(User, request.user)
    form = ChangePasswordForm(person, request.POST or None)
    if request.method == "POST" and form.is_valid():
        form.save()
        update_session_auth_hash(request, person)
        sessions.end_all(person, but=request.session.session_key)
        changed(request, "password changed", person)
        messages.success(request, "The password is changed. You were signed out everywhere else.", extra_tags="good")
        return redirect("account")
    context = {"form": form, "section": "account"}
    return render(request, "people/password.html", context, status=422 if form.errors else 200)


def _account(
    request: HttpRequest, *, codes_form: ConfirmPasswordForm | None = None, end_form: ConfirmPasswordForm | None = None
) -> HttpResponse:
    person = cast(User, request.user)
    context = {
        "section": "account",
        "memberships": Membership.objects.filter(user=person).select_related("site").order_by("site__code"),
        "has_second_factor": user_has_device(person),
        "codes_left": second_factor.backup_codes_left(person),
        "must": second_factor.must_have(person),
        "codes_form": codes_form or ConfirmPasswordForm(person, auto_id="codes_%s"),
        "end_form": end_form or ConfirmPasswordForm(person, auto_id="end_%s"),
    }
    wrong = (codes_form is not None) or (end_form is not None)
    return render(request, "people/account.html", context, status=422 if wrong else 200)
