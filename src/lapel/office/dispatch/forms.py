"""Forms of Dispatch: sealing a parcel, handing it on, issuing its form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.http import HttpRequest

from lapel.fieldlog import UNITS
from lapel.fieldlog.signatures import signature_in

NOTHING_KEPT = "Nothing was kept."
_YES_NO = (("", "not looked"), ("yes", "yes"), ("no", "no"))


class Warmth(forms.Form):
    """A temperature as read, with its unit."""

    temperature = forms.DecimalField(
        required=False,
        max_digits=6,
        decimal_places=2,
        label="Temperature in the box",
        error_messages={"invalid": f"Found no number. Wanted one as read, such as 4.5. {NOTHING_KEPT}"},
    )
    temperature_unit = forms.ChoiceField(
        required=False,
        label="Unit",
        choices=[(unit, unit) for unit in UNITS["temperature"] if unit in ("°C", "°F", "K")],
    )


class SealForm(Warmth):
    """Samplers and blanks that go into one parcel, and its seal."""

    field_order = ("parcel", "seal", "everything", "samplers", "temperature", "temperature_unit")

    parcel = forms.RegexField(
        r"^\S{1,60}$",
        label="Number of the parcel",
        help_text="As on the box; no spaces.",
        error_messages={"invalid": f"Found spaces, or too long. Wanted up to 60 signs without a space. {NOTHING_KEPT}"},
    )
    seal = forms.CharField(label="Number on the seal", max_length=60, required=False)
    everything = forms.BooleanField(label="All that lies in no parcel yet", required=False)
    samplers = forms.MultipleChoiceField(
        label="What is in it", required=False, widget=forms.CheckboxSelectMultiple(attrs={"class": "many"})
    )

    def __init__(self, loose: Sequence[tuple[str, str]], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._loose = [code for code, _ in loose]
        which = self.fields["samplers"]
        assert isinstance(which, forms.MultipleChoiceField)
        which.choices = list(loose)
        if len(loose) < 2:
            del self.fields["everything"]

    def clean(self) -> dict[str, Any]:
        """Find what goes in: what is marked, or all of it."""
        asked = super().clean() or {}
        if asked.get("everything"):
            asked["samplers"] = self._loose
        elif not asked.get("samplers") and "samplers" not in self.errors:
            self.add_error("samplers", f"Found none marked. Wanted at least one sampler or blank. {NOTHING_KEPT}")
        return asked


class PartyForm(forms.Form):
    """One of the two at a hand-over: who they are, and how they sign."""

    name = forms.CharField(label="Full name", max_length=120)
    firm = forms.CharField(label="Firm", max_length=120, required=False)
    how = forms.ChoiceField(
        label="Signs",
        required=False,
        choices=(
            ("", "not here"),
            ("account", "with the password of an account"),
            ("drawn", "by drawing here"),
            ("paper", "on the form that travels"),
        ),
    )
    account = forms.CharField(label="Account", max_length=150, required=False)
    password = forms.CharField(
        label="Password of this account",
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )
    lines = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, request: HttpRequest, sent: Any = None, *, who: str, initial: dict[str, str] | None = None
    ) -> None:
        super().__init__(sent, prefix=who, initial=initial)
        self.request = request
        self.fields["name"].label = {"giver": "Given by", "receiver": "Taken by"}[who]

    def clean(self) -> dict[str, Any]:
        """Make the signature; nobody's password is tried while another field is wrong."""
        said = super().clean() or {}
        if self.errors:
            return said
        said["signature"] = {"account": self._by_account, "drawn": self._by_drawing}.get(
            said["how"], lambda _said: said["how"]
        )(said)
        return said

    def _by_drawing(self, said: dict[str, Any]) -> str:
        lines: str = said["lines"]
        if not lines:
            self.add_error("how", f"Found no drawing. Wanted one, or another way to sign. {NOTHING_KEPT}")
            return ""
        try:
            if not lines.startswith("drawn "):
                raise ValueError("points of lines")
            signature_in(lines)
        except ValueError as wanted:
            self.add_error("how", f"Found a drawing that is none. Wanted {wanted}. {NOTHING_KEPT}")
        return lines

    def _by_account(self, said: dict[str, Any]) -> str:
        """Ask by the door of signing in: wrong passwords count there, and close it."""
        name, account = said["name"].strip(), said["account"]
        person = authenticate(self.request, username=account, password=said["password"]) if account else None
        if not isinstance(person, User):
            self.add_error("password", f"This is not the password of an account of this name. {NOTHING_KEPT}")
            return ""
        names = [person.get_full_name(), person.get_username()]
        if name.casefold() not in {known.casefold() for known in names if known}:
            wanted = names[0] or names[1]
            self.add_error("name", f"Found “{name}”. Wanted the name of the account, {wanted}. {NOTHING_KEPT}")
        return f"account {person.get_username()}"


class HandForm(Warmth):
    """What was seen of a parcel as it went from one hand to another."""

    field_order = ("seal_intact", "temperature", "temperature_unit")

    seal_intact = forms.ChoiceField(label="Was the seal whole?", choices=_YES_NO, required=False)


class HandOverForms:
    """A hand-over as one page of questions: who gives, who takes, and what was seen."""

    def __init__(self, request: HttpRequest, holder: str = "", *, sent: bool = False) -> None:
        given = request.POST if sent else None
        user = request.user
        account = user.get_username() if user.is_authenticated else ""
        self.giver = PartyForm(request, given, who="giver", initial={"name": holder, "account": account})
        self.receiver = PartyForm(request, given, who="receiver")
        self.seen = HandForm(given)
        self.is_wrong = False

    def is_valid(self) -> bool:
        """Whether all three are; the same hand cannot sign for both."""
        seen = self.seen.is_valid()
        if seen and self.giver.is_valid() and self.receiver.is_valid():
            mine, theirs = self.giver.cleaned_data, self.receiver.cleaned_data
            if mine["signature"] not in ("", "paper") and mine["signature"] == theirs["signature"]:
                self.receiver.add_error("how", f"Found the giver's signature. Wanted the taker's own. {NOTHING_KEPT}")
        valid = seen and self.giver.is_valid() and self.receiver.is_valid()
        self.is_wrong = not valid
        return valid

    def fields(self) -> dict[str, str]:
        """Return what was said as fields of the entry, what was left empty left out."""
        said: dict[str, str] = {}
        for end, form in (("from", self.giver), ("to", self.receiver)):
            party = form.cleaned_data
            said |= {end: party["name"], f"{end}_firm": party["firm"], f"{end}_signature": party["signature"]}
        said["seal_intact"] = self.seen.cleaned_data["seal_intact"]
        return {name: text for name, text in said.items() if text}


class IssueForm(forms.Form):
    """An issue of the form of a parcel; from the second on, why it replaces the one before."""

    laboratory = forms.CharField(label="Laboratory", max_length=200, required=False)
    report_to = forms.CharField(label="Report to", max_length=200, required=False)
    wanted_by = forms.CharField(label="Report wanted by", max_length=100, required=False)
    reason = forms.CharField(label="Why it replaces the issue before", required=False)

    def __init__(self, issue: int, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if issue == 1:
            del self.fields["reason"]
        else:
            self.fields["reason"].required = True
            self.fields["reason"].error_messages["required"] = (
                f"Found nothing. Wanted why issue {issue} replaces issue {issue - 1}. {NOTHING_KEPT}"
            )
