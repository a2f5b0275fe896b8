"""Writing a plan as the folder `plan` of a survey folder, cell by cell as its layout has them."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator

from lapel.assessment.plan_by_hand import HandTrain
from lapel.assessment.plan_inputs import LaboratoryTerms, PlanInputs, Question
from lapel.assessment.planned import SurveyPlan
from lapel.exchange.plan_folder import layout
from lapel.exchange.plan_folder.hand import write_hand_trains
from lapel.exchange.survey_folder.columns import Table
from lapel.exchange.survey_folder.writer_cells import celsius, instant, number, percent, scaled, words, yes_or_no
from lapel.exchange.survey_folder.writer_tables import Cells, table_text
from lapel.exchange.survey_folder.writer_toml import Value, document


def plan_texts(inputs: PlanInputs, trains: Iterable[HandTrain] = ()) -> dict[str, str]:
    """
    Write what a plan is made from.

    Parameters
    ----------
    inputs : PlanInputs
    trains : iterable of HandTrain
        The plan in force, if there is one.

    Returns
    -------
    dict of str to str
        By file name within the survey folder. A table that is not needed and has no rows is left out.
    """
    texts = {layout.PLAN.file: _document(inputs)}
    for table, made in _tables(inputs):
        rows = list(made)
        if rows or table.needed:
            texts[table.file] = table_text(table.columns, rows)
    trains = tuple(trains)
    if trains:
        stream = io.StringIO(newline="")
        write_hand_trains(trains, stream)
        texts[layout.TRAINS.file] = stream.getvalue()
    return texts


def in_force(plan: SurveyPlan, trains: Iterable[HandTrain]) -> tuple[HandTrain, ...]:
    """Trains of the plan in force that a folder can name: every kind of sampler still has a code."""
    return tuple(train for train in trains if all(kind in plan.kinds for _, kind, _ in train.ports))


def _document(inputs: PlanInputs) -> str:
    heads: dict[str, Value] = {"strategy": inputs.strategy or "Not written yet."}
    if inputs.seed:
        heads["seed"] = inputs.seed
    heads |= {
        "label_prefix": inputs.label_prefix,
        "duplicates_percent": percent(inputs.duplicates_share),
        "spares_percent": percent(inputs.spares_share),
    }
    air: dict[str, Value] = {}
    if inputs.air_temperature_k is not None:
        air |= {"temperature": celsius(inputs.air_temperature_k), "temperature_unit": "°C"}
    if inputs.air_humidity_percent is not None:
        air["humidity_percent"] = number(inputs.air_humidity_percent)
    terms, rates = inputs.splitter_terms, inputs.rates
    splitter: dict[str, Value] = {
        name: scaled(flow, 1000)
        for name, flow in (
            ("port_min", terms.port_min_lpm),
            ("port_max", terms.port_max_lpm),
            ("main_flow", terms.main_flow_lpm),
        )
        if flow is not None
    }
    if splitter:
        splitter["flow_unit"] = "mL/min"
    if terms.suction_kpa is not None:
        splitter["suction_kpa"] = number(terms.suction_kpa)
    splitter |= {"droop_kpa_per_lpm": number(terms.droop_kpa_per_lpm), "may_cap": yes_or_no(terms.may_cap)}
    crew: dict[str, Value] = {name: getattr(inputs.crew, name) for name in sorted(inputs.crew.__dataclass_fields__)}
    cost: dict[str, Value] = {"currency": rates.currency}
    for name in ("technician_day", "pump_day"):
        if getattr(rates, name) is not None:
            cost[name] = number(getattr(rates, name))
    notes: dict[str, Value] = dict(inputs.plan_notes)
    return document(heads, {"air": air, "splitter": splitter, "crew": crew, "cost": cost, "notes": notes})


def _tables(inputs: PlanInputs) -> Iterator[tuple[Table, Iterable[Cells]]]:
    yield layout.WANTED, map(_wanted, inputs.questions)
    yield (
        layout.DAYS,
        ({"start": instant(s.start), "end": instant(s.end), "group": s.group} for s in inputs.shifts),
    )
    yield (
        layout.TECHNICIANS,
        ({"code": person.code, "away_on": words(person.away_on)} for person in inputs.technicians),
    )
    yield (
        layout.PLAN_WORKERS,
        (
            {
                "worker": terms.worker,
                "area_class": terms.area_class,
                "pumps_at_once": str(terms.pumps_at_once),
                "days_at_most": "" if terms.days_at_most is None else str(terms.days_at_most),
                "away_on": words(terms.away_on),
            }
            for terms in inputs.worker_terms.values()
        ),
    )
    yield (
        layout.PLAN_MEDIA,
        (
            {
                "medium": terms.medium,
                "cost": number(terms.cost),
                "pack": str(terms.pack),
                "loss_kpa_per_lpm": number(terms.loss_kpa_per_lpm),
            }
            for terms in inputs.medium_terms.values()
        ),
    )
    yield layout.PLAN_LABORATORY, map(_laboratory, inputs.laboratory_terms.values())
    yield (
        layout.AREAS,
        (
            {"area_class": a.area_class, "area_certificate": a.area_certificate, "accepted_by": a.accepted_by}
            for a in inputs.accepted_areas
        ),
    )
    yield (
        layout.PRODUCTS,
        (
            {
                "code": product.code,
                "name": product.name,
                "task": product.task,
                "groups": words(product.groups),
                "agents": words(product.agents),
                "source": product.source,
            }
            for product in inputs.products
        ),
    )


def _wanted(question: Question) -> Cells:
    return {
        "code": question.code,
        "group": question.group,
        "worker": question.worker,
        "agent": question.agent,
        "methods": words(question.methods),
        "purpose": question.purpose,
        "minutes": number(question.minutes),
        "task": question.task,
        "see_share_percent": percent(question.see_share),
        "least_share_percent": percent(question.least_share),
        "samplers_max": "" if question.samplers_max is None else str(question.samplers_max),
        "others": number(question.others_mg_m3),
        "who": question.who,
        "named": words(question.named),
        "results": "" if question.results is None else str(question.results),
        "test": question.test or "",
        "chance_percent": percent(question.chance),
        "assumed_gm_share": number(question.assumed_gm_share),
        "assumed_gsd": number(question.assumed_gsd),
        "why": question.why,
    }


def _laboratory(terms: LaboratoryTerms) -> Cells:
    cells = {
        "method": terms.method,
        "laboratory": terms.laboratory,
        "desorption": terms.desorption,
        "shared_analysis": terms.shared_analysis,
        "cost": number(terms.cost),
        "tested_humidity_percent": number(terms.tested_humidity_percent),
        "source": terms.source,
    }
    if terms.reporting_limit_ug is not None:
        cells |= {"reporting_limit": number(terms.reporting_limit_ug), "reporting_limit_unit": "ug"}
    if terms.breakthrough_l is not None:
        cells |= {"breakthrough": number(terms.breakthrough_l), "breakthrough_unit": "L"}
    return cells
