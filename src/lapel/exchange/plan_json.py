"""A plan as open data: everything the terminal and the PDF say, unrounded, with the hash of what it was made from."""

from __future__ import annotations

import math
from typing import Any

from lapel import __version__
from lapel.assessment.plan_people import Sought
from lapel.assessment.plan_products import Products
from lapel.assessment.plan_windows import PlannedWindow
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain

FORMAT = "lapel-plan/1"
"""Name and version of this form; see docs/reference/plan-json.md."""


def plan_as_data(plan: SurveyPlan, products: Products) -> dict[str, Any]:
    """
    Return a plan as data for `json.dump`.

    Parameters
    ----------
    plan : SurveyPlan
    products : Products

    Returns
    -------
    dict
        Units stand in the names; a number that is not there is null.
    """
    inputs = plan.inputs
    return {
        "format": FORMAT,
        "made_with": f"Lapel {__version__}",
        "input_sha256": inputs.input_sha256,
        "title": inputs.title,
        "made_on": inputs.made_on.isoformat(),
        "seed": inputs.seed,
        "edited_by_hand": plan.by_hand,
        "windows": [_window(window) for window in plan.windows],
        "questions": [_sought(each) for each in plan.sought],
        "kinds": [
            {
                "code": kind.code,
                "medium": kind.option.medium,
                "agents": list(kind.agents),
                "methods": [method.code for method in kind.methods],
                "purpose": kind.purpose,
                "samplers_in_a_row": kind.option.samplers,
                "minutes": kind.option.minutes,
                "flow_low_lpm": kind.option.flow_low_lpm,
                "flow_high_lpm": kind.option.flow_high_lpm,
                "volume_low_l": kind.option.volume_low_l,
                "volume_high_l": _finite(kind.option.volume_high_l),
                "cost": kind.option.cost,
            }
            for kind in plan.kinds.values()
        ],
        "days": list(plan.days),
        "trains": [_train(train, products) for train in plan.trains],
        "goals": [
            {"name": g.name, "reached": g.reached, "bound": _finite(g.bound), "proven": g.is_proven, "gap": g.gap}
            for g in plan.campaign.goals
        ],
        "missing": [
            {"worker": m.worker, "agent": m.agent, "days_short": m.days_short, "why": m.why}
            for m in plan.campaign.missing
        ],
        "advice": list(plan.campaign.advice),
        "faults": [{"where": fault.where, "words": fault.words} for fault in plan.faults],
        "cautions": [*plan.cautions, *products.remarks],
        "samplers": [
            {
                "code": s.code, "use": s.use, "day": s.day, "place": s.place, "medium": s.medium, "lot": s.lot,
                "catalogue": s.catalogue, "flow_lpm": s.flow_lpm, "minutes": s.minutes,
            }
            for s in products.samplers
        ],
        "blanks": [
            {"medium": b.medium, "lot": b.lot, "day": b.day, "samples": b.samples, "blanks": b.blanks, "rule": b.rule}
            for b in products.blanks
        ],
        "kit": [
            {
                "medium": line.medium, "lot": line.lot, "catalogue": line.catalogue, "samples": line.samples,
                "blanks": line.blanks, "duplicates": line.duplicates, "spares": line.spares, "packs": line.packs,
            }
            for line in products.kit
        ],
        "time_table": [
            {
                "day": act.day, "technician": act.technician, "begins_min": act.begins_min, "minutes": act.minutes,
                "late_min": act.late_min, "what": act.what, "train": act.train, "about": act.about,
            }
            for act in products.acts
        ],
        "cost": {
            "currency": inputs.rates.currency,
            "total": products.total_cost,
            "lines": [
                {"what": c.what, "count": c.count, "rate": c.rate, "amount": c.amount} for c in products.costs
            ],
        },
    }  # fmt: skip


def _window(planned: PlannedWindow) -> dict[str, Any]:
    window = planned.window
    return {
        "question": planned.question.code,
        "agent": planned.question.agent,
        "method": planned.method.code,
        "purpose": planned.question.purpose,
        "limits": [
            {"words": limit.words, "mg_m3": limit.mg_m3, "source": limit.choice.source} for limit in planned.limits
        ],
        "feasible": window.is_feasible,
        "verdict": window.verdict,
        "reporting_limit_ug": window.method.loq_ug,
        "volume_low_l": window.volume_low_l,
        "volume_high_l": _finite(window.volume_high.litres),
        "volume_high_because": list(window.volume_high.reasons),
        "runs": [
            {
                "samplers": run.samplers,
                "minutes_each": run.minutes_each,
                "flow_low_lpm": run.flow_low_lpm,
                "flow_high_lpm": run.flow_high_lpm,
            }
            for run in window.runs
        ],
        "cautions": list(window.cautions),
        "relax": list(window.relax),
    }


def _sought(each: Sought) -> dict[str, Any]:
    return {
        "question": each.question.code,
        "results": each.results,
        "how_many": each.how_many,
        "whom": each.whom,
        "days_wanted": each.days_wanted,
        "drawn": None if each.draw is None else {
            "seed": each.draw.seed, "method": each.draw.method, "workers": list(each.draw.drawn),
            "reserves": list(each.draw.reserves),
        },
        "power": [{"results": p.results, "chance": p.chance, "error": p.error} for p in each.power],
    }  # fmt: skip


def _train(train: PlannedTrain, products: Products) -> dict[str, Any]:
    codes = {(s.port, s.turn): s.code for s in products.of_train(train)}
    return {
        "code": train.code,
        "day": train.day,
        "worker": train.worker,
        "pump": train.pump,
        "splitter": train.splitter,
        "technician": train.technician,
        "hang_at_min": train.hang_at_min,
        "total_lpm": train.total_lpm,
        "ports": [
            {
                "port": port.letter,
                "kind": port.kind.code,
                "flow_lpm": port.flow_lpm,
                "volume_each_l": port.volume_each_l,
                "samplers": [code for (letter, _), code in codes.items() if letter == port.letter],
            }
            for port in train.ports
        ],
        "warnings": [warning.words for warning in train.warnings],
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
