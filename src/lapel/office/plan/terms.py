"""The form of a plan's terms: what holds for all of it."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.office.quantities import CelsiusField, MlField, PercentField
from lapel.records.audit import LONGEST_REASON
from lapel.records.models import PlanTerms

PARTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Strategy and draw", ("strategy", "seed", "label_prefix")),
    ("Air expected", ("air_temperature_k", "air_humidity_percent")),
    (
        "Splitters",
        ("port_min_lpm", "port_max_lpm", "main_flow_lpm", "suction_kpa", "droop_kpa_per_lpm", "may_cap"),
    ),
    ("Spares and duplicates", ("duplicates_share", "spares_share")),
    (
        "Minutes and work of one technician",
        (
            *("hang_min", "before_min", "after_min", "set_min", "check_min", "check_every_min", "first_check_min"),
            *("change_min", "take_down_min", "post_min", "pack_min", "pumps_per_technician", "changes_per_technician"),
        ),
    ),
    ("Rates", ("currency", "technician_day", "pump_day")),
)


class TermsForm(forms.ModelForm):  # type: ignore[type-arg]  # its model is named below
    """Terms of a plan."""

    air_temperature_k = CelsiusField(label="Highest air temperature, °C", required=False)
    air_humidity_percent = forms.FloatField(
        label="Worst relative humidity, %", required=False, min_value=0, max_value=100
    )
    port_min_lpm = MlField(label="Lowest flow a port holds, mL/min", required=False)
    port_max_lpm = MlField(label="Highest flow a port holds, mL/min", required=False)
    main_flow_lpm = MlField(
        label="Flow the pump moves through a pressure controller, mL/min", required=False,
        help_text="With the suction below, or neither: without a controller the pump holds the total of its ports.",
    )  # fmt: skip
    duplicates_share = PercentField(label="Side-by-side duplicates, % of the samples")
    spares_share = PercentField(label="Spares, % of the samples", help_text="One a worker-day at least.")
    reason = forms.CharField(label="Why it is changed", required=False, max_length=LONGEST_REASON)

    class Meta:
        """Fields of the terms."""

        model = PlanTerms
        fields = tuple(name for _, names in PARTS for name in names)
        labels: ClassVar = {
            "strategy": "Strategy, in the words of whoever answers for it",
            "seed": "Seed of the random draw",
            "label_prefix": "What every sampler’s code begins with",
            "suction_kpa": "Suction the controller holds, kPa",
            "droop_kpa_per_lpm": "Its fall with the total, kPa/(L/min)",
            "may_cap": "An unused port may be capped",
            "hang_min": "To hang one pump",
            "before_min": "Hang so long before the shift begins",
            "after_min": "and so long after it began",
            "set_min": "To set a train and read its closing round",
            "check_min": "For one check",
            "check_every_min": "Between two checks",
            "first_check_min": "From start to the first check",
            "change_min": "For one sampler change",
            "take_down_min": "To stop and take off a train",
            "post_min": "To read one train afterwards",
            "pack_min": "To label, pack and hand over",
            "pumps_per_technician": "Pumps one can watch in a day",
            "changes_per_technician": "Sampler changes one can make in a day",
            "currency": "Currency of every rate",
            "technician_day": "One technician for a day",
            "pump_day": "One pump for a day",
        }
        help_texts: ClassVar = {
            "seed": "Chosen before anything is drawn. Another seed draws other people: say why.",
            "label_prefix": "Short, as in M26: codes become M26-0001 and on.",
        }
        widgets: ClassVar = {"strategy": forms.Textarea(attrs={"rows": 4}), "seed": forms.TextInput()}

    def parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Fields in their parts, in order."""
        return [(title, [self[name] for name in names]) for title, names in PARTS]

    def clean(self) -> dict[str, Any]:
        """Hold what belongs together against each other."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        low, high = cleaned.get("port_min_lpm"), cleaned.get("port_max_lpm")
        if low is not None and high is not None and low > high:
            self.add_error("port_max_lpm", "Found less than the lowest. Wanted the highest.")
        if (cleaned.get("main_flow_lpm") is None) != (cleaned.get("suction_kpa") is None):
            missing = "suction_kpa" if cleaned.get("suction_kpa") is None else "main_flow_lpm"
            self.add_error(missing, "Found nothing. Wanted the suction and the main flow together, or neither.")
        for name in ("hang_min", "check_every_min", "pumps_per_technician"):
            if cleaned.get(name) == 0:
                self.add_error(name, "Found 0. Wanted at least 1.")
        return cleaned
