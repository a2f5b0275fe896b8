"""Forms of the devices: what one is called, and why its key ends."""

from __future__ import annotations

from django import forms

from lapel.records.audit import LONGEST_REASON
from lapel.records.devices import code_is_taken

NOTHING_KEPT = "Nothing was kept; correct it and try again."


class DeviceForm(forms.Form):
    """A device that is to be paired."""

    name = forms.CharField(
        label="What people call it",
        max_length=200,
        help_text="As on its sticker, such as “Phone 3, yellow case”.",
        error_messages={"required": f"Found nothing. Wanted a name, as in “Phone 3”. {NOTHING_KEPT}"},
    )
    code = forms.CharField(
        label="Code",
        max_length=120,
        required=False,
        help_text="Stands in every entry it makes, and never changes. Made of the name if left empty.",
    )

    def clean_code(self) -> str:
        """One code a server: the chain of a device's entries is under it."""
        code = str(self.cleaned_data["code"]).strip()
        if not code.isprintable():
            raise forms.ValidationError(f"Found signs that cannot be printed. {NOTHING_KEPT}")
        if code and code_is_taken(code):
            raise forms.ValidationError(
                f"Found “{code}”, which a device has already. Wanted a new code; to pair that device again, use its "
                f"button in the list. {NOTHING_KEPT}"
            )
        return code

    def clean_name(self) -> str:
        """Something a code can be made of."""
        name = str(self.cleaned_data["name"]).strip()
        if not any(sign.isalnum() for sign in name):
            raise forms.ValidationError(f"Found no letter or digit. Wanted a name, as in “Phone 3”. {NOTHING_KEPT}")
        return name


class RevokeForm(forms.Form):
    """Why a device may no longer deliver."""

    reason = forms.CharField(
        label="Why its key ends",
        max_length=LONGEST_REASON,
        help_text="As in “left in a taxi on 3 May”. It stays in the site's history.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Found nothing. Wanted the reason in a few words. The key still works."},
    )
