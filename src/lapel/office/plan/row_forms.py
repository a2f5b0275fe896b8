"""Forms of the rows a plan is made from, a row each; the words say what each cell means for the plan."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django import forms

from lapel.exchange.plan_folder.layout import PURPOSES, TESTS
from lapel.office.quantities import CodesField, DaysField, PercentField
from lapel.office.row_form import RowForm
from lapel.records import models
from lapel.records.models import Survey


class QuestionForm(RowForm):
    """One question: what is to be learned of whom."""

    more = ("methods", "see_share", "least_share", "samplers_max", "others_mg_m3", "chance", "assumed_gm_share",
            "assumed_gsd")  # fmt: skip
    purpose = forms.ChoiceField(choices=[(word, word) for word in PURPOSES])
    who = forms.ChoiceField(
        label="Workers of the group",
        choices=[("draw", "drawn at random"), ("everybody", "everybody"), ("named", "those named here")],
    )
    test = forms.ChoiceField(
        label="Or: the test that decides how many",
        required=False,
        choices=[
            ("", "none: the number above, or as many as the draw needs"),
            *zip(
                TESTS,
                (
                    "EN 689, preliminary: 3 to 5 results",
                    "EN 689, statistical test: 95th percentile, 70 % sure",
                    "upper tolerance limit: 95th percentile, 95 % sure",
                    "individual worker: at least 2 results a worker",
                    "Bayesian: 95th percentile below the limit, 95 % sure",
                ),
                strict=True,
            ),
        ],
    )
    named = CodesField(label="Named workers", about="worker", help_text="Codes, as in W-01; W-02.")
    methods = CodesField(label="Methods; all of the agent’s if empty", about="method")
    see_share = PercentField(
        label="Share of the limit to be seen, %", required=False, help_text="Empty: 10, or 50 short term."
    )
    least_share = PercentField(label="Share of the shift sampled at least, %", initial=1.0)
    chance = PercentField(label="Wanted chance that the test shows it, %", initial=0.8)

    class Meta:
        """Fields of a question."""

        model = models.PlanQuestion
        fields = (
            *("code", "group", "worker", "agent", "purpose", "minutes", "task", "who", "named", "results", "test"),
            *("why", "methods", "see_share", "least_share", "samplers_max", "others_mg_m3", "chance"),
            *("assumed_gm_share", "assumed_gsd"),
        )
        labels: ClassVar = {
            "code": "Code",
            "group": "About the group",
            "worker": "Or about one worker",
            "agent": "Agent",
            "minutes": "Minutes, short term or task",
            "task": "Task",
            "results": "Results wanted",
            "samplers_max": "Most samplers one after the other",
            "others_mg_m3": "Other vapours on the same bed, mg/m³",
            "assumed_gm_share": "Assumed geometric mean, as a share of the limit",
            "assumed_gsd": "Assumed geometric standard deviation",
            "why": "Why, and where an assumption comes from",
        }
        widgets: ClassVar = {"why": forms.Textarea(attrs={"rows": 2}), "task": forms.TextInput()}

    def prepare(self) -> None:
        """Offer this site's groups and workers, and this survey's agents."""
        site = self.survey.site
        for name, rows in (("group", site.groups.all()), ("worker", site.workers.all())):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset, field.empty_label = rows, "–"
        agent = self.fields["agent"]
        assert isinstance(agent, forms.ModelChoiceField)
        agent.queryset, agent.empty_label = self.survey.agents.all(), "Choose"

    def clean(self) -> dict[str, Any]:
        """Hold group and worker against each other, and names against the site."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if "group" in cleaned and bool(cleaned.get("group")) == bool(cleaned.get("worker")):
            self.add_error("group", "Wanted a group, or one worker: one of the two.")
        if cleaned.get("results") and cleaned.get("test"):
            self.add_error("test", "Found a number of results and a test. Wanted one of the two.")
        if cleaned.get("who") == "named" and cleaned.get("group") and not cleaned.get("named"):
            self.add_error("named", "Found nothing. Wanted the workers by code, or let them be drawn.")
        for name, low, high in (("minutes", 1, 1440), ("results", 1, 1000), ("samplers_max", 1, 24),
                                ("assumed_gsd", 1.0001, 20), ("assumed_gm_share", 1e-6, 100)):  # fmt: skip
            value = cleaned.get(name)
            if value is not None and not low <= value <= high:
                self.add_error(name, f"Found {value:g}. Wanted {low:g} to {high:g}.")
        return cleaned


class DayForm(RowForm):
    """One shift on offer, in the time of the site's clock."""

    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    begins = forms.TimeField(label="Shift begins", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(
        label="Shift ends", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text="An hour before the beginning is on the next day.",
    )  # fmt: skip

    class Meta:
        """Fields of a shift on offer."""

        model = models.OfferedShift
        fields = ("group",)
        labels: ClassVar = {"group": "Group; all if empty"}

    def prepare(self) -> None:
        """Show the kept instants as the clock shows them."""
        field = self.fields["group"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset, field.empty_label = self.survey.site.groups.all(), "all groups"
        self.order_fields(["day", "begins", "ends", "group"])
        if not self.instance._state.adding:
            zone = ZoneInfo(self.survey.site.zone)
            start, end = self.instance.start.astimezone(zone), self.instance.end.astimezone(zone)
            self.initial.update(day=start.date(), begins=start.time(), ends=end.time())

    def clean(self) -> dict[str, Any]:
        """Turn day and clock into instants; a shift past midnight ends on the next day."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if all(cleaned.get(name) is not None for name in ("day", "begins", "ends")):
            set_shift(self.instance, self.survey, cleaned["day"], cleaned["begins"], cleaned["ends"])
            minutes = (self.instance.end - self.instance.start).total_seconds() / 60
            if not 10 <= minutes <= 1440:
                self.add_error("ends", f"Found a shift of {minutes:g} min. Wanted 10 min to 24 h.")
        return cleaned


def set_shift(row: models.OfferedShift, survey: Survey, day: Any, begins: Any, ends: Any) -> None:
    """Set the instants of a shift on offer from the clock on the site's wall."""
    zone = ZoneInfo(survey.site.zone)
    start = datetime.combine(day, begins, tzinfo=zone)
    end = datetime.combine(day + timedelta(days=int(ends <= begins)), ends, tzinfo=zone)
    row.start, row.end = start, end
    row.start_offset_min, row.end_offset_min = (
        int((at.utcoffset() or timedelta()).total_seconds() // 60) for at in (start, end)
    )


class TechnicianForm(RowForm):
    """Who hangs and watches pumps."""

    away_on = DaysField(label="Away on")

    class Meta:
        """Fields of a technician."""

        model = models.PlanTechnician
        fields = ("code", "away_on")
        labels: ClassVar = {"code": "Code, not a name"}


class PlanWorkerForm(RowForm):
    """What the plan must know of one worker."""

    away_on = DaysField(label="Away on")

    class Meta:
        """Fields of a worker in the plan."""

        model = models.PlanWorker
        fields = ("worker", "away_on", "pumps_at_once", "days_at_most", "area_class")
        labels: ClassVar = {
            "worker": "Worker",
            "pumps_at_once": "Most pumps on a day",
            "days_at_most": "Most days asked",
            "area_class": "Explosive-area class; the site’s if empty",
        }

    def prepare(self) -> None:
        """Offer the site's workers."""
        field = self.fields["worker"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset, field.empty_label = self.survey.site.workers.all(), "Choose"


class MediumForm(RowForm):
    """Price, pack and resistance of a medium."""

    class Meta:
        """Fields of a medium in the plan."""

        model = models.PlanMedium
        fields = ("medium", "cost", "pack", "loss_kpa_per_lpm")
        labels: ClassVar = {
            "medium": "Medium, in the words of its method",
            "cost": "Price of one sampler",
            "pack": "Samplers in a pack",
            "loss_kpa_per_lpm": "Pressure loss at 1 L/min, kPa",
        }


class LotForm(RowForm):
    """A lot of samplers at hand."""

    class Meta:
        """Fields of a lot."""

        model = models.MediaLot
        fields = ("code", "medium", "expiry", "catalogue", "family")
        labels: ClassVar = {
            "code": "Lot",
            "medium": "Medium, in the words of its method",
            "expiry": "Use before",
            "catalogue": "Catalogue number",
            "family": "Family, as in charcoal or silica gel",
        }
        widgets: ClassVar = {"expiry": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


class LaboratoryForm(RowForm):
    """What the laboratory said about a method."""

    more = ("breakthrough_l", "tested_humidity_percent", "shared_analysis", "source")

    class Meta:
        """Fields of a laboratory's terms."""

        model = models.PlanLaboratory
        fields = (
            *("method", "laboratory", "desorption", "reporting_limit_ug", "cost", "shared_analysis", "breakthrough_l"),
            *("tested_humidity_percent", "source"),
        )
        labels: ClassVar = {
            "method": "Method",
            "laboratory": "Laboratory",
            "desorption": "How the sampler is desorbed",
            "reporting_limit_ug": "Reporting limit on one sampler, µg",
            "cost": "Price of one analysis",
            "shared_analysis": "Name of an analysis that takes several methods from one sampler",
            "breakthrough_l": "Volume at 5 % breakthrough, L",
            "tested_humidity_percent": "Measured at relative humidity, %",
            "source": "Offer, letter or call, with its day",
        }
        widgets: ClassVar = {"source": forms.Textarea(attrs={"rows": 2})}

    def prepare(self) -> None:
        """Offer the survey's methods."""
        field = self.fields["method"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset, field.empty_label = self.survey.methods.all(), "Choose"


class AreaForm(RowForm):
    """Which pump certificate a named person accepts for which area."""

    class Meta:
        """Fields of an accepted area."""

        model = models.AcceptedArea
        fields = ("area_class", "area_certificate", "accepted_by")
        labels: ClassVar = {
            "area_class": "Explosive-area class",
            "area_certificate": "Certificate, as it stands with the pump",
            "accepted_by": "Accepted by",
        }
