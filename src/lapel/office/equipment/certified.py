"""What a certificate says of a meter, as a part of forms: of the meter itself, or of one certificate alone."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.records.audit import LONGEST_REASON
from lapel.records.models import EarlierCertificate

NOTHING_KEPT = "Nothing was kept; correct it and save again."
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")

CERTIFIED_FIELDS = (
    *("certificate", "certified_on", "due_on", "range_min_lpm", "range_max_lpm", "relative_u", "full_scale_u_lpm"),
    *("reads", "calibrated_at_k", "calibrated_at_kpa", "exponent"),
)
CERTIFIED_LABELS = {
    "certificate": "Certificate",
    "certified_on": "Certified on",
    "due_on": "Certificate due on",
    "range_min_lpm": "Smallest flow certified, L/min",
    "range_max_lpm": "Largest flow certified, L/min",
    "relative_u": "Standard uncertainty, share of the reading",
    "full_scale_u_lpm": "Standard uncertainty of the scale, L/min",
    "reads": "Reads the flow of",
    "calibrated_at_k": "Temperature its scale is made for, K",
    "calibrated_at_kpa": "Pressure its scale is made for, kPa",
    "exponent": "Exponent of the float",
}
CERTIFIED_HINTS = {
    "relative_u": "For k = 1, as in 0.005 for half a percent. A certificate that states k = 2: half of it.",
    "full_scale_u_lpm": "For k = 1; 0 where the certificate states none.",
    "reads": "“actual”: the air of the place. “standard”: the condition named below.",
    "exponent": "From 0 to 0.5; empty where it is not known.",
}


class CertifiedPart(forms.ModelForm):  # type: ignore[type-arg]  # the forms made of it name their models
    """The part of a form that says what a certificate says."""

    curve_text = forms.CharField(
        label="Correction curve",
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="One point a line, indicated then true flow in L/min, as in “0.100 0.102”; empty if there is none.",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial["curve_text"] = "\n".join(f"{read:g} {true:g}" for read, true in self.instance.curve)

    def clean_curve_text(self) -> list[list[float]]:
        """Pairs of numbers above 0, the indicated ones rising."""
        points: list[list[float]] = []
        for number, line in enumerate(str(self.cleaned_data["curve_text"]).splitlines(), 1):
            if not line.strip():
                continue
            try:
                read, true = (float(part) for part in line.replace(",", " ").split())
            except ValueError:
                raise forms.ValidationError(
                    f"Line {number}: found “{line.strip()}”. Wanted two numbers, as in “0.100 0.102”. {NOTHING_KEPT}"
                ) from None
            if not (0.0 < read < 1e6 and 0.0 < true < 1e6) or (points and read <= points[-1][0]):
                raise forms.ValidationError(
                    f"Line {number}: found “{line.strip()}”. Wanted flows above 0, the indicated ones rising. "
                    f"{NOTHING_KEPT}"
                )
            points.append([read, true])
        if len(points) == 1:
            raise forms.ValidationError(f"Found one point. Wanted two at least, or none. {NOTHING_KEPT}")
        return points

    def clean(self) -> dict[str, Any]:
        """Hold dates and the condition of the scale against each other."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        made, due = cleaned.get("certified_on"), cleaned.get("due_on")
        if made and due and due <= made:
            self.add_error("due_on", f"Found {due}. Wanted a day after {made}, when it was certified. {NOTHING_KEPT}")
        kelvin, pressure = cleaned.get("calibrated_at_k"), cleaned.get("calibrated_at_kpa")
        if (kelvin is None) != (pressure is None):
            self.add_error(
                "calibrated_at_kpa", f"Found one of temperature and pressure. Wanted both, or none. {NOTHING_KEPT}"
            )
        if kelvin is not None and not 200.0 <= kelvin <= 400.0:
            self.add_error(
                "calibrated_at_k", f"Found {kelvin:g} K. Wanted 200 to 400 K (20 °C is 293.15 K). {NOTHING_KEPT}"
            )
        if pressure is not None and not 40.0 <= pressure <= 120.0:
            self.add_error("calibrated_at_kpa", f"Found {pressure:g} kPa. Wanted 40 to 120 kPa. {NOTHING_KEPT}")
        exponent = cleaned.get("exponent")
        if exponent is not None and not 0.0 <= exponent <= 0.5:
            self.add_error("exponent", f"Found {exponent:g}. Wanted 0 to 0.5. {NOTHING_KEPT}")
        if "curve_text" in cleaned:
            self.instance.curve = cleaned["curve_text"]
        return cleaned


class CertificateForm(CertifiedPart):
    """One certificate of a meter: a new one, or one before the latest put right."""

    reason = forms.CharField(
        label="Why it is entered",
        max_length=LONGEST_REASON,
        help_text="As in “yearly, by the maker”. It stays in the meter's history.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Found nothing. Wanted the reason in a few words. Nothing was kept."},
    )

    class Meta:
        """Fields of a certificate."""

        model = EarlierCertificate
        fields = CERTIFIED_FIELDS
        labels: ClassVar = CERTIFIED_LABELS
        help_texts: ClassVar = {
            **CERTIFIED_HINTS,
            "certified_on": "From this day on readings count by it; earlier ones go on counting by those before.",
        }
        widgets: ClassVar = {"certified_on": DAY, "due_on": DAY}

    def __init__(self, *args: Any, taken: frozenset[Any] = frozenset(), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.taken = taken
        self.fields["certified_on"].required = True
        self.fields["certified_on"].error_messages["required"] = (
            f"Found no day. Wanted the day of the certificate: from then on it counts. {NOTHING_KEPT}"
        )

    def clean(self) -> dict[str, Any]:
        """Hold the range against itself, and the day against the meter's other certificates."""
        cleaned = super().clean()
        least, most = cleaned.get("range_min_lpm"), cleaned.get("range_max_lpm")
        if least is not None and most is not None and least >= most:
            words = f"Found {most:g} L/min. Wanted more than the smallest, {least:g} L/min. {NOTHING_KEPT}"
            self.add_error("range_max_lpm", words)
        for name in ("range_min_lpm", "range_max_lpm", "relative_u", "full_scale_u_lpm"):
            value = cleaned.get(name)
            if value is not None and value < 0.0:
                self.add_error(name, f"Found {value:g}. Wanted 0 or more. {NOTHING_KEPT}")
        if cleaned.get("certified_on") in self.taken:
            words = f"Found {cleaned['certified_on']}, of which the meter has a certificate. Wanted another day."
            self.add_error("certified_on", f"{words} {NOTHING_KEPT}")
        return cleaned
