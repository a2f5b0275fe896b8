"""
One train edited by hand: another day, worker, pump, splitter, technician or time, a sampler swapped, a flow set.

The independent checker looks at the whole plan at once and says what is wrong with it. Nothing is ever put right: what
a person keeps is kept, faults and all.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from lapel.assessment.plan_by_hand import HandTrain, as_it_stands
from lapel.assessment.planned import Groundwork, SurveyPlan
from lapel.documents.compose_plan import ml_window
from lapel.exchange.plan_now import PlanNow, kept, plan_now
from lapel.office.of_survey import survey_page
from lapel.office.plan.showing import what_if_cells
from lapel.office.quantities import MlField
from lapel.records.access import planned_train_for, survey_for
from lapel.records.audit import LONGEST_REASON, signed
from lapel.records.models import PlannedTrain, Survey

MOST_PORTS = 4


class PortFlowField(MlField):
    """A port's flow as people set it; one that was not touched stays as the plan has it, to the last bit."""

    def __init__(self, *, planned_lpm: float | None, **kwargs: Any) -> None:
        super().__init__(initial=planned_lpm, **kwargs)
        self.planned_lpm = planned_lpm

    def prepare_value(self, value: Any) -> Any:
        """Show a flow with four digits; what a person wrote, as it was written."""
        return float(f"{value * self.factor:.4g}") if isinstance(value, (int, float)) else value

    def kept(self, written: float) -> float:
        """The planned flow where what was sent is what was shown of it."""
        if self.planned_lpm is not None and written == self.prepare_value(self.planned_lpm):
            return self.planned_lpm
        return super().kept(written)


class TrainForm(forms.Form):
    """One train: who, when, with what, and what is on each port."""

    day = forms.ChoiceField(label="Day")
    worker = forms.ChoiceField(label="Worker")
    pump = forms.ChoiceField(label="Pump")
    splitter = forms.ChoiceField(label="Splitter", required=False)
    technician = forms.ChoiceField(label="Technician")
    hang_at = forms.TimeField(label="Hung at", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    eve = forms.BooleanField(label="The evening before", required=False)
    reason = forms.CharField(label="Why", required=False, max_length=LONGEST_REASON, help_text="Kept in the history.")

    def __init__(self, *args: Any, ground: Groundwork, train: HandTrain | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        inputs = ground.inputs
        self.ground = ground
        splitters = [("", "none: one sampler straight on the pump")]
        splitters += [(code, f"{code}, ports {' '.join(one.ports)}") for code, one in inputs.splitters.items()]
        people = [person.code for person in inputs.technicians]
        asked = [worker.code for worker in ground.demand.workers]
        others = [code for code in sorted(inputs.workers) if code not in asked]
        for name, codes in (
            ("day", [(day, day) for day in inputs.days]),
            ("worker", [(code, f"{code}, {inputs.group_of(code)}") for code in (*asked, *others)]),
            ("pump", [(code, code) for code in inputs.pumps]),
            ("splitter", splitters),
            ("technician", [(code, code) for code in people]),
        ):
            _offer(self.fields[name], codes, getattr(train, name) if train else "")
        letters = sorted({letter for one in inputs.splitters.values() for letter in one.ports} | {"A"})[:MOST_PORTS]
        self.letters = letters
        kinds = [("", "nothing"), *((code, _kind(ground, code)) for code in ground.kinds)]
        ports = {letter: (kind, flow) for letter, kind, flow in train.ports} if train else {}
        for letter in letters:
            kind, flow = ports.get(letter, ("", None))
            self.fields[f"kind-{letter}"] = forms.ChoiceField(
                label=f"Port {letter}", choices=kinds, required=False, initial=kind
            )
            self.fields[f"flow-{letter}"] = PortFlowField(label="mL/min", required=False, low=0.01, planned_lpm=flow)
            self.fields[f"flow-{letter}"].widget.attrs["inputmode"] = "decimal"

    def ports(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The fields of each port."""
        return [(self[f"kind-{letter}"], self[f"flow-{letter}"]) for letter in self.letters]

    def clean(self) -> dict[str, Any]:
        """A sampler needs a flow; whether it can be worked is for the checker to say."""
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        for letter in self.letters:
            if cleaned.get(f"kind-{letter}") and not cleaned.get(f"flow-{letter}"):
                self.add_error(f"flow-{letter}", f"Port {letter}: found no flow. Wanted one, or nothing on the port.")
        if not any(cleaned.get(f"kind-{letter}") for letter in self.letters) and not self.errors:
            self.add_error(None, "Found no sampler on any port. Wanted one at least, or take the train away.")
        return cleaned

    def train(self, number: str) -> HandTrain:
        """The train as it was written."""
        given = self.cleaned_data
        at: time = given["hang_at"]
        return HandTrain(
            day=given["day"],
            worker=given["worker"],
            pump=given["pump"],
            splitter=given["splitter"],
            technician=given["technician"],
            hang_at_min=at.hour * 60 + at.minute - 1440 * given["eve"],
            ports=tuple(
                (letter, given[f"kind-{letter}"], given[f"flow-{letter}"])
                for letter in self.letters
                if given[f"kind-{letter}"]
            ),
            origin=number,
        )


def _offer(field: forms.Field, choices: list[tuple[str, str]], now: str) -> None:
    """Offer what is there; a code that is kept and not there any more is offered as such, and the checker says so."""
    assert isinstance(field, forms.ChoiceField)
    if now and now not in dict(choices):
        choices = [*choices, (now, f"{now}: not there any more")]
    field.choices = choices


def _kind(ground: Groundwork, code: str) -> str:
    kind = ground.kinds[code]
    agents = ", ".join(ground.inputs.agents[agent].name for agent in kind.agents)
    window = ml_window(kind.option.flow_low_lpm, kind.option.flow_high_lpm)
    return f"{code}: {kind.option.medium}, {agents}, {kind.purpose}, {window}"


def _initial(train: HandTrain) -> dict[str, Any]:
    minutes = train.hang_at_min % 1440
    return {
        "day": train.day,
        "worker": train.worker,
        "pump": train.pump,
        "splitter": train.splitter,
        "technician": train.technician,
        "hang_at": time(minutes // 60, minutes % 60),
        "eve": train.hang_at_min < 0,
    }


@login_required
@require_http_methods(["GET", "POST"])
def train(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Change one train of the plan in force."""
    row = planned_train_for(request.user, survey, number, to="plan")
    now = plan_now(row.survey)
    kept_now = next((one for one in now.trains if one.origin == str(number)), None)
    if now.ground is None or kept_now is None:
        return redirect("survey-plan", survey=survey)
    return _edit(request, row.survey, now, now.ground, kept_now, row)


@login_required
@require_http_methods(["GET", "POST"])
def new_train(request: HttpRequest, survey: str) -> HttpResponse:
    """Add a train by hand."""
    record = survey_for(request.user, survey, to="plan")
    now = plan_now(record)
    if now.ground is None:
        return redirect("survey-plan", survey=survey)
    return _edit(request, record, now, now.ground, None, None)


def _edit(
    request: HttpRequest, record: Survey, now: PlanNow, ground: Groundwork, old: HandTrain | None,
    row: PlannedTrain | None,
) -> HttpResponse:  # fmt: skip
    number = old.origin if old else "new"
    initial = _initial(old) if old else {"day": request.GET.get("day", ""), "hang_at": None}
    form = TrainForm(request.POST or None, ground=ground, train=old, initial=initial)
    checked: SurveyPlan | None = None
    if request.method == "POST" and form.is_valid():
        edited = form.train(number)
        others = [one for one in now.trains if one.origin != number]
        checked = as_it_stands(ground, (*others, edited), source="edited by hand")
        if request.POST.get("do") == "keep":
            _keep(record, ground, edited, row, cast(User, request.user), form.cleaned_data["reason"])
            if checked.faults:
                words = (
                    f"Kept as you wrote it. The checker finds {len(checked.faults)}: see below. Nothing was put right."
                )
                messages.warning(request, words, extra_tags="care")
            else:
                messages.success(request, "Kept. The checker finds nothing against the plan.", extra_tags="good")
            return redirect(f"/surveys/{record.code}/plan/?day={edited.day}")
    context = {
        "form": form,
        "part": "plan",
        "train": old,
        "checked": checked,
        "faults": _told(checked, form, now),
        "missing": checked.campaign.missing if checked else (),
        "what_if": what_if_cells(now.plan, old.day, old.worker, old.pump) if old and now.plan else (),
    }
    if getattr(request, "htmx", False):
        return render(request, "plan/verdict.html", context)
    return survey_page(request, "plan/train.html", record, "plan", context, status=422 if form.errors else 200)


def _told(checked: SurveyPlan | None, form: TrainForm, now: PlanNow) -> list[dict[str, Any]]:
    """The checker's faults, those this edit brings first."""
    if checked is None:
        return []
    before = {(fault.where, fault.words) for fault in now.plan.faults} if now.plan else set()
    faults = [{"where": f.where, "words": f.words, "is_new": (f.where, f.words) not in before} for f in checked.faults]
    return sorted(faults, key=lambda fault: not fault["is_new"])


def _keep(
    record: Survey, ground: Groundwork, edited: HandTrain, row: PlannedTrain | None, user: User, reason: str
) -> None:
    worker = record.site.workers.get(code=edited.worker)
    if row is None:
        row = PlannedTrain(survey=record)
    values = kept([_known(edited, ground)], ground)[0]
    row.day, row.worker = date.fromisoformat(values["day"]), worker
    for name in ("pump", "splitter", "technician", "hang_at_min", "ports"):
        setattr(row, name, values[name])
    signed(row, user, reason or "edited by hand").save()


def _known(train: HandTrain, ground: Groundwork) -> HandTrain:
    return replace(train, ports=tuple(port for port in train.ports if port[1] in ground.kinds))


@login_required
@require_POST
def drop_train(request: HttpRequest, survey: str, number: int) -> HttpResponse:
    """Take a train out of the plan; the history keeps it."""
    row = planned_train_for(request.user, survey, number, to="plan")
    signed(row, request.user, request.POST.get("reason", "")[:LONGEST_REASON].strip() or "taken out by hand").delete()
    messages.success(request, f"{row.pump} on {row.worker} is out. What is wanted and not met stands above.")
    return redirect(f"/surveys/{survey}/plan/?day={row.day}")


@login_required
@require_POST
def wipe(request: HttpRequest, survey: str) -> HttpResponse:
    """Take a whole plan out of force, so that a search may put another one there."""
    record = survey_for(request.user, survey, to="plan")
    if request.POST.get("sure") != "yes":
        raise Http404("There is nothing here.")
    from lapel.records.plans import put_in_force

    put_in_force(record, [], user=cast(User, request.user), reason="taken out of force on the page")
    messages.success(request, "No plan is in force now; the history keeps the one before.")
    return redirect("survey-plan", survey=survey)
