"""Forms of Results: bringing a file in, answering what it leaves open, setting it aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from lapel.exchange.delivered_records import LARGEST_FILE
from lapel.exchange.laboratory.questions import Choice, Question
from lapel.exchange.laboratory.role_words import MEANINGS
from lapel.office.uploads import Room
from lapel.records.audit import LONGEST_REASON

NOTHING_KEPT = "Nothing was kept."
NONE_OF_THEM = "-"
"""What a form sends for the answer that is empty in the map: an empty one would look as if nobody had chosen."""


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

    def __init__(self, *args: Any, room: Room, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.room = room
        self.fields["file"].help_text += f" {room.words}"

    def clean_file(self) -> UploadedFile[bytes]:
        """Refuse what no report of a laboratory is as large as, and what there is no room for."""
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if file.size is None or file.size > LARGEST_FILE:
            most = LARGEST_FILE // (1024 * 1024)
            raise forms.ValidationError(
                f"Found more than {most} MB. Wanted a report of at most {most} MB. {NOTHING_KEPT}"
            )
        if refusal := self.room.refusal(file.size):
            raise forms.ValidationError(refusal)
        return file


class AnswerForm(forms.Form):
    """One question about a file, with the answers it can have."""

    def __init__(self, question: Question, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.question = question
        if question.choices:
            self.fields["answer"] = forms.ChoiceField(
                label=question.asks,
                choices=[(choice.answer or NONE_OF_THEM, _words(choice)) for choice in question.choices],
                widget=forms.RadioSelect,
                error_messages={"required": f"Found no answer. Wanted one of these. {NOTHING_KEPT}"},
            )
        else:
            self.fields["answer"] = forms.CharField(
                label=question.asks,
                max_length=300,
                error_messages={"required": f"Found nothing. Wanted an answer. {NOTHING_KEPT}"},
            )

    def clean_answer(self) -> str:
        """Return the answer as the map has it."""
        text: str = self.cleaned_data["answer"]
        return "" if self.question.choices and text == NONE_OF_THEM else text


class ColumnForm(forms.Form):
    """A person says what a column holds."""

    heading = forms.ChoiceField(label="Column headed")
    role = forms.ChoiceField(
        label="It holds", choices=[("", "choose"), *((role, meaning) for role, meaning in MEANINGS.items())]
    )

    def __init__(self, headings: Sequence[str], *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        which = self.fields["heading"]
        assert isinstance(which, forms.ChoiceField)
        which.choices = [(heading, heading) for heading in headings]


def _words(choice: Choice) -> str:
    if not choice.answer:
        return choice.means[:1].upper() + choice.means[1:]
    return choice.means or choice.answer


class AsideForm(forms.Form):
    """Why a file is not used."""

    reason = forms.CharField(
        label="Why it is not used",
        max_length=LONGEST_REASON,
        error_messages={"required": f"Found nothing. Wanted the reason. {NOTHING_KEPT}"},
    )
