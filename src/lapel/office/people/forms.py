"""Forms of people: what is asked, in words, and nothing else."""

from __future__ import annotations

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm, SetPasswordForm
from django.contrib.auth.models import User
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.urls import reverse_lazy

from lapel.records.audit import LONGEST_REASON
from lapel.records.models import Membership

ROLE_WORDS = {
    Membership.Role.LEAD: "lead hygienist: plans, judges, sees worker names, manages people",
    Membership.Role.TECHNICIAN: "technician: records in the field, keeps the equipment",
    Membership.Role.REVIEWER: "reviewer: reads everything but names, histories too",
    Membership.Role.VIEWER: "viewer: reads surveys and figures",
}
NAME_RULE = "Letters, digits and . + - _ @, no spaces."
PASSWORD_HINT = (
    "12 to 128 characters, the longer the better; several plain words do well. Spaces count. It must not be one "
    "that everybody uses, nor like your own name."
)


class SignInForm(AuthenticationForm):
    """Name and password."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.error_messages = self.error_messages | {
            "invalid_login": "This name and this password do not belong together. Both are case-sensitive.",
            "inactive": "This account is closed. Whoever runs the server can open it again.",
        }
        self.fields["username"].label = "Name you sign in with"
        self.fields["password"].label = "Password"


class CodeForm(forms.Form):
    """A code of the second factor; the form for backup codes is the same field with other keys."""

    code = forms.CharField(
        label="Code",
        max_length=16,
        help_text="Six digits from the authenticator on your phone, or one of your backup codes.",
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "spellcheck": "false", "autocapitalize": "off"}),
    )

    def clean_code(self) -> str:
        """Drop the spaces people type between groups."""
        return "".join(self.cleaned_data["code"].split()).lower()


class ConfirmPasswordForm(forms.Form):
    """The password once more, before something about the account changes."""

    password = forms.CharField(
        label="Your password, once more",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, person: User, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.person = person

    def clean_password(self) -> str:
        """Hold it against the account."""
        if not self.person.check_password(self.cleaned_data["password"]):
            raise forms.ValidationError("This is not your password. Nothing was changed.")
        return str(self.cleaned_data["password"])


class ChangePasswordForm(PasswordChangeForm):
    """The old password, then the new one twice."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.error_messages = self.error_messages | {
            "password_mismatch": "The two new passwords differ. Type the same one twice.",
            "password_incorrect": "This is not your present password. Nothing was changed.",
        }
        self.fields["old_password"].label = "Present password"
        self.fields["new_password1"].label = "New password"
        _measured(self.fields["new_password1"])
        self.fields["new_password2"].label = "New password, once more"
        self.fields["new_password2"].help_text = ""


class ChoosePasswordForm(SetPasswordForm):  # type: ignore[type-arg]  # generic in the stubs only
    """A first or a new password, twice."""

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.error_messages = self.error_messages | {
            "password_mismatch": "The two passwords differ. Type the same one twice."
        }
        self.fields["new_password1"].label = "Password"
        _measured(self.fields["new_password1"])
        self.fields["new_password2"].label = "Password, once more"
        self.fields["new_password2"].help_text = ""


def _measured(field: forms.Field) -> None:
    """Have the server say how strong it is while it is typed; without script it says so when it is sent."""
    field.help_text = PASSWORD_HINT
    field.widget.attrs |= {
        "hx-post": reverse_lazy("password-strength"),
        "hx-trigger": "input changed delay:400ms",
        "hx-params": "new_password1,csrfmiddlewaretoken",
        "hx-target": "#strength",
    }


class InviteForm(forms.Form):
    """Who is to come, and as what."""

    username = forms.CharField(
        label="Name to sign in with",
        max_length=150,
        validators=[UnicodeUsernameValidator(message=NAME_RULE + " Nobody was invited.")],
        help_text=NAME_RULE + " If the person already has an account on this server, type that.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false", "autocapitalize": "off"}),
    )
    role = forms.ChoiceField(
        label="Role on this site",
        choices=[(key.value, words) for key, words in ROLE_WORDS.items()],
        initial=Membership.Role.TECHNICIAN,
        widget=forms.RadioSelect,
    )


class RoleForm(forms.Form):
    """Another role, and why."""

    role = forms.ChoiceField(
        label="New role",
        choices=[(key.value, words) for key, words in ROLE_WORDS.items()],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(label="Why", max_length=LONGEST_REASON, required=False)


class RemoveForm(forms.Form):
    """Why somebody leaves the site."""

    reason = forms.CharField(
        label="Why", max_length=LONGEST_REASON, help_text="Kept in the site's history, as in “left the plant”."
    )


class NameForm(forms.Form):
    """The name behind a worker's code."""

    name = forms.CharField(label="Name", max_length=200, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    reason = forms.CharField(label="Why", max_length=LONGEST_REASON, required=False)
