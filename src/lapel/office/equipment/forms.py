"""Forms of the register: what a certificate says, as it stands on paper, and why it is changed."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.records.audit import LONGEST_REASON
from lapel.records.models import Meter, Pump, Site, Splitter
from lapel.records.models.equipment import Equipment

NOTHING_KEPT = "Nothing was kept; correct it and save again."
_DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class EquipmentForm(forms.ModelForm):  # type: ignore[type-arg]  # its models are named below
    """What all equipment shares; the code is given once, because the log names equipment by it."""

    reason = forms.CharField(
        label="Why it is changed",
        max_length=LONGEST_REASON,
        help_text="As in “new certificate” or “retired, creeps”.",
        error_messages={"required": "Found nothing. Wanted the reason in a few words. Nothing was kept."},
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.is_new = self.instance._state.adding
        self.instance.site = site
        if not self.is_new:
            del self.fields["code"]
        else:
            self.fields["reason"].required = False
            self.fields["reason"].label = "Remark for its history"
        for name in ("retired_on", "service_due_on"):
            self.order_fields([*(field for field in self.fields if field not in (name, "reason")), name])
        self.order_fields([*(field for field in self.fields if field != "reason"), "reason"])

    def clean_code(self) -> str:
        """One code a kind and site."""
        code = str(self.cleaned_data["code"]).strip()
        if not code.isprintable():
            raise forms.ValidationError(f"Found signs that cannot be printed. {NOTHING_KEPT}")
        if type(self.instance)._default_manager.filter(site=self.site, code=code).exists():
            raise forms.ValidationError(
                f"Found “{code}”, which is in the register already. Wanted a code of its own. {NOTHING_KEPT}"
            )
        return code

    def clean(self) -> dict[str, Any]:
        """Hold the two ends of a range against each other."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for low, high in (("flow_min_lpm", "flow_max_lpm"), ("range_min_lpm", "range_max_lpm")):
            least, most = cleaned.get(low), cleaned.get(high)
            if least is not None and most is not None and least >= most:
                self.add_error(
                    high, f"Found {most:g} L/min. Wanted more than the smallest, {least:g} L/min. {NOTHING_KEPT}"
                )
        for name in ("flow_min_lpm", "flow_max_lpm", "range_min_lpm", "range_max_lpm", "total_max_lpm", "relative_u"):
            value = cleaned.get(name)
            if value is not None and value < 0.0:
                self.add_error(name, f"Found {value:g}. Wanted 0 or more. {NOTHING_KEPT}")
        return cleaned


_SHARED_LABELS = {"retired_on": "Retired on", "service_due_on": "Service due on", "remark": "Remark"}
_SHARED_WIDGETS = {"retired_on": _DAY, "service_due_on": _DAY, "remark": forms.Textarea(attrs={"rows": 3})}


class PumpForm(EquipmentForm):
    """A pump."""

    class Meta:
        """Fields of a pump."""

        model = Pump
        fields = ("code", "flow_min_lpm", "flow_max_lpm", "area_certificate", "service_due_on", "retired_on", "remark")
        labels: ClassVar = {
            **_SHARED_LABELS,
            "code": "Code",
            "flow_min_lpm": "Smallest flow, L/min",
            "flow_max_lpm": "Largest flow, L/min",
            "area_certificate": "Certificate for classified areas",
        }
        help_texts: ClassVar = {
            "code": "As on the pump. It cannot be changed later: the log names the pump by it.",
            "area_certificate": "As marked on the pump. Whether it may be used in an area is for the firm to say.",
        }
        widgets: ClassVar = _SHARED_WIDGETS


class SplitterForm(EquipmentForm):
    """A splitter."""

    class Meta:
        """Fields of a splitter."""

        model = Splitter
        fields = ("code", "ports", "total_max_lpm", "service_due_on", "retired_on", "remark")
        labels: ClassVar = {
            **_SHARED_LABELS,
            "code": "Code",
            "ports": "Ports",
            "total_max_lpm": "Largest total flow, L/min",
        }
        help_texts: ClassVar = {
            "code": "As on the splitter. It cannot be changed later: the log names it by it.",
            "ports": "Their letters, as in “A B C”.",
        }
        widgets: ClassVar = _SHARED_WIDGETS

    def clean_ports(self) -> str:
        """Letters, each once."""
        letters = str(self.cleaned_data["ports"]).upper().replace(",", " ").split()
        if not letters or any(len(one) != 1 or not "A" <= one <= "Z" for one in letters):
            raise forms.ValidationError(
                f"Found “{self.cleaned_data['ports']}”. Wanted letters parted by spaces, as in “A B C”. {NOTHING_KEPT}"
            )
        if len(set(letters)) < len(letters):
            raise forms.ValidationError(f"Found a letter twice. Wanted each port once. {NOTHING_KEPT}")
        return " ".join(letters)


class MeterForm(EquipmentForm):
    """A flow meter with its certificate."""

    curve_text = forms.CharField(
        label="Correction curve",
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="One point a line, indicated then true flow in L/min, as in “0.100 0.102”; empty if there is none.",
    )

    class Meta:
        """Fields of a meter."""

        model = Meter
        fields = (
            *("code", "kind", "certificate", "certified_on", "due_on", "range_min_lpm", "range_max_lpm", "relative_u"),
            *("full_scale_u_lpm", "reads", "calibrated_at_k", "calibrated_at_kpa", "exponent", "service_due_on"),
            *("retired_on", "remark"),
        )
        labels: ClassVar = {
            **_SHARED_LABELS,
            "code": "Code",
            "kind": "Measures with",
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
        help_texts: ClassVar = {
            "code": "As on the meter. It cannot be changed later: the log names it by it.",
            "relative_u": "For k = 1, as in 0.005 for half a percent. A certificate that states k = 2: half of it.",
            "full_scale_u_lpm": "For k = 1; 0 where the certificate states none.",
            "reads": "“actual”: the air of the place. “standard”: the condition named below.",
            "exponent": "From 0 to 0.5; empty where it is not known.",
        }
        widgets: ClassVar = {**_SHARED_WIDGETS, "certified_on": _DAY, "due_on": _DAY}

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
        cleaned = super().clean()
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


FORMS: dict[str, type[EquipmentForm]] = {"pump": PumpForm, "splitter": SplitterForm, "meter": MeterForm}
MODELS: dict[str, type[Equipment]] = {"pump": Pump, "splitter": Splitter, "meter": Meter}
