"""From the scope to a first plan: what is asked, what the laboratory said, equipment and technicians, on one page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.db import transaction

from lapel.office.plan_terms import new_terms
from lapel.office.quantities import MlField
from lapel.office.scope.forms import codes_in
from lapel.records.audit import signed
from lapel.records.models import (
    Agent,
    ExposureGroup,
    Method,
    PlanLaboratory,
    PlanQuestion,
    PlanTechnician,
    PlanTerms,
    Pump,
    Splitter,
    Survey,
)

REASON = "entered as the plan began"
FULL_SHIFT, SHORT_TERM = "full shift", "short term"
_OF_METHOD = ("desorption", "limit", "shared", "cost", "low", "high", "most")
_CODES = {"rows": 2, "spellcheck": "false"}


class StartForm(forms.Form):
    """Everything a first plan wants besides the scope; what is there already is left out."""

    ask = forms.MultipleChoiceField(
        label="What is to be learned", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Workers are drawn at random, as many as catch one of the most exposed tenth. Change that later.",
    )  # fmt: skip
    laboratory = forms.CharField(label="Laboratory", max_length=200, required=False)
    pump_codes = forms.CharField(
        label="Pumps by code", required=False, widget=forms.Textarea(attrs=_CODES),
        help_text="One a line, or a range: P-01 to P-12. All of these alike.",
    )  # fmt: skip
    pump_min = MlField(label="Lowest flow they hold, mL/min", required=False, low=0.1)
    pump_max = MlField(label="Highest flow they hold, mL/min", required=False, low=0.1)
    splitter_codes = forms.CharField(
        label="Splitters by code", required=False, widget=forms.Textarea(attrs=_CODES), help_text="Empty: none."
    )
    splitter_ports = forms.TypedChoiceField(
        label="Ports of each", coerce=int, required=False, choices=[(2, "two"), (3, "three"), (4, "four")]
    )
    port_min = MlField(label="Lowest flow a port holds, mL/min", required=False, low=0.1)
    port_max = MlField(label="Highest flow a port holds, mL/min", required=False, low=0.1)
    technicians = forms.CharField(
        label="Who hangs and watches the pumps, by code", required=False, help_text="As in TA; TB."
    )

    def __init__(self, *args: Any, survey: Survey, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.survey, site = survey, survey.site
        self.has_pumps = Pump.objects.filter(site=site, retired_on__isnull=True).exists()
        self.has_splitters = Splitter.objects.filter(site=site, retired_on__isnull=True).exists()
        self.terms = PlanTerms.objects.filter(survey=survey).first()
        self.asked = list(_possible(survey))
        self.not_asked = [
            agent.name
            for agent in survey.agents.prefetch_related("limits", "methods")
            if not (agent.limits.all() and agent.methods.all())
        ]
        ask = self.fields["ask"]
        assert isinstance(ask, forms.MultipleChoiceField)
        ask.choices = [(key, words) for key, words in self.asked]
        there = set(PlanLaboratory.objects.filter(survey=survey).values_list("method_id", flat=True))
        self.methods = [method for method in survey.methods.select_related("agent") if method.pk not in there]
        for method in self.methods:
            self.fields[f"desorption-{method.pk}"] = forms.CharField(
                label="Desorbed with", max_length=200, required=False, help_text="As in carbon disulfide, or heat."
            )
            self.fields[f"limit-{method.pk}"] = forms.FloatField(
                label="Reporting limit, µg", required=False, min_value=1e-6,
                initial=method.reporting_limit_ug, help_text="The laboratory’s, on one sampler.",
            )  # fmt: skip
            self.fields[f"shared-{method.pk}"] = forms.CharField(
                label="Shared analysis", max_length=200, required=False,
                help_text="The same word for methods it takes from one sampler.",
            )  # fmt: skip
            self.fields[f"cost-{method.pk}"] = forms.FloatField(label="Price", required=False, min_value=0.0)
            if not (method.flow_min_lpm and method.flow_max_lpm):
                self.fields[f"low-{method.pk}"] = MlField(label="Lowest flow, mL/min", required=False, low=0.1)
                self.fields[f"high-{method.pk}"] = MlField(label="Highest flow, mL/min", required=False, low=0.1)
                self.fields[f"most-{method.pk}"] = forms.FloatField(
                    label="Most volume, L", required=False, min_value=0.001, initial=method.volume_max_l
                )
        if self.terms is not None:
            self.initial.setdefault("port_min", self.terms.port_min_lpm)
            self.initial.setdefault("port_max", self.terms.port_max_lpm)
        for field in self.fields.values():
            if isinstance(field, forms.FloatField):
                field.widget.attrs["inputmode"] = "decimal"

    def method_rows(self) -> list[dict[str, Any]]:
        """The methods nobody has said anything of yet, with their fields."""
        return [
            {
                "method": method,
                "fields": [self[f"{n}-{method.pk}"] for n in _OF_METHOD if f"{n}-{method.pk}" in self.fields],
            }
            for method in self.methods
        ]

    def clean(self) -> dict[str, Any]:
        """Hold what belongs together against each other."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for name, model in (("pump_codes", Pump), ("splitter_codes", Splitter)):
            try:
                cleaned[name] = codes_in(cleaned.get(name, ""))
            except forms.ValidationError as problem:
                self.add_error(name, problem)
                continue
            rows = model._default_manager.filter(site=self.survey.site, code__in=cleaned[name])
            taken = list(rows.values_list("code", flat=True))
            if taken:
                self.add_error(name, f"Found {', '.join(taken[:5])}, in the register already. Wanted free codes.")
        try:
            cleaned["technicians"] = codes_in(re.sub(r"[;,\s]+", "\n", cleaned.get("technicians", "")))
        except forms.ValidationError as problem:
            self.add_error("technicians", problem)
        if cleaned.get("pump_codes"):
            _window(self, cleaned, "pump_min", "pump_max")
        if cleaned.get("splitter_codes") or self.has_splitters:
            _window(self, cleaned, "port_min", "port_max")
        for method in self.methods:
            desorption, limit = cleaned.get(f"desorption-{method.pk}"), cleaned.get(f"limit-{method.pk}")
            said = bool(desorption) or limit is not None
            if said and not desorption:
                self.add_error(f"desorption-{method.pk}", "Found nothing. Wanted how it is desorbed: ask for it.")
            if said and limit is None and not method.reporting_limit_ug:
                self.add_error(f"limit-{method.pk}", "Found nothing. Wanted the reporting limit: nothing is assumed.")
            if cleaned.get(f"low-{method.pk}") or cleaned.get(f"high-{method.pk}"):
                _window(self, cleaned, f"low-{method.pk}", f"high-{method.pk}")
            if said and not cleaned.get("laboratory"):
                self.add_error("laboratory", "Found nothing. Wanted the laboratory that said so.")
        return cleaned

    @transaction.atomic
    def keep(self, user: User) -> None:
        """Write all of it, with its history."""
        given, survey = self.cleaned_data, self.survey
        number = survey.planquestions.count()
        for key in given["ask"]:
            number += 1
            signed(_question(survey, key, number), user, REASON).save()
        for method in self.methods:
            if given.get(f"desorption-{method.pk}"):
                signed(self._laboratory(method), user, REASON).save()
            if given.get(f"low-{method.pk}"):
                method.flow_min_lpm, method.flow_max_lpm = given[f"low-{method.pk}"], given[f"high-{method.pk}"]
                method.volume_max_l = given[f"most-{method.pk}"]
                signed(method, user, REASON).save()
        for code in given["pump_codes"]:
            pump = Pump(site=survey.site, code=code, flow_min_lpm=given["pump_min"], flow_max_lpm=given["pump_max"])
            signed(pump, user, REASON).save()
        letters = " ".join("ABCDEF"[: given["splitter_ports"] or 2])
        for code in given["splitter_codes"]:
            signed(Splitter(site=survey.site, code=code, ports=letters), user, REASON).save()
        there = set(survey.plantechnicians.values_list("code", flat=True))
        for code in given["technicians"]:
            if code not in there:
                signed(PlanTechnician(survey=survey, code=code), user, REASON).save()
        terms = self.terms or new_terms(survey)
        ports = (given["port_min"], given["port_max"])
        if self.terms is None or ports != (terms.port_min_lpm, terms.port_max_lpm):
            terms.port_min_lpm, terms.port_max_lpm = given["port_min"], given["port_max"]
            signed(terms, user, REASON).save()

    def _laboratory(self, method: Method) -> PlanLaboratory:
        given = self.cleaned_data
        return PlanLaboratory(
            survey=self.survey,
            method=method,
            laboratory=given["laboratory"],
            desorption=given[f"desorption-{method.pk}"],
            reporting_limit_ug=given[f"limit-{method.pk}"],
            shared_analysis=given[f"shared-{method.pk}"],
            cost=given[f"cost-{method.pk}"] or 0.0,
        )


def _window(form: StartForm, cleaned: dict[str, Any], low: str, high: str) -> None:
    for name in (low, high):
        if cleaned.get(name) is None and name not in form.errors:
            form.add_error(name, "Found nothing. Wanted what they hold, as measured or as their papers say.")
    if cleaned.get(low) and cleaned.get(high) and cleaned[low] > cleaned[high]:
        form.add_error(high, "Found less than the lowest. Wanted the highest.")


def _possible(survey: Survey) -> Iterator[tuple[str, str]]:
    """What can be asked and is not yet: every agent with a limit and a method, of every group with workers."""
    asked = set(survey.planquestions.values_list("group_id", "agent_id", "purpose"))
    agents = list(survey.agents.prefetch_related("limits", "methods"))
    for group in survey.site.groups.prefetch_related("workers"):
        if not group.workers.all():
            continue
        for agent in agents:
            kinds = {limit.kind for limit in agent.limits.all()}
            for purpose, wanted in ((FULL_SHIFT, {"TWA"}), (SHORT_TERM, {"STEL", "ceiling"})):
                if agent.methods.all() and kinds & wanted and (group.pk, agent.pk, purpose) not in asked:
                    yield f"{group.pk}|{agent.pk}|{purpose}", f"{agent.name}, {purpose}, in {group.code} {group.name}"


def _question(survey: Survey, key: str, number: int) -> PlanQuestion:
    group, agent, purpose = key.split("|")
    codes = set(survey.planquestions.values_list("code", flat=True))
    while f"Q{number}" in codes:
        number += 1
    return PlanQuestion(
        survey=survey,
        code=f"Q{number}",
        group=ExposureGroup.objects.get(pk=group, site=survey.site),
        agent=Agent.objects.get(pk=agent, survey=survey),
        purpose=purpose,
        minutes=15.0 if purpose == SHORT_TERM else None,
        least_share=0.9 if purpose == FULL_SHIFT else 1.0,
        results=3 if purpose == SHORT_TERM else None,
        task="the task with the highest short exposure" if purpose == SHORT_TERM else "",
        why="Asked as the plan began.",
    )
