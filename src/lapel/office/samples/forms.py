"""Forms of samples: what to list, and why a finding is lifted or put back."""

from __future__ import annotations

from django import forms

from lapel.records.audit import LONGEST_REASON

STANDINGS = (("", "any standing"), ("sound", "sound"), ("qualified", "qualified"), ("void", "void"))


class WhichSamplesForm(forms.Form):
    """Which samples to list."""

    find = forms.CharField(label="Sample, worker or port", max_length=60, required=False)
    agent = forms.ChoiceField(label="Agent", required=False)
    standing = forms.ChoiceField(label="Standing", choices=STANDINGS, required=False)

    def __init__(self, *args: object, agents: list[tuple[str, str]], **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["agent"] = forms.ChoiceField(label="Agent", choices=[("", "all agents"), *agents], required=False)


class LiftForm(forms.Form):
    """Why a finding does not have its usual effect on a sample."""

    reason = forms.CharField(
        label="Why this finding does not have its usual effect here",
        min_length=10,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="A reviewer must be able to follow it years from now: what you know, and from where.",
        error_messages={
            "required": "Found nothing. Wanted the reason in a sentence. Write it and save again; nothing was changed.",
            "min_length": "Found %(show_value)s signs. Wanted a sentence a reviewer can follow. Nothing was changed.",
        },
    )


class RestoreForm(forms.Form):
    """Why a lifted finding counts again."""

    reason = forms.CharField(
        label="Why the finding counts again",
        max_length=LONGEST_REASON,
        error_messages={"required": "Found nothing. Wanted the reason in a few words. Nothing was changed."},
    )
