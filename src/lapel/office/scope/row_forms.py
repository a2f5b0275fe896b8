"""Forms of the rows a scope is made of: products, groups, limits, methods."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from lapel.office.quantities import CodesField, MlField, PercentField
from lapel.office.row_form import RowForm
from lapel.records import models


class ProductForm(RowForm):
    """A product or task, and what comes of it."""

    groups = CodesField(label="Groups that meet it", about="group", help_text="Codes, as in LAC; PRI.")
    agents = CodesField(label="Agents that come of it", about="agent", help_text="Codes, as in toluene; xylene.")

    class Meta:
        """Fields of a product."""

        model = models.Product
        fields = ("code", "name", "task", "groups", "agents", "source")
        labels: ClassVar = {
            "code": "Code",
            "name": "Product or task",
            "task": "Where and how it is used; what forms on heating or mixing",
            "source": "Safety data sheet with its date, or who said so",
        }
        widgets: ClassVar = {
            "task": forms.Textarea(attrs={"rows": 2}),
            "source": forms.TextInput(),
        }


class GroupForm(RowForm):
    """A similar exposure group of the site."""

    class Meta:
        """Fields of a group."""

        model = models.ExposureGroup
        fields = ("code", "name", "tasks")
        labels: ClassVar = {"code": "Code", "name": "Group", "tasks": "What its people do"}
        widgets: ClassVar = {"tasks": forms.Textarea(attrs={"rows": 2})}

    def owned(self) -> None:
        """A group is the site's."""
        self.instance.site = self.survey.site


class LimitForm(RowForm):
    """A limit an agent is judged by."""

    more = ("averaging_min", "extended_shift_model", "note")
    kind = forms.ChoiceField(choices=[(word, word) for word in ("TWA", "STEL", "ceiling", "action level")])
    unit = forms.ChoiceField(choices=[("ppm", "ppm"), ("mg/m3", "mg/m³")])

    class Meta:
        """Fields of a limit."""

        model = models.LimitChoice
        fields = (
            *("authority", "kind", "value", "unit", "binding", "source", "as_of", "averaging_min"),
            *("extended_shift_model", "note"),
        )
        labels: ClassVar = {
            "authority": "Authority",
            "kind": "Kind",
            "value": "Limit",
            "unit": "Unit",
            "binding": "It is law where this survey is",
            "source": "Source",
            "as_of": "Looked up as of",
            "averaging_min": "Averaged over, min",
            "extended_shift_model": "Model for extended shifts",
            "note": "Note",
        }
        widgets: ClassVar = {
            "as_of": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "source": forms.TextInput(),
            "note": forms.Textarea(attrs={"rows": 2}),
        }

    def clean(self) -> dict[str, Any]:
        """A limit that is an average says over what time."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("kind") in ("TWA", "STEL") and not cleaned.get("averaging_min"):
            self.add_error("averaging_min", "Found nothing. Wanted the averaging time, as in 480 or 15.")
        return cleaned


class MethodForm(RowForm):
    """A method for one agent, with the window its page or the laboratory states."""

    more = ("volume_min_l", "analysis_cv", "sampling_cv", "holding_days", "receipt_max_c", "blanks_min",
            "blanks_share", "duplicates_min", "duplicates_share", "two_sections", "source")  # fmt: skip
    flow_min_lpm = MlField(label="Lowest flow, mL/min", required=False)
    flow_max_lpm = MlField(label="Highest flow, mL/min", required=False)
    analysis_cv = PercentField(label="Analytical CV, %", required=False)
    sampling_cv = PercentField(label="Sampling CV, %", required=False)
    blanks_share = PercentField(label="Blanks, % of the samples", required=False)
    duplicates_share = PercentField(
        label="Side-by-side duplicates, % of its samples", required=False, help_text="Empty: as the plan’s terms say."
    )

    class Meta:
        """Fields of a method."""

        model = models.Method
        fields = (
            *("code", "medium", "flow_min_lpm", "flow_max_lpm", "volume_max_l", "reporting_limit_ug", "volume_min_l"),
            *("analysis_cv", "sampling_cv", "holding_days", "receipt_max_c", "blanks_min", "blanks_share"),
            *("duplicates_min", "duplicates_share", "two_sections", "source"),
        )
        labels: ClassVar = {
            "code": "Code",
            "medium": "Medium",
            "volume_min_l": "Least volume, L",
            "volume_max_l": "Most volume, L",
            "reporting_limit_ug": "Reporting limit, µg",
            "holding_days": "Holding time, days",
            "receipt_max_c": "Warmest at receipt, °C",
            "blanks_min": "Field blanks at least",
            "duplicates_min": "Side-by-side duplicates at least",
            "two_sections": "Front and back section",
            "source": "Source",
        }
        widgets: ClassVar = {"source": forms.TextInput()}
