"""What the pages of a plan show, as cells: rounded where the terminal and the paper round."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.urls import reverse

from lapel.assessment.plan_products import Products
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain, what_if
from lapel.documents import compose_plan
from lapel.documents.compose_plan import NOTHING, clock, ml
from lapel.documents.sampling_plan import power_picture, region_picture
from lapel.exchange.plan_now import PlanNow
from lapel.exchange.problems import InputProblem
from lapel.figures import at_decimals, percent, significant
from lapel.office.charts import chart
from lapel.records.models import Survey

PLACES: Mapping[str, tuple[str, str]] = {
    "plan/wanted.csv": ("What is asked", "wanted"),
    "plan/days.csv": ("Shifts on offer", "days"),
    "plan/technicians.csv": ("Technicians", "technicians"),
    "plan/workers.csv": ("Single workers", "workers"),
    "plan/media.csv": ("Media", "media"),
    "plan/laboratory.csv": ("Laboratory", "laboratory"),
    "plan/areas.csv": ("Accepted certificates", "areas"),
}
"""What a page calls a table of the plan's folder, and the key of the page that changes it."""


def problem_cells(problems: Iterable[InputProblem], survey: Survey) -> list[dict[str, str]]:
    """What keeps a plan from being made, each with the page that mends it."""
    return [_problem(problem, survey) for problem in problems]


def _problem(problem: InputProblem, survey: Survey) -> dict[str, str]:
    place = problem.where
    title, key = PLACES.get(place.file, ("", ""))
    if key:
        address = reverse("plan-table", args=[survey.code, key])
    elif place.file == "equipment/pumps.csv":
        title, address = "Equipment", reverse("equipment", args=[survey.site.code])
    elif place.file == "plan/plan.toml":
        title, address = "Terms", reverse("plan-terms", args=[survey.code])
    else:
        title, address = "Scope", reverse("survey-scope", args=[survey.code])
    which = f", entry {place.row - 1}" if place.row and place.row > 1 and key else ""
    return {
        "title": f"{title}{which}",
        "address": address,
        "words": f"Found {problem.found}; wanted {problem.wanted}.",
        "remedy": _without_files(problem.remedy),
    }


def _without_files(words: str) -> str:
    for file, name in (
        ("plan/plan.toml", "the terms of the plan"), ("plan/days.csv", "the shifts on offer"),
        ("limits.csv with its source and date; `lapel scope` lists the packaged ones", "the agent, with its source"),
        ("workers.csv", "the group’s workers"), ("media.csv", "the lots"), ("methods.csv", "the methods"),
        ("equipment/pumps.csv", "the register of pumps"),
        ("Add splitter.port_min, splitter.port_max and splitter.flow_unit.", "Enter both under Terms."),
    ):  # fmt: skip
        words = words.replace(file, name)
    return words


def search_cells(now: PlanNow) -> list[dict[str, Any]]:
    """Each goal: what was reached, and whether it is proven the best or how far the best may be."""
    if now.plan is None:
        return []
    return [
        {"name": name, "reached": reached, "sure": sure, "is_proven": sure.startswith("proven")}
        for name, reached, sure in compose_plan.goal_rows(now.plan)
    ]


def day_cells(now: PlanNow, day: str, technician: str = "") -> dict[str, Any]:
    """One day: its trains in the order they are hung, and the acts of each technician."""
    plan, products = now.plan, now.products
    if plan is None or products is None:
        return {}
    numbers = {(t.day, t.worker, t.pump): t.origin for t in now.trains}
    trains = [train for train in plan.trains_on(day) if technician in ("", train.technician)]
    people = sorted({train.technician for train in plan.trains_on(day)})
    return {
        "trains": [train_cells(train, products, numbers) for train in trains],
        "people": people,
        "acts": [
            {"person": person, "rows": [_act(a) for a in products.acts if (a.day, a.technician) == (day, person)]}
            for person in people
            if technician in ("", person)
        ],
        "blanks": [s for s in products.samplers if s.use == "field blank" and s.day == day],
    }  # fmt: skip


def _act(act: Any) -> dict[str, str]:
    begins, minutes, what, train, worker, about = compose_plan.act_row(act)
    return {"begins": begins, "minutes": minutes, "what": what, "train": train, "worker": worker, "about": about}


def train_cells(train: PlannedTrain, products: Products, numbers: Mapping[tuple[str, str, str], str]) -> dict[str, Any]:
    """One train: who wears what, what is on each port, what is weak about its splitter."""
    samplers = products.of_train(train)
    return {
        "code": train.code,
        "number": numbers.get((train.day, train.worker, train.pump), ""),
        "worker": train.worker,
        "pump": train.pump,
        "splitter": train.splitter,
        "technician": train.technician,
        "hang_at": clock(train.hang_at_min),
        "total": ml(train.total_lpm),
        "ports": [
            {
                "letter": port.letter,
                "kind": port.kind.code,
                "medium": port.kind.option.medium,
                "agents": ", ".join(window.agent_key for window in port.kind.windows),
                "flow": ml(port.flow_lpm),
                "period": _period(port.kind.option.samplers, port.kind.minutes_each),
                "volume": f"{significant(port.volume_each_l, 3)} L",
                "samplers": [s.code for s in samplers if s.port == port.letter],
            }
            for port in train.ports
        ],
        "warnings": [warning.words for warning in train.warnings],
    }


def _period(samplers: int, minutes: float) -> str:
    return f"{'' if samplers == 1 else f'{samplers} × '}{at_decimals(minutes, 0)} min"


def windows_cells(plan: SurveyPlan) -> list[dict[str, Any]]:
    """The window of every question by every method: numbers, picture, mass to expect, and what to relax."""
    cells = []
    for place, planned in enumerate(plan.windows):
        window = planned.window
        code, what, method, limit, volume, how = compose_plan.window_rows(plan)[place]
        masses = window.expected_masses(window.runs[0]) if window.runs else ()
        cells.append(
            {
                "code": code,
                "what": what,
                "method": method,
                "limit": limit,
                "limits": [limit.words for limit in planned.limits],
                "volume": volume,
                "how": how,
                "is_feasible": window.is_feasible,
                "verdict": window.verdict,
                "relax": window.relax,
                "cautions": window.cautions,
                "reasons": window.volume_high.reasons,
                "masses": [f"{significant(mass.low_ug)} µg" for mass in masses],
                "reporting_limit": f"{window.method.loq_ug:g} µg",
                "runs": [compose_plan.run_words(run) for run in window.runs],
                "picture": chart(region_picture(planned, plan), f"window-{place}"),
            }
        )
    return cells


def whom_cells(plan: SurveyPlan) -> list[dict[str, Any]]:
    """Who is sampled for each question and how many results are wanted, with the power of its test."""
    return [
        {
            "code": each.question.code,
            "about": each.question.group or each.question.worker,
            "agent": plan.inputs.agents[each.question.agent].name,
            "purpose": each.question.purpose + (f": {each.question.task}" if each.question.task else ""),
            "how_many": each.how_many[:1].upper() + each.how_many[1:],
            "whom": each.whom[:1].upper() + each.whom[1:] + ".",
            "workers": [f"{w} ({n})" if n > 1 else w for w, n in each.days_wanted.items()],
            "reserves": each.draw.reserves if each.draw else (),
            "size": each.draw_size,
            "why": each.question.why,
            "falls_short": each.falls_short,
            "picture": chart(power_picture(each), f"power-{place}") if each.power else "",
        }
        for place, each in enumerate(plan.sought)
    ]


def kit_cells(now: PlanNow) -> dict[str, Any]:
    """What to take and order, blanks, and what it costs."""
    if now.plan is None or now.products is None:
        return {}
    products = now.products
    return {
        "kit": products.kit,
        "blanks": products.blanks,
        "costs": [dict(zip(("what", "count", "rate", "amount"), row, strict=True))
                  for row in compose_plan.cost_rows(products)],
        "total": compose_plan.cost_words(products, now.inputs.rates.currency),
        "remarks": [*now.plan.cautions, *products.remarks],
        "weak": [{"trains": trains, "words": words} for trains, words in compose_plan.warning_lines(now.plan)],
    }  # fmt: skip


def cannot_cells(plan: SurveyPlan) -> list[dict[str, str]]:
    """What cannot be done, and what to relax."""
    lines = compose_plan.infeasible_lines(plan) + compose_plan.missing_lines(plan)
    return [{"what": what, "why": why} for what, why in lines]


def missing_cells(missing: Iterable[tuple[str, str, int, str]]) -> list[dict[str, str]]:
    """Wants a search did not meet, as it kept them; one reason told once."""
    return [{"what": what, "why": why} for what, why in compose_plan.by_reason(missing)]


def gap_words(name: str, bound: float | None, reached: float) -> str:
    """How sure a kept goal is."""
    if bound is not None and reached <= bound + 1e-9:
        return "proven best"
    best = NOTHING if bound is None else compose_plan.goal_value(name, bound)
    share = percent((reached - (bound or 0.0)) / abs(reached)) if reached else ""
    return f"best possible {best} or more; gap {share}"


def what_if_cells(plan: SurveyPlan, day: str, worker: str, pump: str) -> list[dict[str, Any]]:
    """What becomes of the ports of a train when something happens to one of them: flow after, and change."""
    train = next((t for t in plan.trains_on(day) if (t.worker, t.pump) == (worker, pump)), None)
    if train is None:
        return []
    rows = []
    for act, found in what_if(train, plan.inputs):
        ports = []
        for name, after in zip(found.after.names, found.after.inlet_lpm, strict=True):
            change = found.inlet_change[name]
            ports.append({"letter": name, "flow": ml(after) if after > 0 else "nothing", "change": _change(change)})
        rows.append({"act": act, "ports": ports, "fault": found.after.condition == "pump fault"})
    return rows


def _change(share: float) -> str:
    return "as before" if abs(share) < 5e-4 else f"{'+' if share > 0 else '−'}{percent(abs(share))}"


def move_cells(moves: Sequence[Sequence[str]]) -> list[dict[str, str]]:
    """What moved in a bent plan."""
    return [dict(zip(("day", "worker", "before", "after"), move, strict=True)) for move in moves]
