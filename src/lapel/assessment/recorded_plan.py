"""A survey's plan as it is on record, as the same plain data a survey folder gives, and the plan in force."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

from lapel.assessment import plan_inputs as plan
from lapel.assessment.plan_by_hand import HandTrain
from lapel.assessment.plan_windows import SamplerKind
from lapel.assessment.planned import Groundwork
from lapel.assessment.recorded_survey import (
    agents_of,
    as_on_the_wall,
    groups_of,
    limits_of,
    lots_of,
    methods_of,
    pumps_of,
    site_data,
    splitters_of,
    workers_of,
)
from lapel.records import models
from lapel.records.models import Survey

_TERMS: dict[str, Any] = {
    "splitter_terms": plan.SplitterTerms,
    "crew": plan.CrewTimes,
    "rates": plan.Rates,
}
"""Parts of the terms that are data of their own; the fields have the same names on record."""


def recorded_plan(survey: Survey) -> plan.PlanInputs:
    """
    Return what the plan of a recorded survey is made from; whoever got the record, with its site, checked access.

    Returns
    -------
    PlanInputs
        Retired equipment is left out. `origin` names the row a thing has when the survey is written as a folder;
        `input_sha256` covers everything but these.
    """
    site = survey.site
    terms = models.PlanTerms.objects.filter(survey=survey).first() or models.PlanTerms(survey=survey)
    retired = {
        kind: set(getattr(site, kind).filter(retired_on__isnull=False).values_list("code", flat=True))
        for kind in ("pumps", "splitters")
    }
    pumps = {code: pump for code, pump in pumps_of(site).items() if code not in retired["pumps"]}
    splitters = {code: one for code, one in splitters_of(site).items() if code not in retired["splitters"]}
    inputs = plan.PlanInputs(
        title=survey.title,
        purpose=survey.purpose,
        prepared_by=survey.prepared_by,
        made_on=survey.assessed_on,
        site=site_data(site),
        strategy=terms.strategy,
        seed=terms.seed,
        groups=groups_of(site),
        workers=workers_of(site),
        agents=agents_of(survey),
        limits=limits_of(survey),
        methods=_placed(methods_of(survey), "methods.csv"),
        media_lots=lots_of(survey),
        pumps=_placed(pumps, "equipment/pumps.csv"),
        splitters=splitters,
        questions=tuple(
            _question(row, number)
            for number, row in enumerate(survey.planquestions.select_related("group", "worker", "agent"), 2)
        ),
        shifts=tuple(
            plan.OfferedShift(
                as_on_the_wall(row.start, row.start_offset_min),
                as_on_the_wall(row.end, row.end_offset_min),
                row.group.code if row.group else "",
                f"plan/days.csv, row {number}",
            )
            for number, row in enumerate(survey.offered_shifts.select_related("group"), 2)
        ),
        technicians=tuple(
            plan.Technician(row.code, tuple(row.away_on), f"plan/technicians.csv, row {number}")
            for number, row in enumerate(survey.plantechnicians.all(), 2)
        ),
        worker_terms={
            row.worker.code: plan.WorkerTerms(
                row.worker.code, row.area_class, row.pumps_at_once, row.days_at_most, tuple(row.away_on),
                f"plan/workers.csv, row {number}",
            )
            for number, row in enumerate(survey.plan_workers.select_related("worker"), 2)
        },
        medium_terms={
            row.medium: plan.MediumTerms(
                row.medium, row.cost, row.pack, row.loss_kpa_per_lpm, f"plan/media.csv, row {number}"
            )
            for number, row in enumerate(survey.plan_media.all(), 2)
        },
        laboratory_terms={
            row.method.code: plan.LaboratoryTerms(
                row.method.code, row.laboratory, row.desorption, row.shared_analysis, row.cost,
                row.reporting_limit_ug, row.breakthrough_l, row.tested_humidity_percent, row.source,
                f"plan/laboratory.csv, row {number}",
            )
            for number, row in enumerate(survey.plan_laboratories.select_related("method"), 2)
        },
        accepted_areas=tuple(
            plan.AcceptedArea(row.area_class, row.area_certificate, row.accepted_by)
            for row in survey.accepted_areas.all()
        ),
        label_prefix=terms.label_prefix,
        air_temperature_k=terms.air_temperature_k,
        air_humidity_percent=terms.air_humidity_percent,
        duplicates_share=terms.duplicates_share,
        spares_share=terms.spares_share,
        notes=dict(survey.notes) | dict(terms.notes),
        plan_notes=dict(terms.notes),
        products=tuple(
            plan.Product(row.code, row.name, row.task, tuple(row.groups), tuple(row.agents), row.source)
            for row in survey.products.all()
        ),
        **{
            part: made(**{name: getattr(terms, name) for name in made.__dataclass_fields__})
            for part, made in _TERMS.items()
        },
    )  # fmt: skip
    return replace(inputs, input_sha256=_hash(inputs))


def _question(row: models.PlanQuestion, number: int) -> plan.Question:
    return plan.Question(
        code=row.code,
        agent=row.agent.code,
        purpose=row.purpose,  # type: ignore[arg-type]  # one of the words its form and its table allow
        group=row.group.code if row.group else "",
        worker=row.worker.code if row.worker else "",
        methods=tuple(row.methods),
        minutes=row.minutes,
        task=row.task,
        see_share=row.see_share,
        least_share=row.least_share,
        samplers_max=row.samplers_max,
        others_mg_m3=row.others_mg_m3,
        who=row.who,  # type: ignore[arg-type]  # as above
        named=tuple(row.named),
        results=row.results,
        test=row.test or None,  # type: ignore[arg-type]  # as above
        chance=row.chance,
        assumed_gm_share=row.assumed_gm_share,
        assumed_gsd=row.assumed_gsd,
        why=row.why,
        origin=f"plan/wanted.csv, row {number}",
    )


def _placed(items: Mapping[str, Any], file: str) -> dict[str, Any]:
    """Say in which row of a folder each would stand: what was made here was read from nowhere."""
    return {code: replace(item, origin=f"{file}, row {row}") for row, (code, item) in enumerate(items.items(), 2)}


def _hash(inputs: plan.PlanInputs) -> str:
    def without(value: Any) -> Any:
        if isinstance(value, Mapping):
            return {key: without(item) for key, item in value.items() if key not in ("origin", "input_sha256")}
        return [without(item) for item in value] if isinstance(value, (list, tuple)) else value

    text = json.dumps(without(asdict(inputs)), ensure_ascii=False, sort_keys=True, default=lambda v: v.isoformat())
    return hashlib.sha256(text.encode("utf-8", "backslashreplace")).hexdigest()


def content_of(kind: SamplerKind) -> dict[str, Any]:
    """What a kind of sampler is, whatever its short code: kept with a planned port."""
    option = kind.option
    return {
        "medium": option.medium,
        "agents": sorted(option.agents),
        "minutes": option.minutes,
        "samplers": option.samplers,
        "flow_low_lpm": option.flow_low_lpm,
        "flow_high_lpm": option.flow_high_lpm,
        "methods": [method.code for method in kind.methods],
        "purpose": kind.windows[0].question.purpose,
        "task": kind.windows[0].question.task,
    }


def code_of(content: Mapping[str, Any], worker: str, ground: Groundwork) -> str:
    """
    Today's short code of a kept kind of sampler; empty where no question, or more than one kind, answers to it.

    Same medium, agents, samplers in a row and minutes: its flow window may have moved, and then the checker says what
    that does to the flow that was planned. Of several such kinds the one this worker is asked for counts, then the one
    with the same flow window.
    """
    same = ("medium", "agents", "minutes", "samplers")
    alike = {
        code: now
        for code, now in ((code, content_of(kind)) for code, kind in ground.kinds.items())
        if all(now[name] == content.get(name) for name in same)
    }
    mine = next((w.options for w in ground.demand.workers if w.code == worker), ())
    for narrower in (
        [code for code in alike if code in mine],
        [code for code in alike if code in mine and alike[code] == dict(content)],
        [code for code in alike if alike[code] == dict(content)],
        list(alike),
    ):
        if len(narrower) == 1:
            return narrower[0]
    return ""


def trains_in_force(survey: Survey, ground: Groundwork) -> tuple[HandTrain, ...]:
    """Return the trains of the plan in force with today's codes of their kinds; `origin` is their number on record."""
    return tuple(hand_train(row, ground) for row in survey.planned_trains.select_related("worker"))


def hand_train(row: models.PlannedTrain, ground: Groundwork) -> HandTrain:
    """Return one kept train with today's codes; a kind that is asked for no more has none."""
    return HandTrain(
        day=row.day.isoformat(),
        worker=row.worker.code,
        pump=row.pump,
        splitter=row.splitter,
        technician=row.technician,
        hang_at_min=row.hang_at_min,
        ports=tuple(
            (port["letter"], code_of(port["kind"], row.worker.code, ground), port["flow_lpm"]) for port in row.ports
        ),
        origin=str(row.pk),
    )
