"""Forms of Dispatch: sealing a parcel, handing it on, issuing its form."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from lapel.fieldlog import UNITS

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


class HandForm(Warmth):
    """The parcel goes from one hand to another."""

    field_order = ("giver", "receiver", "seal_intact", "temperature", "temperature_unit")

    giver = forms.CharField(label="Given by", max_length=120)
    receiver = forms.CharField(label="Taken by", max_length=120)
    seal_intact = forms.ChoiceField(label="Was the seal whole?", choices=_YES_NO, required=False)


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
