"""Forms of a site's letterhead: its logo, and its own texts section by section."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from lapel.documents.logo import LARGEST_BYTES, UnusableLogo, logo_of
from lapel.documents.wording import UnusableWording, with_own, wording

NOTHING_KEPT = "Nothing was kept."
LONGEST = 2000


class LogoForm(forms.Form):
    """The logo, or its removal."""

    firm = forms.CharField(
        label="Whose logo",
        help_text="Read out to people who do not see the picture.",
        max_length=200,
        required=False,
    )
    logo = forms.FileField(
        label="Logo",
        help_text=f"SVG or PNG, at most {LARGEST_BYTES // 1000} kB; it stands 40 mm wide on the first page.",
        required=False,
        widget=forms.FileInput(attrs={"accept": ".svg,.png,image/svg+xml,image/png"}),
        error_messages={"empty": f"Found a file with nothing in it. Wanted an SVG or a PNG. {NOTHING_KEPT}"},
    )
    without = forms.BooleanField(label="Documents without a logo", required=False)

    def __init__(self, *args: Any, has_logo: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not has_logo:
            del self.fields["without"]

    def clean_logo(self) -> bytes | None:
        """Hold it to what a document can carry."""
        file: UploadedFile[Any] | None = self.cleaned_data["logo"]
        if file is None:
            return None
        if (file.size or 0) > LARGEST_BYTES:
            found = f"Found {(file.size or 0) / 1000:.0f} kB. Wanted at most {LARGEST_BYTES // 1000} kB"
            raise forms.ValidationError(f"{found}. {NOTHING_KEPT}")
        content: bytes = file.read()
        try:
            logo_of(content, where=file.name or "the file")
        except UnusableLogo as problem:
            raise forms.ValidationError(f"{problem}. {NOTHING_KEPT}") from problem
        return content


class WordsForm(forms.Form):
    """The texts of one section in one language; an empty one stays as it is packaged."""

    def __init__(self, *args: Any, language: str, section: str, own: dict[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.language, self.section = language, section
        self.packaged = wording(language).texts[section]
        for key, text in self.packaged.items():
            self.fields[key] = forms.CharField(
                label=text,
                required=False,
                max_length=LONGEST,
                initial=own.get(key, ""),
                widget=forms.Textarea(attrs={"rows": 2 if len(text) > 60 else 1, "lang": language}),
            )

    def clean(self) -> dict[str, Any]:
        """Hold every text to the names its place fills in."""
        given = super().clean() or {}
        for key, text in list(given.items()):
            if text:
                self._hold(key, text)
        return given

    def _hold(self, key: str, text: str) -> None:
        try:
            with_own(wording(self.language), {self.section: {key: text}}, where="here")
        except UnusableWording as problem:
            self.add_error(key, f"{str(problem).partition(': ')[2].capitalize()}. {NOTHING_KEPT}")
