"""Rows of the records made of a plan's plain data, and the samples a plan orders."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Model

from lapel.assessment.plan_inputs import OfferedShift, PlanInputs
from lapel.assessment.plan_products import Products
from lapel.assessment.planned import SurveyPlan
from lapel.exchange.record_rows import keep
from lapel.records import models
from lapel.records.audit import signed

ORIGIN = "the plan"
"""Where shifts and samples that a plan ordered say they come from; only those are changed with it."""


class PlanRows:
    """Makes rows of a plan, those of a survey that is on record with its agents, methods, groups and workers."""

    def __init__(self, inputs: PlanInputs, record: models.Survey) -> None:
        self._inputs = inputs
        self._record = record
        site = record.site
        self._groups = {group.code: group for group in site.groups.all()}
        self._workers = {worker.code: worker for worker in site.workers.all()}
        self._agents = {agent.code: agent for agent in record.agents.all()}
        self._methods = {method.code: method for method in record.methods.all()}

    def in_order(self) -> Iterator[tuple[str, Iterable[Model]]]:
        """Give each kind with its rows."""
        inputs, record = self._inputs, self._record
        yield "plan terms", [self._terms()]
        yield "questions", [self._question(question) for question in inputs.questions]
        yield "shifts on offer", [self._shift(shift) for shift in inputs.shifts]
        yield (
            "technicians",
            [
                models.PlanTechnician(survey=record, code=one.code, away_on=list(one.away_on), origin=one.origin)
                for one in inputs.technicians
            ],
        )
        yield (
            "workers' terms",
            [
                models.PlanWorker(
                    survey=record, worker=self._workers[terms.worker], away_on=list(terms.away_on),
                    area_class=terms.area_class, pumps_at_once=terms.pumps_at_once, days_at_most=terms.days_at_most,
                )
                for terms in inputs.worker_terms.values()
            ],
        )  # fmt: skip
        yield (
            "media's terms",
            [
                models.PlanMedium(
                    survey=record, medium=terms.medium, cost=terms.cost, pack=terms.pack,
                    loss_kpa_per_lpm=terms.loss_kpa_per_lpm,
                )
                for terms in inputs.medium_terms.values()
            ],
        )  # fmt: skip
        yield (
            "laboratory's terms",
            [
                models.PlanLaboratory(
                    survey=record, method=self._methods[terms.method], **_plain(terms, without=("method", "origin"))
                )
                for terms in inputs.laboratory_terms.values()
            ],
        )
        yield "accepted areas", [models.AcceptedArea(survey=record, **asdict(area)) for area in inputs.accepted_areas]
        yield (
            "products",
            [
                models.Product(
                    survey=record, code=one.code, name=one.name, task=one.task, groups=list(one.groups),
                    agents=list(one.agents), source=one.source, origin=one.origin,
                )
                for one in inputs.products
            ],
        )  # fmt: skip

    def _terms(self) -> models.PlanTerms:
        inputs = self._inputs
        return models.PlanTerms(
            survey=self._record, strategy=inputs.strategy, seed=inputs.seed, label_prefix=inputs.label_prefix,
            air_temperature_k=inputs.air_temperature_k, air_humidity_percent=inputs.air_humidity_percent,
            duplicates_share=inputs.duplicates_share, spares_share=inputs.spares_share, notes=dict(inputs.plan_notes),
            **asdict(inputs.splitter_terms), **asdict(inputs.crew), **asdict(inputs.rates),
        )  # fmt: skip

    def _question(self, question: Any) -> models.PlanQuestion:
        return models.PlanQuestion(
            survey=self._record,
            group=self._groups.get(question.group),
            worker=self._workers.get(question.worker),
            agent=self._agents[question.agent],
            methods=list(question.methods),
            named=list(question.named),
            test=question.test or "",
            **_plain(question, without=("group", "worker", "agent", "methods", "named", "test")),
        )

    def _shift(self, shift: OfferedShift) -> models.OfferedShift:
        return models.OfferedShift(
            survey=self._record,
            start=shift.start.astimezone(UTC),
            start_offset_min=_offset_min(shift.start),
            end=shift.end.astimezone(UTC),
            end_offset_min=_offset_min(shift.end),
            group=self._groups.get(shift.group),
        )


@dataclass(frozen=True, slots=True)
class Ordered:
    """What ordering the samples of a plan came to: new, changed, taken back; `held` are those the log knows already."""

    new: int
    changed: int
    taken_back: int
    held: tuple[str, ...]


def order_samples(survey: models.Survey, plan: SurveyPlan, products: Products, *, user: User | None) -> Ordered:
    """
    Write the plan's shifts and samples into the survey, so that the field page and the assessment know them.

    Parameters
    ----------
    survey : Survey
        Access was checked by whoever got it (act "plan").
    plan : SurveyPlan
        Without faults.
    products : Products
    user : User, optional
        Who orders them.

    Returns
    -------
    Ordered
        A sample the field log names already is never changed or taken back. Samples that came from elsewhere stay.

    Raises
    ------
    ValueError
        The plan has faults, or a sampler's code is taken by a sample that did not come from a plan.
    """
    if plan.faults:
        raise ValueError(f"`plan` has faults: {plan.faults[0].where}: {plan.faults[0].words}")
    reason = "ordered by the plan"
    with transaction.atomic():
        models.Survey.objects.select_for_update().get(pk=survey.pk)
        fitted = _named_in_log(survey)
        now = {order.code: order for order in survey.sampleorders.select_related("shift")}
        wanted = _wanted(plan, products)
        foreign = sorted(code for code in wanted.keys() & now.keys() if now[code].origin != ORIGIN)
        if foreign:
            raise ValueError(
                f"sampler {foreign[0]} is in the survey already and did not come from the plan: give the plan's labels "
                "another first part"
            )
        shifts = _shifts(survey, plan, user, reason)
        new, changed = [], 0
        for code, (worker, day, values) in wanted.items():
            shift, order = shifts[worker, day], now.get(code)
            if order is None:
                new.append(models.SampleOrder(survey=survey, code=code, shift=shift, origin=ORIGIN, **values))
            elif code not in fitted and _differs(order, shift, values):
                order.shift = shift
                for name, value in values.items():
                    setattr(order, name, value)
                signed(order, user, reason).save()
                changed += 1
        gone = [o for code, o in now.items() if o.origin == ORIGIN and code not in wanted and code not in fitted]
        for order in gone:
            signed(order, user, "no longer in the plan").delete()
        for shift in survey.shifts.filter(origin=ORIGIN, orders__isnull=True).exclude(
            pk__in=[shift.pk for shift in shifts.values()]
        ):
            signed(shift, user, "no longer in the plan").delete()
        if new:
            keep(new, user, reason)
    held = tuple(sorted(code for code in now if code in fitted))
    return Ordered(len(new), changed, len(gone), held)


def _wanted(plan: SurveyPlan, products: Products) -> dict[str, tuple[str, str, dict[str, Any]]]:
    """Each sampler's worker, day and values as ordered."""
    wanted: dict[str, tuple[str, str, dict[str, Any]]] = {}
    for train in plan.trains:
        kinds = {port.letter: port.kind for port in train.ports}
        for sampler in products.of_train(train):
            kind = kinds[sampler.port]
            question = kind.windows[0].question
            values = {
                "purpose": question.purpose,
                "methods": [method.code for method in kind.methods],
                "averaging_min": None if question.purpose == "full shift" else kind.option.minutes,
                "task": question.task,
            }
            wanted[sampler.code] = (train.worker, train.day, values)
    return wanted


def _differs(order: models.SampleOrder, shift: models.Shift, values: Mapping[str, Any]) -> bool:
    return order.shift_id != shift.pk or any(getattr(order, name) != value for name, value in values.items())


def _shifts(
    survey: models.Survey, plan: SurveyPlan, user: User | None, reason: str
) -> dict[tuple[str, str], models.Shift]:
    """Return the shift of every worker and day of the plan: one that is there already, or a new one."""
    workers = {worker.code: worker for worker in survey.site.workers.all()}
    there = {(shift.worker_id, shift.start): shift for shift in survey.shifts.all()}
    found, new = {}, []
    for worker, day in sorted({(train.worker, train.day) for train in plan.trains}):
        offered = plan.inputs.shifts_of(plan.inputs.group_of(worker))
        mine = next(shift for shift in offered if shift.day == day)
        row = workers[worker]
        shift = there.get((row.pk, mine.start.astimezone(UTC)))
        if shift is None:
            shift = models.Shift(
                survey=survey, code=f"{worker}-{day}", worker=row, origin=ORIGIN,
                start=mine.start.astimezone(UTC), start_offset_min=_offset_min(mine.start),
                end=mine.end.astimezone(UTC), end_offset_min=_offset_min(mine.end),
            )  # fmt: skip
            new.append(shift)
        found[worker, day] = shift
    if new:
        keep(new, user, reason)
    return found


def _named_in_log(survey: models.Survey) -> frozenset[str]:
    """Codes of samplers the field log names."""
    entries = models.LogEntry.objects.filter(survey=survey, kind="sampler_fitted")
    return frozenset(str(fields.get("sampler", "")).strip() for fields in entries.values_list("fields", flat=True))


def _plain(data: Any, *, without: tuple[str, ...]) -> dict[str, Any]:
    return {field.name: getattr(data, field.name) for field in fields(data) if field.name not in without}


def _offset_min(at: datetime) -> int:
    return int((at.utcoffset() or timedelta()).total_seconds() // 60)
