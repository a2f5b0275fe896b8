"""What the fields of records are called in histories, and how what they hold is written: as their forms do."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeAlias

from django import forms
from django.db.models import Model

from lapel.documents.compose_plan import clock
from lapel.office.devices.forms import DeviceForm
from lapel.office.equipment.certified import CertificateForm
from lapel.office.equipment.forms import MeterForm, PumpForm, SplitterForm
from lapel.office.plan import row_forms as of_plan
from lapel.office.plan.terms import TermsForm as PlanTermsForm
from lapel.office.quantities import CelsiusField, PercentField, ScaledField, WordsField
from lapel.office.report import forms as of_report
from lapel.office.scope import forms as of_scope
from lapel.office.scope import row_forms as of_rows
from lapel.office.workers.views import GroupForm
from lapel.records import models
from lapel.reference import PACKAGED, rule_book

Written: TypeAlias = Callable[[Any], str] | None
"""How a kept value reads; None where it is written as everything is: see `lapel.office.audit.telling`."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a field is called, and how what it holds is written."""

    label: str
    written: Written = None


Fields: TypeAlias = dict[str, Asked]


@cache
def fields_of(model: type[Model]) -> Fields:
    """Return the fields of a kind of record by name, in the order of its form; what no form asks for comes last."""
    asked: Fields = {}
    for form, only in _FORMS.get(model, ()):
        asked |= {
            names[-1]: Asked(_label(field, names[0]), _writer(field))
            for names, field in _asked_by(form, only)
            if names[-1] not in asked
        }
    asked |= _OWN.get(model, {})
    return asked | {name: one for name, one in _EVERYWHERE.items() if name not in asked}


def _asked_by(form: type[forms.BaseForm], only: Iterable[str]) -> Iterable[tuple[list[str], forms.Field]]:
    """Give the fields of a form with their names; “effects=effect_groups” is another name on record."""
    wanted = list(only) or list(form.base_fields)  # type: ignore[attr-defined]  # every form class has them
    for name in wanted:
        names = name.split("=")
        yield names, form.base_fields[names[0]]  # type: ignore[attr-defined]  # as above


def _label(field: forms.Field, name: str) -> str:
    label = str(field.label or name.replace("_", " "))
    return label[:1].upper() + label[1:]


def _writer(field: forms.Field) -> Written:
    if isinstance(field, ScaledField):
        return lambda value: number(field.prepare_value(value))
    if isinstance(field, WordsField):
        return lambda value: "; ".join(value)
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.ModelChoiceField):
        return _chosen(dict(field.choices))  # type: ignore[arg-type]  # pairs, in no groups
    return None


def _chosen(words: Mapping[str, str]) -> Written:
    return lambda value: str(words.get(value, value))


def number(value: Any) -> str:
    """Write a number without the “.0” of programs; everything else as text."""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def _rule_books(value: Any) -> str:
    keys = [value] if isinstance(value, str) else value
    return "; ".join(rule_book(key).title if key in PACKAGED else str(key) for key in keys)


def finding_called(rule: str) -> str:
    """Return what the rule books call a finding; one none of them has keeps its code."""
    for key in PACKAGED:
        for one in rule_book(key).rules:
            if one.id == rule:
                return one.title
    return rule


def _offset(minutes: int) -> str:
    sign = "−" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _curve(points: Iterable[Iterable[float]]) -> str:
    return "; ".join(f"{number(shown)} shown is {number(true)}" for shown, true in points)


_FORMS: Mapping[type[Model], tuple[tuple[type[forms.BaseForm], tuple[str, ...]], ...]] = {
    models.Survey: ((of_scope.NewSurveyForm, ("title", "code", "purpose", "prepared_by", "assessed_on")),),
    models.Agent: ((of_scope.AgentForm, ("name", "cas", "molar_mass", "effects=effect_groups")),),
    models.Product: ((of_rows.ProductForm, ()),),
    models.ExposureGroup: ((of_rows.GroupForm, ()),),
    models.LimitChoice: ((of_rows.LimitForm, of_rows.LimitForm.Meta.fields),),
    models.Method: ((of_rows.MethodForm, of_rows.MethodForm.Meta.fields),),
    models.MediaLot: ((of_plan.LotForm, ()),),
    models.PlanTerms: ((PlanTermsForm, PlanTermsForm.Meta.fields),),
    models.PlanQuestion: ((of_plan.QuestionForm, of_plan.QuestionForm.Meta.fields),),
    models.OfferedShift: ((of_plan.DayForm, ("group",)),),
    models.PlanTechnician: ((of_plan.TechnicianForm, ()),),
    models.PlanWorker: ((of_plan.PlanWorkerForm, ()),),
    models.PlanMedium: ((of_plan.MediumForm, ()),),
    models.PlanLaboratory: ((of_plan.LaboratoryForm, ()),),
    models.AcceptedArea: ((of_plan.AreaForm, ()),),
    models.ReportTerms: ((of_report.TermsForm, ("contact", "completed_on", "calendar", "free=free_days")),),
    models.Recommendation: ((of_report.RecommendationForm, of_report.RecommendationForm.Meta.fields),),
    models.Telling: ((of_report.TellingForm, ("how", "on", "proof")),),
    models.ReviewComment: ((of_report.CommentForm, ("about", "words")), (of_report.AnswerForm, ("answer",))),
    models.Pump: ((PumpForm, PumpForm.Meta.fields),),
    models.Splitter: ((SplitterForm, SplitterForm.Meta.fields),),
    models.Meter: ((MeterForm, MeterForm.Meta.fields),),
    models.EarlierCertificate: ((CertificateForm, CertificateForm.Meta.fields),),
    models.Worker: ((GroupForm, ("group", "job", "since")),),
    models.EarlierPlace: ((GroupForm, ("group", "job", "since")),),
    models.Device: ((DeviceForm, ("name", "code")),),
}
"""The forms that ask for the fields of a record, and which of them; all of the form where none stands."""

_SHIFT = {
    "start": Asked("Begins"),
    "start_offset_min": Asked("Clock of the site less UTC when it begins", _offset),
    "end": Asked("Ends"),
    "end_offset_min": Asked("Clock of the site less UTC when it ends", _offset),
}
_KELVIN, _SHARE = _writer(CelsiusField()), _writer(PercentField())
_CORRECTOR = _chosen({"laboratory": "the laboratory", "nobody": "nobody yet"})

_OWN: Mapping[type[Model], Fields] = {
    models.Site: {
        "name": Asked("Name"),
        "code": Asked("Code"),
        "zone": Asked("Its clock"),
        "area_class": Asked("Explosive-area class, as the site states it"),
        "temperature_k": Asked("Usual temperature, °C", _KELVIN),
        "pressure_kpa": Asked("Usual pressure, kPa"),
    },
    models.Survey: {
        "rule_book": Asked("Rule book that decides what a sample is worth", _rule_books),
        "compared_rule_books": Asked("Rule books shown beside it", _rule_books),
        "notes": Asked("Note"),
    },
    models.PlanTerms: {
        "after_min": Asked("Hang so long after the shift began"),
        "droop_kpa_per_lpm": Asked("Fall of the suction with the total, kPa/(L/min)"),
        "notes": Asked("Note"),
    },
    models.LimitChoice: {"agent": Asked("Agent")},
    models.Method: {"agent": Asked("Agent")},
    models.Shift: {
        "worker": Asked("Worker"),
        **_SHIFT,
        "reference_min": Asked("Averaged over, min"),
        "unsampled": Asked(
            "Time without a sample counts",
            _chosen({"zero": "as no exposure", "mean": "like the sampled time", "highest": "up to the highest sample"}),
        ),
        "unsampled_reason": Asked("Why it counts so"),
        "hours_per_week": Asked("Hours a week"),
        "respirator": Asked("Respirator"),
    },
    models.OfferedShift: _SHIFT,
    models.SampleOrder: {
        "shift": Asked("Shift"),
        "purpose": Asked("Purpose"),
        "methods": Asked("Methods"),
        "averaging_min": Asked("Averaged over, min"),
        "task": Asked("Task"),
    },
    models.FindingOverride: {
        "sampler": Asked("Sample"),
        "rule": Asked("Finding", finding_called),
        "person": Asked("Lifted by"),
        "reason": Asked("Why it does not have its usual effect"),
    },
    models.PlannedTrain: {
        "day": Asked("Day"),
        "worker": Asked("Worker"),
        "pump": Asked("Pump"),
        "splitter": Asked("Splitter"),
        "technician": Asked("Technician"),
        "hang_at_min": Asked("Hung at", clock),
        "ports": Asked("Port"),
    },
    models.LaboratoryReport: {
        "laboratory": Asked("Laboratory"),
        "received_on": Asked("Report received on"),
        "samples_received_on": Asked("Samples received on"),
        "receipt_temperature_k": Asked("Temperature of the samples at receipt, °C", _KELVIN),
        "recovery_corrected_by": Asked("Who divided by the recovery", _CORRECTOR),
        "blank_corrected_by": Asked("Who took the blank off", _CORRECTOR),
        "file": Asked("File"),
        "sha256": Asked("SHA-256 of the file"),
        "original": Asked("File as it came"),
        "mapping": Asked("How its columns are read"),
    },
    models.LaboratoryResult: {
        "report": Asked("Report"),
        "sampler": Asked("Sample"),
        "agent": Asked("Agent"),
        "front_ug": Asked("Front section, µg"),
        "front_below": Asked("Front section is below that"),
        "back_ug": Asked("Back section, µg"),
        "back_below": Asked("Back section is below that"),
        "reporting_limit_ug": Asked("Reporting limit, µg"),
        "recovery": Asked("Recovery, %", _SHARE),
        "relative_u": Asked("Standard uncertainty, %", _SHARE),
        "volume_l": Asked("Volume the laboratory used, L"),
        "concentration_mg_m3": Asked("Concentration the laboratory printed, mg/m³"),
        "medium": Asked("Medium the laboratory saw"),
        "analysed_on": Asked("Day of analysis"),
        "remark": Asked("The laboratory's remark"),
    },
    models.DeliveredFile: {
        "name": Asked("File"),
        "original": Asked("File as it came"),
        "amends": Asked("Replaces report"),
        "uploaded_at": Asked("Brought in at"),
        "uploaded_by": Asked("Brought in by"),
        "answers": Asked("Answers"),
        "report": Asked("Taken over as report"),
        "version": Asked("Version of the report"),
        "changes": Asked("What differs from the version before", "; ".join),
        "set_aside": Asked("Why it is not used"),
    },
    models.LaboratoryLayout: {"laboratory": Asked("Laboratory"), "answers": Asked("Answers")},
    models.ReportTerms: {"use_earlier": Asked("Results of earlier surveys teach the spread")},
    models.ReportText: {
        "part": Asked("Part of the report", _chosen({part: words for part, (words, _) in of_report.PARTS.items()})),
        "text": Asked("Text"),
    },
    models.ReviewComment: {
        "person": Asked("Asked by"),
        "at": Asked("Asked at"),
        "answered_by": Asked("Answered by"),
        "answered_at": Asked("Answered at"),
    },
    models.Telling: {
        "worker": Asked("Who was told"),
        "person": Asked("Recorded by"),
        "input_sha256": Asked("SHA-256 of what was told"),
    },
    models.Membership: {"user": Asked("Person"), "role": Asked("Role", _chosen(dict(models.Membership.Role.choices)))},
    models.EarlierPlace: {"worker": Asked("Worker")},
    models.Meter: {"curve": Asked("Correction curve", _curve)},
    models.EarlierCertificate: {"meter": Asked("Meter"), "curve": Asked("Correction curve", _curve)},
    models.Device: {
        "paired_by": Asked("Paired by"),
        "key_hash": Asked("SHA-256 of its key"),
        "revoked_at": Asked("Key ended at"),
        "revoked_because": Asked("Why its key ended"),
    },
    models.Letterhead: {
        "firm": Asked("Whose logo"),
        "logo": Asked("Logo"),
        "logo_sha256": Asked("SHA-256 of the logo"),
        "words": Asked("Own text"),
    },
}
"""What no form asks for by itself, and what reads otherwise beside other fields than on its form."""

_EVERYWHERE: Fields = {
    "code": Asked("Code"),
    "survey": Asked("Survey"),
    "site": Asked("Site"),
    "origin": Asked("Read from"),
}
