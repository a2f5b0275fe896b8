"""Forms of the log: what an entry should say, and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from lapel.exchange.entries_file import MOST_BYTES
from lapel.fieldlog import KINDS, UNITS, Entry, FieldSpec, instant_text
from lapel.office.field_day.correcting import problems_of
from lapel.records.audit import LONGEST_REASON

REASON_WANTED = (
    "Found nothing. Wanted the reason, as in “misread 0.412 for 0.142”. Write it and save again; nothing was kept."
)
NOTHING_KEPT = "Nothing was kept; correct it and save again."


class ReasonForm(forms.Form):
    """Why something in the log is put right."""

    reason = forms.CharField(
        label="Why",
        max_length=LONGEST_REASON,
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
            if field.type == "signature":
                continue  # withdrawn with its hand-over, never put right
            self.fields[f"field-{name}"] = _form_field(field, entry.fields.get(name, ""))
        self.order_fields([*(name for name in self.fields if name != "reason"), "reason"])

    def clean(self) -> dict[str, Any]:
        """Find what was changed, and hold the changed entry against its kind."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name in ("at", *KINDS[self.entry.kind].fields):
            if f"field-{name}" not in self.fields:
                continue
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


class SettleForm(ReasonForm):
    """Several refused entries, and one reason for all of them."""

    refused = forms.MultipleChoiceField(
        label="Which",
        error_messages={"required": "Found none marked. Wanted at least one entry. Nothing was settled."},
    )

    def __init__(self, numbers: Iterable[int], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        which = self.fields["refused"]
        assert isinstance(which, forms.MultipleChoiceField)
        which.choices = [(str(number), str(number)) for number in numbers]


class FileForm(forms.Form):
    """A file of entries from a device."""

    file = forms.FileField(
        label="File from the device",
        help_text="As the field page saved it; its name ends in .jsonl.",
        widget=forms.ClearableFileInput(attrs={"accept": ".jsonl,application/jsonl,application/x-ndjson"}),
        error_messages={
            "required": "Found no file. Wanted the file the field page saved. Nothing was kept.",
            "empty": "Found a file with nothing in it. Wanted the file the field page saved. Nothing was kept.",
        },
    )

    def clean_file(self) -> UploadedFile[Any]:
        """Not larger than a device makes one."""
        file: UploadedFile[Any] = self.cleaned_data["file"]
        if (file.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                f"Found {(file.size or 0) / 1024 / 1024:.1f} MB. Wanted at most {MOST_BYTES // 1024 // 1024} MB: cut "
                "it into several files between two lines. Nothing was kept."
            )
        return file


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
