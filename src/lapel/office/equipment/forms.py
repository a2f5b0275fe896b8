"""Forms of the register: what a certificate says, as it stands on paper, and why it is changed."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.office.equipment.certified import CERTIFIED_FIELDS, CERTIFIED_HINTS, CERTIFIED_LABELS, DAY, CertifiedPart
from lapel.office.equipment.certified import NOTHING_KEPT as NOTHING_KEPT
from lapel.records.audit import LONGEST_REASON
from lapel.records.models import EarlierCertificate, Meter, Pump, Site, Splitter
from lapel.records.models.equipment import Equipment


class EquipmentForm(forms.ModelForm):  # type: ignore[type-arg]  # its models are named below
    """What all equipment shares; the code is given once, because the log names equipment by it."""

    reason = forms.CharField(
        label="Why it is changed",
        max_length=LONGEST_REASON,
        help_text="As in “service moved” or “retired, creeps”.",
        widget=forms.Textarea(attrs={"rows": 2}),
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
_SHARED_WIDGETS = {"retired_on": DAY, "service_due_on": DAY, "remark": forms.Textarea(attrs={"rows": 3})}


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


class MeterForm(CertifiedPart, EquipmentForm):
    """A flow meter with its latest certificate."""

    class Meta:
        """Fields of a meter."""

        model = Meter
        fields = ("code", "kind", *CERTIFIED_FIELDS, "service_due_on", "retired_on", "remark")
        labels: ClassVar = {**_SHARED_LABELS, **CERTIFIED_LABELS, "code": "Code", "kind": "Measures with"}
        help_texts: ClassVar = {
            **CERTIFIED_HINTS,
            "code": "As on the meter. It cannot be changed later: the log names the meter by it.",
        }
        widgets: ClassVar = {**_SHARED_WIDGETS, "certified_on": DAY, "due_on": DAY}

    def clean(self) -> dict[str, Any]:
        """Keep the latest certificate the latest."""
        cleaned = super().clean()
        earlier = EarlierCertificate.objects.filter(meter=self.instance) if not self.is_new else ()
        before = max((one.certified_on for one in earlier if one.certified_on), default=None)
        if self.is_new or not earlier or "certified_on" in self.errors:
            return cleaned
        day = cleaned.get("certified_on")
        if day is None or (before is not None and day <= before):
            self.add_error(
                "certified_on",
                f"Found {day or 'no day'}. Wanted a day after {before or 'the first certificate'}, when the one before "
                f"was made. {NOTHING_KEPT}",
            )
        return cleaned


FORMS: dict[str, type[EquipmentForm]] = {"pump": PumpForm, "splitter": SplitterForm, "meter": MeterForm}
MODELS: dict[str, type[Equipment]] = {"pump": Pump, "splitter": Splitter, "meter": Meter}
