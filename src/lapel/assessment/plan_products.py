"""What a plan is worked with: labelled samplers, blanks, the kit, each technician's day, and what it all costs."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from lapel.assessment.inputs import MediaLot, Method
from lapel.assessment.plan_time_table import Act, day_acts, late_words, sampler_runs
from lapel.assessment.plan_windows import SamplerKind
from lapel.assessment.planned import SurveyPlan
from lapel.assessment.planned_trains import PlannedTrain
from lapel.planning import BlankRule, duplicates, field_blanks, spares
from lapel.planning.draw import NMAM_SET


@dataclass(frozen=True, slots=True)
class PlannedSampler:
    """
    One sampler with its code, which nobody on the way can read a worker from.

    `use` is sample, field blank or spare; `place` what the people in the field need to know ("T3 A", "T3 A 2").
    Blanks are numbered among the samples, so that the analyst cannot tell them. `minutes` are those from hanging to
    the stop or change the time table gives, or of the task.
    """

    code: str
    use: str
    day: str
    place: str
    medium: str
    lot: str
    catalogue: str
    train: str = ""
    port: str = ""
    turn: int = 1
    flow_lpm: float | None = None
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class BlankCount:
    """Field blanks of a medium: how many on which day, by which rule."""

    medium: str
    lot: str
    day: str
    samples: int
    blanks: int
    opened: bool
    rule: str


@dataclass(frozen=True, slots=True)
class KitLine:
    """What to take and order of a medium."""

    medium: str
    lot: str
    catalogue: str
    samples: int
    blanks: int
    duplicates: int
    spares: int
    pack: int
    remark: str

    @property
    def total(self) -> int:
        """Samplers in all."""
        return self.samples + self.blanks + self.duplicates + self.spares

    @property
    def packs(self) -> int:
        """Packs that hold them."""
        return math.ceil(self.total / self.pack)


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of the cost."""

    what: str
    count: float
    rate: float | None
    amount: float | None


@dataclass(frozen=True)
class Products:
    """Everything a plan is worked with."""

    samplers: tuple[PlannedSampler, ...]
    blanks: tuple[BlankCount, ...]
    kit: tuple[KitLine, ...]
    acts: tuple[Act, ...]
    costs: tuple[CostLine, ...]
    remarks: tuple[str, ...]

    def of_train(self, train: PlannedTrain) -> tuple[PlannedSampler, ...]:
        """Samplers of a train, by port and turn."""
        return tuple(s for s in self.samplers if (s.day, s.train) == (train.day, train.code))

    @property
    def total_cost(self) -> float:
        """Sum of the lines that have a rate."""
        return math.fsum(line.amount or 0.0 for line in self.costs)


def products_of(plan: SurveyPlan) -> Products:
    """
    Work out what a plan is worked with.

    Parameters
    ----------
    plan : SurveyPlan

    Returns
    -------
    Products
        `remarks` names what is missing or late: a medium without a lot that keeps, a check that comes too late.
    """
    lots, remarks = _lots(plan)
    blanks = _blanks(plan, lots)
    kit = _kit(plan, lots, blanks)
    acts = tuple(act for day in plan.days for act in day_acts(plan.inputs, plan.trains, day))
    samplers = _samplers(plan, lots, blanks, kit, acts)
    return Products(samplers, blanks, kit, acts, _costs(plan, kit), (*remarks, *late_words(acts)))


def media_of(plan: SurveyPlan) -> tuple[str, ...]:
    """Media the plan uses, in the order met."""
    return tuple(dict.fromkeys(port.kind.option.medium for train in plan.trains for port in train.ports))


def _lots(plan: SurveyPlan) -> tuple[dict[str, MediaLot | None], list[str]]:
    """Of each medium the lot that expires first among those that keep to the last field day."""
    lots: dict[str, MediaLot | None] = {}
    remarks = []
    last = max(plan.days, default="")
    for medium in media_of(plan):
        of_medium = [lot for lot in plan.inputs.media_lots.values() if lot.medium == medium]
        keep = [lot for lot in of_medium if lot.expiry is None or lot.expiry.isoformat() >= last]
        lots[medium] = min(keep, key=lambda lot: (lot.expiry is None, lot.expiry), default=None)
        gone = sorted(lot.lot for lot in of_medium if lot not in keep)
        if gone:
            remarks.append(f"{medium}: lot {', '.join(gone)} expires before {last}; leave it at home.")
        if lots[medium] is None:
            why = f"no lot keeps until {last}" if of_medium else "no lot is entered"
            remarks.append(f"{medium}: {why}. Order one, and enter it among the lots (media.csv in a folder).")
    return lots, remarks


def blank_rule(methods: Iterable[Method]) -> BlankRule:
    """The strictest of what the methods want of field blanks, at least one a day for each medium and lot."""
    methods = list(methods)
    stated = [method for method in methods if method.blanks_min is not None or method.blanks_share]
    if not stated:
        return BlankRule(f"{NMAM_SET.name}; one a day", 2, 10, each_day=1, source=NMAM_SET.source)
    shares = [method.blanks_share for method in stated if method.blanks_share]
    return BlankRule(
        f"{', '.join(method.code for method in stated)}; one a day",
        max((method.blanks_min or 0 for method in stated), default=0),
        math.floor(1 / max(shares) + 1e-9) if shares else None,
        each_day=1,
        source="methods.csv; one a day for each medium and lot is the house's rule",
    )


def _blanks(plan: SurveyPlan, lots: dict[str, MediaLot | None]) -> tuple[BlankCount, ...]:
    counts = []
    for medium in media_of(plan):
        by_day = Counter[str]()
        kinds = {}
        for train in plan.trains:
            for port in train.ports:
                if port.kind.option.medium == medium:
                    by_day[train.day] += port.kind.option.samplers
                    kinds[port.kind.code] = port.kind
        rule = blank_rule({m.code: m for kind in kinds.values() for m in kind.methods}.values())
        days = sorted(by_day)
        total = field_blanks(sum(by_day.values()), rule, days=len(days))
        each, odd = divmod(total, len(days))
        lot = lots[medium]
        for place, day in enumerate(days):
            count = each + (place < odd)
            counts.append(BlankCount(medium, lot.lot if lot else "", day, by_day[day], count, rule.opened, rule.name))
    return tuple(counts)


def _kit(plan: SurveyPlan, lots: dict[str, MediaLot | None], blanks: Sequence[BlankCount]) -> tuple[KitLine, ...]:
    lines = []
    for medium in media_of(plan):
        ports = [(t, p) for t in plan.trains for p in t.ports if p.kind.option.medium == medium]
        samples = sum(port.kind.option.samplers for _, port in ports)
        worker_days = len({(train.worker, train.day) for train, _ in ports})
        terms, lot = plan.inputs.medium_terms.get(medium), lots[medium]
        lines.append(
            KitLine(
                medium,
                lot.lot if lot else "",
                lot.catalogue if lot else "",
                samples,
                sum(blank.blanks for blank in blanks if blank.medium == medium),
                _duplicates(plan, (port.kind for _, port in ports)),
                spares(samples, worker_days, share_of_samples=plan.inputs.spares_share or 0.1),
                terms.pack if terms else 1,
                "" if lot else "none that keeps: order",
            )
        )
    return tuple(lines)


def duplicate_rule(methods: Iterable[Method], *, house_share: float) -> tuple[int, float]:
    """Fewest duplicates and their share of the samples, the strictest of what the methods want, or the house's."""
    rules = []
    for method in methods:
        least, share = method.duplicates_min, method.duplicates_share
        if least is None and share is None:
            share = house_share
        rules.append(((1 if share else 0) if least is None else least, share or 0.0))
    return max(least for least, _ in rules), max(share for _, share in rules)


def _duplicates(plan: SurveyPlan, kinds: Iterable[SamplerKind]) -> int:
    """Side-by-side duplicates of a medium: what each rule wants of the samples it holds for."""
    samples = Counter[tuple[int, float]]()
    for kind in kinds:
        rule = duplicate_rule(kind.methods, house_share=plan.inputs.duplicates_share)
        samples[rule] += kind.option.samplers
    return sum(
        min(count, duplicates(count, share_of_samples=share, least=least) if share else least)
        for (least, share), count in samples.items()
    )


def _samplers(
    plan: SurveyPlan,
    lots: dict[str, MediaLot | None],
    blanks: Sequence[BlankCount],
    kit: Sequence[KitLine],
    acts: Sequence[Act],
) -> tuple[PlannedSampler, ...]:
    """Samplers and blanks numbered as they are used; spares after them. A blank stands among the samples of its day."""
    made: list[PlannedSampler] = []

    def add(use: str, day: str, place: str, medium: str) -> PlannedSampler:
        lot = lots[medium]
        code = f"{plan.inputs.label_prefix}-{len(made) + 1:04d}"
        made.append(PlannedSampler(code, use, day, place, medium, lot.lot if lot else "", lot.catalogue if lot else ""))
        return made[-1]

    for day in plan.days:
        waiting = [blank for blank in blanks if blank.day == day for _ in range(blank.blanks)]
        every = max(1, sum(len(t.ports) for t in plan.trains_on(day)) // (len(waiting) + 1))
        number = placed = 0
        for train in plan.trains_on(day):
            runs = {(run.port.letter, run.turn): run.least_min for run in sampler_runs(train, acts)}
            for port in train.ports:
                for turn in range(1, port.kind.option.samplers + 1):
                    place = f"{train.code} {port.letter}" + (f" {turn}" if port.kind.option.samplers > 1 else "")
                    fresh = add("sample", day, place, port.kind.option.medium)
                    made[-1] = replace(
                        fresh,
                        train=train.code,
                        port=port.letter,
                        turn=turn,
                        flow_lpm=port.flow_lpm,
                        minutes=runs.get((port.letter, turn), port.kind.minutes_each),
                    )
                number += 1
                if number % every == 0 and waiting:
                    placed += 1
                    add("field blank", day, f"F{placed}", waiting.pop(0).medium)
        for blank in waiting:
            placed += 1
            add("field blank", day, f"F{placed}", blank.medium)
    for line in kit:
        for _ in range(line.duplicates):
            add("duplicate", "", "", line.medium)
        for _ in range(line.spares):
            add("spare", "", "", line.medium)
    return tuple(made)


def _costs(plan: SurveyPlan, kit: Sequence[KitLine]) -> tuple[CostLine, ...]:
    inputs = plan.inputs
    lines = []
    for line in kit:
        terms = inputs.medium_terms.get(line.medium)
        lines.append(_cost(f"samplers, {line.medium}", line.total, _given(terms.cost if terms else 0.0)))
    analyses = Counter[str]()
    for train in plan.trains:
        for port in train.ports:
            for method in port.kind.methods:
                analyses[method.code] += port.kind.option.samplers
    by_medium = {line.medium: line for line in kit}
    for code, count in analyses.items():
        line = by_medium[inputs.methods[code].medium]
        lines.append(_cost(f"analyses, {code}, with blanks and duplicates", count + line.blanks + line.duplicates,
                           _given(inputs.laboratory_terms[code].cost)))  # fmt: skip
    people = len({(train.technician, train.day) for train in plan.trains})
    pumps = len({(train.pump, train.day) for train in plan.trains})
    lines.append(_cost("technician days", people, inputs.rates.technician_day))
    lines.append(_cost("pump days", pumps, inputs.rates.pump_day))
    return tuple(lines)


def _given(price: float) -> float | None:
    """A price, or None where nobody gave one: nothing is had for 0."""
    return price or None


def _cost(what: str, count: float, rate: float | None) -> CostLine:
    return CostLine(what, count, rate, None if rate is None else count * rate)
