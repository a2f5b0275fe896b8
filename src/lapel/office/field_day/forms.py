"""Forms of the log: what an entry should say, and why."""

from __future__ import annotations

from typing import Any

from django import forms

from lapel.fieldlog import KINDS, UNITS, Entry, FieldSpec, instant_text
from lapel.office.field_day.correcting import problems_of

REASON_WANTED = (
    "Found nothing. Wanted the reason, as in “misread 0.412 for 0.142”. Write it and save again; nothing was kept."
)
NOTHING_KEPT = "Nothing was kept; correct it and save again."


class ReasonForm(forms.Form):
    """Why something in the log is put right."""

    reason = forms.CharField(
        label="Why",
        max_length=1000,
        help_text="Stays with the entry for good.",
        error_messages={"required": REASON_WANTED},
    )


class CorrectionForm(ReasonForm):
    """Every field of an entry as it counts now, to be changed where it is wrong."""

    field_order = None

    def __init__(self, entry: Entry, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entry = entry
        self.changes: dict[str, str] = {}
        spec = KINDS[entry.kind]
        self.fields["field-at"] = forms.CharField(
            label="When", required=False, initial=instant_text(entry.at), help_text="With its offset from UTC."
        )
        for name, field in spec.fields.items():
            self.fields[f"field-{name}"] = _form_field(field, entry.fields.get(name, ""))
        self.order_fields([*(name for name in self.fields if name != "reason"), "reason"])

    def clean(self) -> dict[str, Any]:
        """Find what was changed, and hold the changed entry against its kind."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name in ("at", *KINDS[self.entry.kind].fields):
            typed = str(cleaned.get(f"field-{name}", "")).strip()
            now = instant_text(self.entry.at) if name == "at" else self.entry.fields.get(name, "").strip()
            if typed != now and f"field-{name}" not in self.errors:
                self.changes[name] = typed
        if not self.changes and not self.errors:
            raise forms.ValidationError(
                "Found no change. Wanted at least one field that says something else. To take the whole entry out, "
                "withdraw it."
            )
        for problem in problems_of(self.entry, self.changes):
            words = f"Found {problem.found}. Wanted {problem.wanted}. {NOTHING_KEPT}"
            self.add_error(f"field-{problem.field}" if f"field-{problem.field}" in self.fields else None, words)
        return cleaned


class DistinctForm(ReasonForm):
    """Says that two like entries are two acts."""

    other = forms.CharField(widget=forms.HiddenInput, max_length=120)


def _form_field(field: FieldSpec, now: str) -> forms.Field:
    words = field.words[:1].upper() + field.words[1:]
    label = field.name.replace("_", " ").capitalize()
    choices: tuple[str, ...] = ()
    if field.type == "yes/no":
        choices = ("yes", "no")
    elif field.choices:
        choices = field.choices
    elif field.type == "unit" and field.unit_kind:
        choices = UNITS[field.unit_kind]
    if choices:
        listed = [("", "not recorded"), *((choice, choice) for choice in choices)]
        if now and now not in choices:
            listed.append((now, now))
        return forms.ChoiceField(label=label, choices=listed, initial=now, required=False, help_text=words)
    return forms.CharField(label=label, initial=now, required=False, help_text=words, max_length=4000, strip=True)
