"""Forms of the report: its texts, what is to be done, its terms, who was told, comments, and signing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Any, ClassVar

from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.http import HttpRequest

from lapel.assessment.notification import UnknownCalendar, public_holidays
from lapel.documents.report.facts import OWN_TEXTS
from lapel.records.models import Recommendation, ReportTerms

LONGEST_TEXT = 20_000
MOST_FREE_DAYS = 200

PARTS = {
    "process": ("Work and tasks", "What is done in the area, with what, how often; what differed on the days sampled."),
    "controls": (
        "Controls and protection seen",
        "Ventilation, enclosure, respirators and gloves as seen, not as planned.",
    ),
    "strategy": ("Whom, when and why", "Why these people, these days, these substances; who was left out."),
    "weak": ("Weak places", "What a critic would say first: few days, one season, a sample lost, an estimate."),
}
"""Heading and hint of each part only the author can write."""

RUNGS = (
    ("eliminate", "Do without the substance or the work"),
    ("substitute", "Replace it by something less harmful"),
    ("engineer", "Engineer: enclose, extract, change the process"),
    ("organise", "Organise: fewer people, less time, other order"),
    ("protect", "Protect: respirators, until something better holds"),
    ("measure", "Measure again"),
    ("tell", "Tell people"),
)
"""The hierarchy of controls from the strongest down."""

WAYS = (
    ("letter", "letter handed over"),
    ("talk", "told in person, letter given"),
    ("mail", "letter by mail"),
    ("posted", "posted list"),
    ("other", "another way"),
)
"""How somebody was told."""

_day = {"type": "date"}


class TextsForm(forms.Form):
    """The parts of the report only its author can write."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for part in OWN_TEXTS:
            label, hint = PARTS[part]
            self.fields[part] = forms.CharField(
                label=label,
                help_text=hint,
                max_length=LONGEST_TEXT,
                required=False,
                widget=forms.Textarea(attrs={"rows": 7}),
            )


class RecommendationForm(forms.ModelForm):  # type: ignore[type-arg]  # its model is named below
    """One thing to do."""

    rung = forms.ChoiceField(label="Rung of the hierarchy of controls", choices=RUNGS)

    class Meta:
        """All that a recommendation says."""

        model = Recommendation
        fields = ("rung", "action", "reason", "owner", "by", "done_on")
        labels: ClassVar = {
            "action": "What is to be done",
            "reason": "Because",
            "owner": "Who does it",
            "by": "By",
            "done_on": "Done on",
        }
        widgets: ClassVar = {
            "action": forms.Textarea(attrs={"rows": 3}),
            "reason": forms.Textarea(attrs={"rows": 3}),
            "by": forms.DateInput(attrs=_day, format="%Y-%m-%d"),
            "done_on": forms.DateInput(attrs=_day, format="%Y-%m-%d"),
        }
        error_messages: ClassVar = {
            "action": {"required": "Found nothing. Wanted what is to be done, in a sentence. Nothing was kept."}
        }


class TermsForm(forms.ModelForm):  # type: ignore[type-arg]  # its model is named below
    """How days are counted and whom workers may ask."""

    free = forms.CharField(
        label="The firm's own free days",
        help_text="One a line, as in 2026-12-24. Public holidays need not be listed.",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    class Meta:
        """All but what the pages of groups choose."""

        model = ReportTerms
        fields = ("contact", "completed_on", "calendar")
        labels: ClassVar = {
            "contact": "Whom workers may ask",
            "completed_on": "Assessment completed on",
            "calendar": "Calendar of public holidays",
        }
        help_texts: ClassVar = {
            "contact": "Name, place and telephone, as they stand in letters.",
            "completed_on": "Some standards count from here.",
            "calendar": "Country, with a part where it matters: US, US-WA, GB-ENG, ES. Empty: no holiday is left out.",
        }
        widgets: ClassVar = {"completed_on": forms.DateInput(attrs=_day, format="%Y-%m-%d")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["free"].initial = "\n".join(self.instance.free_days)

    def clean_calendar(self) -> str:
        """Hold it against the library of holidays."""
        found = str(self.cleaned_data["calendar"]).strip().upper()
        try:
            public_holidays(found, date.today().year)  # noqa: DTZ011 - any year tells whether it is known
        except UnknownCalendar as problem:
            raise forms.ValidationError(f"{str(problem)[:1].upper()}{str(problem)[1:]}.") from problem
        return found

    def clean_free(self) -> list[str]:
        """Read the days."""
        texts = re.split(r"[\s,;]+", self.cleaned_data["free"].strip())
        days = []
        for text in filter(None, texts):
            try:
                days.append(date.fromisoformat(text).isoformat())
            except ValueError as problem:
                raise forms.ValidationError(f"Found “{text[:40]}”. Wanted a day, as in 2026-12-24.") from problem
        if len(days) > MOST_FREE_DAYS:
            raise forms.ValidationError(f"Found {len(days)} days. Wanted at most {MOST_FREE_DAYS}.")
        return sorted(set(days))

    def save(self, commit: bool = True) -> ReportTerms:
        """Keep the days with the rest."""
        self.instance.free_days = self.cleaned_data["free"]
        return super().save(commit)  # type: ignore[no-any-return]


class TellingForm(forms.Form):
    """Who was told, how and when, and what proves it."""

    workers = forms.MultipleChoiceField(
        label="Who was told",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Nobody is ticked. Tick who was told. Nothing was kept."},
    )
    how = forms.ChoiceField(label="How", choices=WAYS)
    on = forms.DateField(label="On", widget=forms.DateInput(attrs=_day, format="%Y-%m-%d"))
    proof = forms.CharField(
        label="What proves it",
        help_text="Where the signed slip is, who was there, which number the letter had.",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, workers: Sequence[tuple[str, str]], latest: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.latest = latest
        chosen = self.fields["workers"]
        assert isinstance(chosen, forms.MultipleChoiceField)
        chosen.choices = list(workers)
        self.fields["on"].initial = latest

    def clean_on(self) -> date:
        """Nobody was told tomorrow."""
        day: date = self.cleaned_data["on"]
        if day > self.latest:
            raise forms.ValidationError(f"Found {day}, which has not come yet. Wanted the day on which it was done.")
        return day


class CommentForm(forms.Form):
    """A question about a number or a sentence."""

    about = forms.CharField(
        label="About", max_length=300, help_text="Such as “sample G-107”, “shift S-1”, or a sentence of the report."
    )
    words = forms.CharField(
        label="What you ask or doubt", max_length=LONGEST_TEXT, widget=forms.Textarea(attrs={"rows": 4})
    )


class AnswerForm(forms.Form):
    """The answer to a comment."""

    answer = forms.CharField(
        label="Answer", max_length=LONGEST_TEXT, widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Found nothing. Wanted the answer, or why it is settled. Nothing was kept."},
    )  # fmt: skip


class SignForm(forms.Form):
    """The password once more, and what was read: a signature speaks of nothing else."""

    read = forms.CharField(widget=forms.HiddenInput)
    sure = forms.BooleanField(
        label="I have read what I sign",
        error_messages={"required": "Tick it once you have read what you sign. Nothing was signed."},
    )
    password = forms.CharField(
        label="Your password, once more",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, request: HttpRequest, *args: Any, now: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request, self.now = request, now

    def clean(self) -> dict[str, Any]:
        """
        Hold the password against the account, by the door of signing in: wrong ones count there, and close it.

        Nothing is tried while another field is wrong.
        """
        given = super().clean() or {}
        if self.errors:
            return given
        if given["read"] != self.now:
            raise forms.ValidationError(
                "Something was changed since you opened this page. Read what it says now; nothing was signed."
            )
        person = self.request.user
        assert isinstance(person, User)
        known = authenticate(self.request, username=person.get_username(), password=given["password"])
        if known is None or known.pk != person.pk:
            self.add_error("password", "This is not your password. Nothing was signed.")
        return given
