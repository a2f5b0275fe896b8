"""A plan as words and text cells, rounded here, once, for the terminal and for the PDF."""

from __future__ import annotations

import math
from collections.abc import Iterable

from lapel.assessment.plan_products import Products
from lapel.assessment.plan_time_table import Act
from lapel.assessment.plan_windows import PlannedWindow, SamplerKind
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain
from lapel.figures import at_decimals, percent, significant
from lapel.planning import Goal, SamplerRun

CAUTIONS = (
    "Flammable atmospheres: only pumps certified for the area, and no phone or tablet that is not; set and read the "
    "trains outside, carry them in, keep paper in the area. Whether a certificate is enough is for a named person on "
    "site to say.",
    "Glass tubes: break the ends with a breaker and eye protection, keep the covers on, collect the tips.",
    "Confined spaces: nobody enters to hang or check a pump without the site's permit.",
    "Local rules and licensed practice decide; this plan does not replace them. Confirm every limit with its source.",
)
LIMITS_OF_THE_PLAN = (
    "Numbers of results rest on an assumed group: if its spread is larger, they are too few.",
    "Windows rest on the reporting limits, volumes and breakthrough volumes as stated; margins for humidity, warmth "
    "and other vapours are working defaults, not measurements.",
    "Limits are compared as printed; an extended shift lowers some of them, and the plan does not.",
    "Start and end of tasks are known on the day only: short-term pumps hang from the start of the shift and wait.",
    "Side-by-side duplicates are counted in the kit and not placed on a pump: choose free ports on the day.",
    "Walking times, gates and briefings are not in the time table.",
)
NOTHING = "–"
COST_GOAL = "samplers and laboratory cost"


def clock(minutes: int) -> str:
    """Minutes after midnight as people read them; the evening before and the night after are said."""
    day, rest = divmod(minutes, 1440)
    text = f"{rest // 60:02d}:{rest % 60:02d}"
    return text if day == 0 else f"{text} ({'the evening before' if day < 0 else 'next day'})"


def ml(flow_lpm: float) -> str:
    """A flow in mL/min below 1 L/min."""
    return f"{significant(flow_lpm * 1000, 3)} mL/min" if flow_lpm < 1 else f"{significant(flow_lpm, 3)} L/min"


def ml_window(low: float, high: float) -> str:
    """A window of flows; one flow where both ends read alike."""
    return f"{from_to(significant(low * 1000, 3), significant(high * 1000, 3))} mL/min"


def litres(value: float) -> str:
    """A volume; no bound where none is known."""
    return f"{significant(value, 3)} L" if math.isfinite(value) else "no bound known"


def headline(plan: SurveyPlan, products: Products) -> list[str]:
    """What the plan comes to, in a few sentences."""
    workers = len({train.worker for train in plan.trains})
    visits = len({(train.worker, train.day) for train in plan.trains})
    samples = sum(sampler.use == "sample" for sampler in products.samplers)
    pumps = len({train.pump for train in plan.trains})
    lines = []
    if plan.trains:
        lines.append(
            f"{_count(len(plan.days), 'field day')} ({', '.join(plan.days)}): {_count(workers, 'worker')} on "
            f"{_count(visits, 'worker-day')}, {_count(pumps, 'pump')}, {_count(samples, 'sample')}."
        )
    else:
        lines.append("Nothing can be hung.")
    if plan.campaign.missing:
        short = sum(missing.days_short for missing in plan.campaign.missing)
        lines.append(f"{_count(short, 'wanted result')} cannot be had: see what to relax.")
    else:
        lines.append("Everything that is wanted is planned.")
    lines.append(proof(plan))
    if plan.faults:
        lines.append(
            f"The independent checker finds {_count(len(plan.faults), 'fault')}: the plan cannot be worked so."
        )
    else:
        lines.append("The independent checker finds nothing against it.")
    return lines


def proof(plan: SurveyPlan) -> str:
    """What is proven of the plan, or how far it may be from the best."""
    if plan.by_hand:
        return f"Edited by hand ({plan.hand_source}): nothing is proven of it."
    if plan.campaign.is_proven:
        return "Proven: no plan does more, and none does it with fewer days, then fewer pumps, then less cost."
    return f"Not proven the best: it may be up to {percent(plan.campaign.gap)} from it in one of its goals."


def goal_rows(plan: SurveyPlan) -> list[tuple[str, str, str]]:
    """Each goal, what was reached and how sure that is."""
    return [(goal.name, goal_value(goal.name, goal.reached), _how_sure(goal)) for goal in plan.campaign.goals]


def _how_sure(goal: Goal) -> str:
    if goal.is_proven:
        return "proven best"
    return f"best possible {goal_value(goal.name, goal.bound)} or more; gap {percent(goal.gap)}"


def goal_value(name: str, value: float) -> str:
    """A count, or money with its hundredths; a plan costs nothing only where nothing has a price."""
    if name != COST_GOAL:
        return f"{value:g}"
    return at_decimals(value, 2) if value else "no price given"


def window_rows(plan: SurveyPlan) -> list[tuple[str, str, str, str, str, str]]:
    """Question, agent and method, lowest limit, volume, flow and minutes, samplers."""
    return [_window_row(window, plan) for window in plan.windows]


def _window_row(planned: PlannedWindow, plan: SurveyPlan) -> tuple[str, str, str, str, str, str]:
    window = planned.window
    agent = plan.inputs.agents[planned.question.agent].name
    about = f"{agent}, {planned.question.purpose}" + (f": {planned.question.task}" if planned.question.task else "")
    volume = from_to(litres(window.volume_low_l), litres(window.volume_high.litres))
    if not window.runs:
        return planned.question.code, about, planned.method.code, planned.limits[0].words, volume, "not feasible"
    run = window.runs[0]
    return planned.question.code, about, planned.method.code, planned.limits[0].words, volume, run_words(run)


def run_words(run: SamplerRun) -> str:
    """How the period is covered: flow, minutes, how many samplers."""
    count = "" if run.samplers == 1 else f"{run.samplers} × "
    return f"{count}{at_decimals(run.minutes_each, 0)} min at {ml_window(run.flow_low_lpm, run.flow_high_lpm)}"


def infeasible_lines(plan: SurveyPlan) -> list[tuple[str, str]]:
    """Windows without a way, and what to relax."""
    return [
        (f"{window.question.code}, {window.agent_key} by {window.method.code}", " ".join(window.window.relax))
        for window in plan.infeasible
    ]


def mass_rows(plan: SurveyPlan) -> list[tuple[str, str, str, str, str]]:
    """Mass on one sampler at 0.1, 0.5 and 1 times the limit, at the lowest flow, beside the reporting limit."""
    rows = []
    for planned in plan.windows:
        if planned.window.runs:
            low, half, full = planned.window.expected_masses(planned.window.runs[0])
            cells = tuple(f"{significant(mass.low_ug)} µg" for mass in (low, half, full))
            name, loq = f"{planned.question.code} {planned.method.code}", f"{planned.window.method.loq_ug:g} µg"
            rows.append((name, cells[0], cells[1], cells[2], loq))
    return rows


def kind_row(kind: SamplerKind, plan: SurveyPlan) -> tuple[str, str, str, str, str, str]:
    """One kind of sampler: code, medium, agents, purpose, flow window, samplers one after the other."""
    agents = ", ".join(plan.inputs.agents[agent].name for agent in kind.agents)
    window = ml_window(kind.option.flow_low_lpm, kind.option.flow_high_lpm)
    minutes = at_decimals(kind.minutes_each, 0)
    count = f"{minutes} min" if kind.option.samplers == 1 else f"{kind.option.samplers} × {minutes} min"
    return kind.code, kind.option.medium, agents, kind.purpose, window, count


def train_ports(train: PlannedTrain) -> str:
    """Ports of a train in a line: letter, kind, flow."""
    return "; ".join(f"{port.letter} {port.kind.code} {ml(port.flow_lpm)}" for port in train.ports)


def warning_lines(plan: SurveyPlan) -> list[tuple[str, str]]:
    """Weak points of the splitters, alike ones told once with all their trains."""
    by_words: dict[str, list[str]] = {}
    for train in plan.trains:
        for warning in train.warnings:
            by_words.setdefault(warning.words, []).append(f"{train.day} {train.code}")
    return [(", ".join(trains), words) for words, trains in by_words.items()]


def missing_lines(plan: SurveyPlan) -> list[tuple[str, str]]:
    """What is wanted and not planned, and why; one reason told once, with everybody it holds for."""
    return by_reason((each.worker, each.agent, each.days_short, each.why) for each in plan.campaign.missing)


def by_reason(missing: Iterable[tuple[str, str, int, str]]) -> list[tuple[str, str]]:
    """Wants not met, as (worker, agent, days short, why): one reason told once, with everybody it holds for."""
    reasons: dict[str, dict[str, list[str]]] = {}
    for worker, agent, days_short, why in missing:
        wanted = agent if days_short == 1 else f"{agent} × {days_short}"
        reasons.setdefault(why, {}).setdefault(worker, []).append(wanted)
    return [
        ("; ".join(f"{worker}: {' + '.join(agents)}" for worker, agents in of_workers.items()), why)
        for why, of_workers in reasons.items()
    ]


def act_row(act: Act) -> tuple[str, str, str, str, str, str]:
    """When, how long, what, which train, whose, about what."""
    late = f" ({act.late_min} min late)" if act.late_min > 10 and not act.what.startswith(("read", "label")) else ""
    minutes = NOTHING if not act.minutes else str(act.minutes)
    return clock(act.begins_min) + late, minutes, act.what, act.train or NOTHING, act.worker or NOTHING, act.about


def cost_rows(products: Products) -> list[tuple[str, str, str, str]]:
    """What, how many, rate, amount; a dash where no rate was given."""
    return [
        (
            line.what,
            f"{line.count:g}",
            NOTHING if line.rate is None else at_decimals(line.rate, 2),
            "no rate given" if line.amount is None else at_decimals(line.amount, 2),
        )
        for line in products.costs
    ]


def cost_words(products: Products, currency: str) -> str:
    """The sum of what has a rate, or that nothing has one."""
    if all(line.amount is None for line in products.costs):
        return "no rate is given yet"
    whole = all(line.amount is not None for line in products.costs)
    return f"{at_decimals(products.total_cost, 2)} {currency}" + ("" if whole else " for what has a rate")


def from_to(low: str, high: str) -> str:
    """A window, or the one value where both its ends read alike."""
    return low if low == high else f"{low} to {high}"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
