"""The sampling plan as PDF: the plan people agree on, the sheets they work with, and labels on sheets of their own."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from lapel import __version__
from lapel.assessment.plan_people import Sought
from lapel.assessment.plan_products import PlannedSampler, Products
from lapel.assessment.plan_windows import PlannedWindow
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain
from lapel.documents import compose_plan
from lapel.documents.assessment_record import NOT_CERTIFIED
from lapel.documents.compose_plan import NOTHING, clock, ml
from lapel.documents.kit_sheet_code import KitPort, kit_sheet_code
from lapel.documents.render import Picture, rendered, write_whole
from lapel.figures import at_decimals, display_unit, significant
from lapel.pictures.power_curve import Chance, power_curve
from lapel.pictures.qr_code import qr_code
from lapel.pictures.window_region import ChosenRun, Window, window_region

LABELS_A_SHEET = 24
"""Three by eight labels of 63.5 x 33.9 mm on A4."""


def write_sampling_plan(plan: SurveyPlan, products: Products, path: Path) -> tuple[Path, ...]:
    """
    Write a plan and its labels.

    Parameters
    ----------
    plan : SurveyPlan
    products : Products
    path : Path
        Where the plan goes; the labels go beside it, with “-labels” after its name. Each is written whole or not at
        all.

    Returns
    -------
    tuple of Path
        What was written; no labels where nothing is planned.

    Raises
    ------
    DocumentNotWritten
        The place cannot be written to.
    """
    written = [path]
    write_whole(plan_document(plan, products), path)
    if products.samplers:
        labels = path.with_name(f"{path.stem}-labels{path.suffix}")
        write_whole(labels_document(plan, products), labels)
        written.append(labels)
    return tuple(written)


def plan_document(plan: SurveyPlan, products: Products) -> bytes:
    """The sampling plan as PDF."""
    return rendered("sampling_plan", plan_data(plan, products), title=plan.inputs.title, dated=plan.inputs.made_on)


def labels_document(plan: SurveyPlan, products: Products) -> bytes:
    """The labels as PDF, for sheets of 3 by 8."""
    title = f"Labels: {plan.inputs.title}"
    return rendered("labels", labels_data(products), title=title, dated=plan.inputs.made_on)


def day_sheets_document(plan: SurveyPlan, products: Products, days: Sequence[str]) -> bytes:
    """Day sheets, blanks and time tables of some days as PDF, by themselves."""
    data = {
        "site": plan.inputs.site.name,
        "headline": compose_plan.headline(plan, products),
        "days": [_day(day, plan, products) for day in days],
        "cautions": list(compose_plan.CAUTIONS),
    }
    return rendered("day_sheets", data, title=plan.inputs.title, dated=plan.inputs.made_on)


def plan_data(plan: SurveyPlan, products: Products) -> dict[str, Any]:
    """Everything the template arranges, as texts and pictures."""
    inputs = plan.inputs
    return {
        "site": inputs.site.name,
        "headline": compose_plan.headline(plan, products),
        "purpose": inputs.purpose,
        "strategy": inputs.strategy,
        "facts": _facts(plan),
        "cannot": [list(line) for line in compose_plan.infeasible_lines(plan) + compose_plan.missing_lines(plan)],
        "advice": list(plan.campaign.advice),
        "questions": [_question(each, plan) for each in plan.sought],
        "windows": [list(row) for row in compose_plan.window_rows(plan)],
        "window_reasons": _window_reasons(plan),
        "window_pictures": [region_picture(window, plan) for window in _each_once(plan)],
        "masses": [list(row) for row in compose_plan.mass_rows(plan)],
        "limits": _limit_rows(plan),
        "powers": [power_picture(each) for each in plan.sought if each.power],
        "kinds": [list(compose_plan.kind_row(kind, plan)) for kind in plan.kinds.values()],
        "days": [_day(day, plan, products) for day in plan.days],
        "ports": [row for train in plan.trains for row in _port_rows(train)],
        "weak": [list(line) for line in compose_plan.warning_lines(plan)],
        "equipment": _equipment(plan),
        "kit": [
            [k.medium, k.catalogue or NOTHING, k.lot or k.remark, str(k.samples), str(k.blanks), str(k.duplicates),
             str(k.spares), str(k.total), f"{k.packs} × {k.pack}"]
            for k in products.kit
        ],
        "blanks": [
            [b.day, b.medium, b.lot or NOTHING, str(b.samples), str(b.blanks), _blank_codes(b.day, b.medium, products),
             "opened and capped at the site" if b.opened else "capped at all times", b.rule]
            for b in products.blanks
        ],
        "costs": [list(row) for row in compose_plan.cost_rows(products)],
        "total": compose_plan.cost_words(products, inputs.rates.currency),
        "goals": [list(row) for row in compose_plan.goal_rows(plan)],
        "proof": compose_plan.proof(plan),
        "notes": [*plan.cautions, *products.remarks],
        "site_notes": [[key.capitalize(), words] for key, words in inputs.notes.items()],
        "cautions": list(compose_plan.CAUTIONS),
        "plan_limits": list(compose_plan.LIMITS_OF_THE_PLAN),
        "made": [
            ["Planned by", f"Lapel {__version__}"],
            ["Made from", f"files with the hash {inputs.input_sha256}"],
            ["Document", NOT_CERTIFIED],
        ],
    }  # fmt: skip


def _facts(plan: SurveyPlan) -> list[list[str]]:
    inputs = plan.inputs
    air = []
    if inputs.air_temperature_k is not None:
        air.append(f"up to {at_decimals(inputs.air_temperature_k - 273.15, 0)} °C")
    if inputs.air_humidity_percent is not None:
        air.append(f"up to {inputs.air_humidity_percent:g} % relative humidity")
    return [
        ["Answers for it", inputs.prepared_by],
        ["Plan of", inputs.made_on.isoformat()],
        ["Field days", ", ".join(plan.days) or "none"],
        ["Technicians", ", ".join(person.code for person in inputs.technicians)],
        ["Air expected", ", ".join(air) or "not stated: no margin taken"],
        ["Seed of the draw", inputs.seed or "no draw"],
    ]


def _question(each: Sought, plan: SurveyPlan) -> dict[str, str]:
    question = each.question
    agent = plan.inputs.agents[question.agent].name
    about = f"group {question.group}" if question.group else f"worker {question.worker}"
    return {
        "code": question.code,
        "what": f"{agent}, {question.purpose}" + (f": {question.task}" if question.task else "") + f"; {about}",
        "how_many": each.how_many,
        "whom": each.whom[:1].upper() + each.whom[1:] + ".",
        "workers": ", ".join(f"{w} ({n})" if n > 1 else w for w, n in each.days_wanted.items()),
        "reserves": ", ".join(each.draw.reserves) if each.draw and each.draw.reserves else "",
        "why": question.why,
    }


def _limit_rows(plan: SurveyPlan) -> list[list[str]]:
    """Every limit of the survey, with the day it was looked up."""
    rows = []
    for limit in plan.inputs.limits:
        rows.append(
            [
                plan.inputs.agents[limit.agent].name,
                limit.authority,
                limit.kind,
                f"{limit.value:g} {display_unit(limit.unit)}",
                limit.as_of.isoformat() if limit.as_of else "no date",
                "law here" if limit.binding else "guide",
                limit.source or "no source given",
            ]
        )
    return rows


def _each_once(plan: SurveyPlan) -> list[PlannedWindow]:
    """Windows, alike ones of two groups once."""
    seen, kept = set(), []
    for planned in plan.windows:
        w = planned.window
        key = (planned.method.code, planned.agent_key, w.flow_low_lpm, w.flow_high_lpm, w.volume_low_l,
               w.volume_high.litres, w.purpose.minutes)  # fmt: skip
        if key not in seen:
            seen.add(key)
            kept.append(planned)
    return kept


def _window_reasons(plan: SurveyPlan) -> list[str]:
    return list(
        dict.fromkeys(
            f"{planned.method.code} ({planned.question.purpose}): "
            + "; ".join(planned.window.volume_high.reasons)
            + "."
            for planned in plan.windows
        )
    )


def region_picture(planned: PlannedWindow, plan: SurveyPlan) -> Picture:
    """Draw flow against time for one window, with the runs it allows."""
    window = planned.window
    agent = plan.inputs.agents[planned.question.agent].name
    runs = [
        ChosenRun(run.minutes_each, run.flow_low_lpm * 1000, run.flow_high_lpm * 1000, compose_plan.run_words(run))
        for run in window.runs
    ]
    drawn = window_region(
        Window(
            window.flow_low_lpm * 1000,
            window.flow_high_lpm * 1000,
            window.volume_low_l,
            window.volume_high.litres,
            window.purpose.minutes,
        ),
        runs,
        name=f"{agent}, {planned.question.purpose}, {planned.method.code}",
    )
    return Picture(drawn.svg(), drawn.words)


def power_picture(each: Sought) -> Picture:
    """Draw the power of a question's test."""
    points = []
    for point in each.power:
        error = f" ± {at_decimals(200 * point.error, 1)} %" if point.error else ""
        words = f"{point.results} results: {at_decimals(100 * point.chance, 0)} %{error}"
        points.append(Chance(point.results, point.chance, point.error, words))
    q = each.question
    test = each.wanted.test if each.wanted else ""
    name = (
        f"{q.code}: {test}, if the geometric mean is {q.assumed_gm_share:g} of the limit and the GSD {q.assumed_gsd:g}"
    )
    drawn = power_curve(points, wanted=q.chance, chosen=each.results, name=name)
    return Picture(drawn.svg(), drawn.words)


def _day(day: str, plan: SurveyPlan, products: Products) -> dict[str, Any]:
    trains = plan.trains_on(day)
    people = dict.fromkeys(act.technician for act in products.acts if act.day == day)
    return {
        "day": day,
        "trains": [
            [t.code, t.worker, plan.inputs.group_of(t.worker), t.pump, t.splitter or NOTHING, t.technician,
             clock(t.hang_at_min), compose_plan.train_ports(t)]
            for t in trains
        ],
        "rows": [row for train in trains for row in _sheet_rows(train, products)],
        "blanks": [
            [s.place, s.code, s.medium, f"{s.catalogue or NOTHING} · {s.lot or 'no lot'}", "", "", ""]
            for s in products.samplers
            if s.use == "field blank" and s.day == day
        ],
        "kits": [_kit(train, products) for train in trains],
        "tables": [
            {
                "technician": person,
                "acts": [
                    list(compose_plan.act_row(act))
                    for act in products.acts
                    if (act.day, act.technician) == (day, person)
                ],
            }
            for person in people
        ],
    }  # fmt: skip


def _sheet_rows(train: PlannedTrain, products: Products) -> list[list[str]]:
    """One row a sampler, with room for what is read: the day sheet and the kit sheet at once."""
    rows = []
    for place, sampler in enumerate(products.of_train(train)):
        minutes = NOTHING if sampler.minutes is None else at_decimals(sampler.minutes, 0)
        port = sampler.port if sampler.turn == 1 else f"{sampler.port} ({sampler.turn})"
        first = place == 0
        rows.append(
            [
                train.code if first else "",
                train.worker if first else "",
                f"{train.pump}{f' · {train.splitter}' if train.splitter else ''}" if first else "",
                port,
                sampler.code,
                sampler.medium,
                f"{sampler.catalogue or NOTHING} · {sampler.lot or 'no lot'}",
                ml(sampler.flow_lpm or 0.0),
                minutes,
                "", "", "", "",
            ]
        )  # fmt: skip
    return rows


def _kit(train: PlannedTrain, products: Products) -> dict[str, Any]:
    """The kit sheet of one train, for whoever prepares or supplies its pump; it names no worker."""
    first = {s.port: s for s in products.of_train(train) if s.turn == 1}
    ports = [
        KitPort(port.letter, s.medium, s.catalogue, s.lot, significant(1000.0 * port.flow_lpm, 3))
        for port in train.ports
        if (s := first.get(port.letter)) is not None
    ]
    drawn = qr_code(kit_sheet_code(train.pump, ports))
    return {
        "train": train.code,
        "pump": train.pump,
        "splitter": train.splitter,
        "qr": Picture(drawn.svg(), drawn.words),
        "rows": [
            [one.port, one.medium, one.catalogue or NOTHING, one.lot or "no lot", f"{one.intended} mL/min", "", ""]
            for one in ports
        ],
    }


def _port_rows(train: PlannedTrain) -> list[list[str]]:
    """The port map of a train with a splitter: flow, suction, the tube's share of it."""
    if train.flows is None:
        return []
    rows = []
    for place, port in enumerate(train.ports):
        volume = f"{significant(port.volume_each_l, 3)} L"
        rows.append(
            [
                f"{train.day} {train.code}" if place == 0 else "",
                f"{train.pump} · {train.splitter}" if place == 0 else "",
                port.letter,
                port.kind.code,
                port.kind.option.medium,
                ml(port.flow_lpm),
                volume,
                ml(train.total_lpm) if place == 0 else "",
            ]
        )
    return rows


def _equipment(plan: SurveyPlan) -> list[list[str]]:
    rows = []
    for kind, codes in plan.equipment.pumps.items():
        used = sorted({train.pump for train in plan.trains} & set(codes))
        rows.append([f"pump, {kind}", str(len(codes)), ", ".join(used) or "none"])
    for kind, codes in plan.equipment.splitters.items():
        used = sorted({train.splitter for train in plan.trains} & set(codes))
        rows.append([kind, str(len(codes)), ", ".join(used) or "none"])
    return rows


def _blank_codes(day: str, medium: str, products: Products) -> str:
    return ", ".join(
        f"{s.code} ({s.place})"
        for s in products.samplers
        if s.use == "field blank" and (s.day, s.medium) == (day, medium)
    )


def labels_data(products: Products) -> dict[str, Any]:
    """The labels, sheet by sheet; what is on one tells nobody who wore it."""
    labels = [_label(sampler) for sampler in products.samplers]
    return {"sheets": [labels[at : at + LABELS_A_SHEET] for at in range(0, len(labels), LABELS_A_SHEET)]}


def _label(sampler: PlannedSampler) -> dict[str, Any]:
    """A field blank's label leaves day and place to be written, as those of duplicates and spares do."""
    drawn = qr_code(sampler.code)
    known = sampler.use == "sample"
    return {
        "code": sampler.code,
        "qr": Picture(drawn.svg(), drawn.words),
        "day": sampler.day if known else "",
        "place": sampler.place if known else "",
        "medium": sampler.medium,
        "lot": f"lot {sampler.lot}" if sampler.lot else "lot ____________",
    }
