"""Forms of Results: bringing a file in, answering what it leaves open, setting it aside."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from lapel.exchange.delivered_records import LARGEST_FILE
from lapel.exchange.laboratory.questions import Question
from lapel.records.audit import LONGEST_REASON

NOTHING_KEPT = "Nothing was kept."


class FileForm(forms.Form):
    """A laboratory's file as it came."""

    file = forms.FileField(
        label="The laboratory's file",
        help_text="CSV, XLSX or PDF, as it came. It is kept byte for byte before anything is read from it.",
        error_messages={
            "required": f"Found no file. Wanted the file as it came. {NOTHING_KEPT}",
            "empty": f"Found an empty file. Wanted the file as it came. {NOTHING_KEPT}",
        },
    )
    amends = forms.CharField(
        label="Replaces report",
        required=False,
        max_length=120,
        help_text="Only if it replaces one under another number.",
    )

    def clean_file(self) -> UploadedFile[bytes]:
        """Refuse what no report of a laboratory is as large as."""
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if file.size is None or file.size > LARGEST_FILE:
            most = LARGEST_FILE // (1024 * 1024)
            raise forms.ValidationError(
                f"Found more than {most} MB. Wanted a report of at most {most} MB. {NOTHING_KEPT}"
            )
        return file


class AnswerForm(forms.Form):
    """One question about a file, with the answers it can have."""

    def __init__(self, question: Question, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.question = question
        if question.choices:
            self.fields["answer"] = forms.ChoiceField(
                label=question.asks,
                choices=[(choice.answer, f"{choice.answer}: {choice.means}") for choice in question.choices],
                widget=forms.RadioSelect,
                error_messages={"required": f"Found no answer. Wanted one of these. {NOTHING_KEPT}"},
            )
        else:
            self.fields["answer"] = forms.CharField(
                label=question.asks,
                max_length=300,
                error_messages={"required": f"Found nothing. Wanted an answer. {NOTHING_KEPT}"},
            )


class AsideForm(forms.Form):
    """Why a file is not used."""

    reason = forms.CharField(
        label="Why it is not used",
        max_length=LONGEST_REASON,
        error_messages={"required": f"Found nothing. Wanted the reason. {NOTHING_KEPT}"},
    )
