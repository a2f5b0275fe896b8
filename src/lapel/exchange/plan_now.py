"""A survey's plan as it is on record now: what keeps it from being made, or the plan in force, re-checked."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import Any

from lapel.assessment.plan_by_hand import HandTrain, as_it_stands
from lapel.assessment.plan_inputs import PlanInputs
from lapel.assessment.plan_products import PlannedSampler, Products, products_of
from lapel.assessment.planned import Groundwork, SurveyPlan, groundwork
from lapel.assessment.planned_trains import PlannedTrain
from lapel.assessment.recorded_plan import content_of, recorded_plan, trains_in_force
from lapel.exchange.plan_folder.agreement import problems_of
from lapel.exchange.problems import InputProblem, Place
from lapel.figures import significant
from lapel.planning import CampaignPlan, Goal, Missing
from lapel.records.models import PlanSearch, Survey
from lapel.records.plans import KeptTrain, in_order, kept_trains

MOST_HELD = 8
"""Plans whose groundwork is held at a time."""

BY_HAND = "edited by hand, or what it is made from has changed since the search"


@dataclass(frozen=True)
class PlanNow:
    """
    A survey's plan now.

    `problems` keep it from being made, and then `ground`, `plan` and `products` are None. Without trains in force the
    plan is empty. `search` is the last search that found something, `is_as_found` whether its trains are in force
    unchanged, `is_outdated` whether what it was made from has changed since.
    """

    inputs: PlanInputs
    problems: tuple[InputProblem, ...]
    ground: Groundwork | None
    plan: SurveyPlan | None
    products: Products | None
    trains: tuple[HandTrain, ...]
    search: PlanSearch | None
    is_as_found: bool
    is_outdated: bool

    @property
    def is_in_force(self) -> bool:
        """Whether any train is planned."""
        return bool(self.trains)


_held: OrderedDict[str, Groundwork] = OrderedDict()
_plans: OrderedDict[object, tuple[SurveyPlan, Products]] = OrderedDict()
_door = Lock()


def plan_now(survey: Survey) -> PlanNow:
    """
    Return a survey's plan as it is on record now.

    Parameters
    ----------
    survey : Survey
        The record, with its site; access was checked by whoever got it.

    Returns
    -------
    PlanNow
        The same number of queries however large the plan is. Windows and numbers of results are worked out once for
        the same inputs.
    """
    inputs = recorded_plan(survey)
    search = survey.plan_searches.filter(standing=PlanSearch.Standing.DONE).first()
    problems = problems_of(inputs)
    if not problems:
        try:
            ground = _groundwork(inputs)
        except ValueError as problem:
            words = str(problem).replace("`", "")
            problems = (InputProblem(Place("plan/wanted.csv"), words, "what a plan can be made of", "Ask for less."),)
    if problems:
        trains = tuple(HandTrain(t["day"], t["worker"], t["pump"], t["splitter"], t["technician"], t["hang_at_min"], ())
                       for t in kept_trains(survey))  # fmt: skip
        return PlanNow(inputs, problems, None, None, None, trains, search, False, search is not None)
    trains = trains_in_force(survey, ground)
    outdated = search is not None and search.input_sha256 != inputs.input_sha256
    as_found = (
        search is not None
        and not search.bend
        and not outdated
        and in_order(search.outcome["trains"]) == kept_trains(survey)
    )
    found = campaign_of(search.outcome) if search is not None and as_found else None
    source = BY_HAND if not (search is not None and search.bend) else f"changed from {search.bend['from_day']} on"
    plan, products = _plan(ground, trains, found, source, search.pk if search and as_found else None)
    return PlanNow(inputs, (), ground, plan, products, trains, search, as_found, outdated)


def _groundwork(inputs: PlanInputs) -> Groundwork:
    with _door:
        held = _held.get(inputs.input_sha256)
    if held is None:
        held = groundwork(inputs)
        with _door:
            _held[inputs.input_sha256] = held
            while len(_held) > MOST_HELD:
                _held.popitem(last=False)
    return held


def _plan(
    ground: Groundwork, trains: tuple[HandTrain, ...], found: CampaignPlan | None, source: str, search: int | None
) -> tuple[SurveyPlan, Products]:
    key = (ground.inputs.input_sha256, trains, search, source)
    with _door:
        held = _plans.get(key)
    if held is None:
        plan = as_it_stands(ground, trains, source=source, found=found)
        held = plan, products_of(plan)
        with _door:
            _plans[key] = held
            while len(_plans) > MOST_HELD:
                _plans.popitem(last=False)
    return held


def kept(trains: Sequence[HandTrain], ground: Groundwork) -> list[KeptTrain]:
    """Return trains as they are kept, each port with what its sampler is."""
    return in_order(
        {
            "day": train.day,
            "worker": train.worker,
            "pump": train.pump,
            "splitter": train.splitter,
            "technician": train.technician,
            "hang_at_min": train.hang_at_min,
            "ports": [
                {"letter": letter, "kind": content_of(ground.kinds[kind]), "flow_lpm": flow}
                for letter, kind, flow in train.ports
            ],
        }
        for train in trains
    )


def outcome_of(campaign: CampaignPlan, trains: Sequence[HandTrain], ground: Groundwork) -> dict[str, Any]:
    """What a search found, as it is kept."""
    return {
        "trains": kept(trains, ground),
        "goals": [[goal.name, goal.reached, _finite(goal.bound)] for goal in campaign.goals],
        "missing": [[m.worker, m.agent, m.days_short, m.why] for m in campaign.missing],
        "advice": list(campaign.advice),
    }


def campaign_of(outcome: Mapping[str, Any]) -> CampaignPlan:
    """Goals, missing wants and advice of a kept search; its visits are those of its trains."""
    return CampaignPlan(
        (),
        tuple(Missing(*missing) for missing in outcome["missing"]),
        tuple(Goal(name, reached, -math.inf if bound is None else bound) for name, reached, bound in outcome["goals"]),
        tuple(outcome["advice"]),
    )  # fmt: skip


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def planned_day(survey: Survey, day: date) -> dict[str, Any] | None:
    """
    The trains of a planned day as plain data, for the page in the field and for whoever prepares them.

    Parameters
    ----------
    survey : Survey
        The record, with its site; access was checked by whoever got it.
    day : date
        The day the shifts begin on.

    Returns
    -------
    dict or None
        `trains`, in the order they are hung: code, worker, pump, splitter, technician, hang_at_min, and for each port
        its letter, medium, lot, catalogue, agents by key, methods, purpose, task, flow_lpm (and flow_ml, the same as
        text), low_lpm and high_lpm of the window it was chosen from, minutes of one sampler and the codes of its
        samplers in their turn. `blanks`, the field blanks of the day: code, medium, lot, catalogue, place, whether
        it is opened and the train it is handled with. `spares`, for any day: code, medium, lot, catalogue. `faults`:
        what the checker has against it.
        None where nothing is planned on that day, or the plan cannot be read as it is on record.
    """
    now = plan_now(survey)
    if now.plan is None or now.products is None or not now.plan.trains_on(day.isoformat()):
        return None
    products, trains = now.products, []
    of_the_day = now.plan.trains_on(day.isoformat())
    for train in of_the_day:
        samplers = products.of_train(train)
        trains.append(
            {
                "code": train.code,
                "worker": train.worker,
                "pump": train.pump,
                "splitter": train.splitter,
                "technician": train.technician,
                "hang_at_min": train.hang_at_min,
                "ports": [
                    {
                        "port": port.letter,
                        "medium": port.kind.option.medium,
                        "lot": next((s.lot for s in samplers if s.port == port.letter), ""),
                        "catalogue": next((s.catalogue for s in samplers if s.port == port.letter), ""),
                        "agents": list(port.kind.agents),
                        "methods": [method.code for method in port.kind.methods],
                        "purpose": port.kind.windows[0].question.purpose,
                        "task": port.kind.windows[0].question.task,
                        "flow_lpm": port.flow_lpm,
                        "flow_ml": significant(1000.0 * port.flow_lpm, 3),
                        "low_lpm": port.kind.option.flow_low_lpm,
                        "high_lpm": port.kind.option.flow_high_lpm,
                        "minutes": port.kind.minutes_each,
                        "samplers": [s.code for s in samplers if s.port == port.letter],
                    }
                    for port in train.ports
                ],
            }
        )
    return {
        "day": day.isoformat(),
        "trains": trains,
        "blanks": _blanks_of(day.isoformat(), of_the_day, products),
        "spares": [
            {"code": s.code, "medium": s.medium, "lot": s.lot, "catalogue": s.catalogue}
            for s in products.samplers
            if s.use in ("spare", "duplicate")
        ],
        "faults": [f"{fault.where}: {fault.words}" for fault in now.plan.faults],
    }


def _blanks_of(day: str, trains: Sequence[PlannedTrain], products: Products) -> list[dict[str, Any]]:
    """The field blanks of a day, those of a medium spread over the trains that carry it, in the order they are hung."""
    is_opened = {blank.medium: blank.opened for blank in products.blanks if blank.day == day}
    by_medium: dict[str, list[PlannedSampler]] = {}
    for sampler in products.samplers:
        if sampler.use == "field blank" and sampler.day == day:
            by_medium.setdefault(sampler.medium, []).append(sampler)
    handled_with = {}
    for medium, blanks in by_medium.items():
        carriers = [train.code for train in trains if any(p.kind.option.medium == medium for p in train.ports)]
        for number, blank in enumerate(blanks):
            handled_with[blank.code] = carriers[number * len(carriers) // len(blanks)]
    return [
        {
            "code": blank.code,
            "medium": blank.medium,
            "lot": blank.lot,
            "catalogue": blank.catalogue,
            "place": blank.place,
            "opened": is_opened[blank.medium],
            "train": handled_with[blank.code],
        }
        for blank in products.samplers
        if blank.code in handled_with
    ]
