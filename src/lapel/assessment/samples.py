"""Every sample of a survey: its working kept so that other defensible choices can be tried on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

from lapel.assessment.batch_blanks import Blanks
from lapel.assessment.bench import FlowBench
from lapel.assessment.delivered_results import not_analysed_note
from lapel.assessment.inputs import (
    FindingOverride,
    LaboratoryResult,
    LimitChoice,
    Method,
    SampleOrder,
    Survey,
)
from lapel.assessment.place_air import PlaceAir
from lapel.assessment.pump_stop import PumpStops
from lapel.assessment.results import BlankResult, SampleResult
from lapel.assessment.sample import (
    BlankUse,
    DrawnSegment,
    drawn_segments,
    sample_air,
)
from lapel.assessment.sample_chain import Chain, Worked, work
from lapel.assessment.sample_facts import sample_facts
from lapel.assessment.sampled_shares import sampled_shares
from lapel.fieldlog.state import Day, FlowReading, SampleRun
from lapel.figures import Figure, joined, number
from lapel.hygiene import Air, to_ppm
from lapel.hygiene.findings import judge
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.rulebook import RuleBook
from lapel.said import said


@dataclass(frozen=True, slots=True)
class KeptSample:
    """The results of one sampler with everything they follow from: records, log, and the ground of its readings."""

    rests_on: tuple[Any, ...]
    ground: tuple[Any, ...]
    results: list[SampleResult]
    chains: Mapping[tuple[str, str], Chain]


class Samples:
    """
    All samples of a survey, worked under one rule book.

    Parameters
    ----------
    survey : Survey
        What is known.
    day : Day
        What the log amounts to.
    book, compared : RuleBook and sequence of RuleBook
        The rules that decide, and those shown beside them.
    kept : bool
        Whether another state of the survey will be worked after this one.
    earlier : Samples, optional
        The samples of an earlier state, kept: what rests on the same records is not worked again.
    """

    def __init__(
        self,
        survey: Survey,
        day: Day,
        book: RuleBook,
        compared: Sequence[RuleBook],
        *,
        kept: bool = False,
        earlier: Samples | None = None,
    ) -> None:
        if earlier is not None and not earlier.goes_on_in(survey, book, compared):
            earlier = None
        self._survey = survey
        self._day = day
        self._book = book
        self._books = (book, *compared)
        self._place_air: PlaceAir = PlaceAir(
            survey.site, day.conditions, earlier=earlier._place_air if earlier else None
        )
        self._bench: FlowBench = FlowBench(
            survey.meters, self._place_air, kept=kept, earlier=earlier._bench if earlier else None
        )
        self._keeps = kept
        self._kept: dict[str, KeptSample] = {}
        self._before: dict[str, KeptSample] = earlier._kept if earlier else {}
        self._same_ground = bool(
            earlier and earlier._day.conditions == day.conditions and earlier._survey.meters == survey.meters
        )
        self._limits_of: dict[str, tuple[LimitChoice, ...]] = {
            agent: tuple(limit for limit in survey.limits if limit.agent == agent) for agent in survey.agents
        }
        self._overrides_of = _by_sampler(survey.overrides)
        self._results = _by_sampler_and_agent(survey)
        self._blanks: Blanks = Blanks(survey, day, self._results, earlier=earlier._blanks if earlier else None)
        self._chains: dict[tuple[str, str], Chain] = {}
        self._stops = PumpStops(day, survey.entries, survey.site.zone)
        self._shares = sampled_shares(survey, day, self._stops)

    def results_of(self, order: SampleOrder) -> list[SampleResult]:
        """Work one sampler for every agent ordered on it, unless all it rests on is as it was."""
        run = self._day.runs.get(order.sampler)
        if not self._keeps:
            return self._worked_out(order, run)
        rests_on = self._rests_on(order, run)
        known = self._before.get(order.sampler)
        if known is not None and known.rests_on == rests_on:
            ground = known.ground if self._same_ground else self._ground(run)
            if known.ground == ground:
                self._kept[order.sampler] = known
                self._chains.update(known.chains)
                return known.results
        results = self._worked_out(order, run)
        named = [(order.sampler, result.agent.key) for result in results]
        chains = {name: self._chains[name] for name in named}
        self._kept[order.sampler] = KeptSample(rests_on, self._ground(run), results, chains)
        return results

    def forget_earlier(self) -> None:
        """Let go of the earlier state, once every sample was asked for."""
        self._before = {}

    def goes_on_in(self, survey: Survey, book: RuleBook, compared: Sequence[RuleBook]) -> bool:
        """Whether what every sample rests on is the same in another state of the survey."""
        ours, theirs = self._survey, survey
        return (
            (ours.site, ours.assessed_on, bool(ours.reports)) == (theirs.site, theirs.assessed_on, bool(theirs.reports))
            and self._books == (book, *compared)
        )  # fmt: skip

    def _worked_out(self, order: SampleOrder, run: SampleRun | None) -> list[SampleResult]:
        drawn = drawn_segments(run, self._bench) if run else ()
        return [self._result(order, self._survey.methods[code], run, drawn) for code in order.methods]

    def _rests_on(self, order: SampleOrder, run: SampleRun | None) -> tuple[Any, ...]:
        """
        Return everything the results of a sampler follow from, but the ground of its readings.

        `_result`, `sample_facts` and what they call take nothing else from survey and day, but what `goes_on_in`
        compares. Whoever lets them ask for more adds it here; a test changes every field of every record.
        """
        survey, day = self._survey, self._day
        per_method: list[tuple[Any, ...]] = []
        for code in order.methods:
            method = survey.methods[code]
            found = self._results.get((order.sampler, method.agent), [])
            report = survey.reports[found[-1].report] if found else None
            batch = self._blanks.of(run, method.agent)
            per_method.append(
                (
                    method, survey.agents[method.agent], tuple(found), report,
                    self._limits_of[method.agent], self._shares.get((order.shift, method.agent)),
                    batch.blank, batch.count, batch.samples, batch.largest_ug, batch.largest_below,
                    survey.notes.get(not_analysed_note(order.sampler, method.agent)),
                )
            )  # fmt: skip
        if run is None:
            return order, None, self._overrides_of.get(order.sampler), tuple(per_method)
        return (
            order, run, self._overrides_of.get(order.sampler), tuple(per_method),
            tuple(day.preparation_of(segment) for segment in run.segments), self._stops.of(run),
            survey.media_lots.get(run.lot), day.parcels.get(run.parcel),
        )  # fmt: skip

    def _ground(self, run: SampleRun | None) -> tuple[Any, ...]:
        """Return the air a sample was taken in, and the meters and the air of every reading it may use."""
        if run is None:
            return ()
        reads: list[FlowReading] = []
        for segment in run.segments:
            reads += self._day.preparation_of(segment).readings
            reads += [read for each in (segment.before, segment.after) if each for read in each.readings]
        notes: list[str] = []
        air = sample_air(run, self._place_air, notes)
        return air, tuple(notes), self._humidity(run), self._bench.ground_of(_once(reads))

    def worked(self, sampler: str, agent: str, *, rule: FlowRule, blank_use: BlankUse) -> Worked:
        """Work one sampler and agent again under other choices."""
        return self._work(self._chains[sampler, agent], rule, blank_use, [])

    def blanks(self) -> list[BlankResult]:
        """Every blank with its masses."""
        agents = dict.fromkeys(method.agent for method in self._survey.methods.values())
        return [
            BlankResult(
                blank.blank,
                blank.medium,
                blank.lot,
                blank.use,
                {
                    agent: self._blanks.mass(blank.blank, agent)
                    for agent in agents
                    if (blank.blank, agent) in self._results
                },
            )
            for blank in self._day.blanks.values()
        ]

    def _reading_air_assumed(self, run: SampleRun | None) -> bool:
        """Tell whether the air at a flow reading of a run was recorded nowhere."""
        notes: list[str] = []
        for segment in run.segments if run else ():
            for each in (segment.before, segment.after):
                for read in each.readings if each else ():
                    self._place_air.of_reading(read, notes)
        return bool(notes)

    def _result(
        self, order: SampleOrder, method: Method, run: SampleRun | None, drawn: tuple[DrawnSegment, ...]
    ) -> SampleResult:
        agent = self._survey.agents[method.agent]
        assumptions = [
            words for part in drawn for each in (part.before, part.after) if each for words in each.assumptions
        ]
        found = self._results.get((order.sampler, method.agent), [])
        result = found[-1] if found else None
        report = self._survey.reports[result.report] if result else None
        batch = self._blanks.of(run, method.agent)
        air_notes: list[str] = []
        air = sample_air(run, self._place_air, air_notes) if run else None
        chain = Chain(drawn, result, report, method, batch.blank, air, agent.molar_mass)
        self._chains[order.sampler, method.agent] = chain
        worked = self._work(chain, cast(FlowRule, self._book.flow_rule), "subtract", assumptions)
        if worked.ppm is not None:
            assumptions += air_notes
        elif worked.concentration is not None:
            assumptions.append(said("no molar mass of {agent}: no ppm", agent=agent.name))
        limit, limit_mg_m3 = self._strictest(order, method.agent, air)
        flows = [part.flow for part in worked.air.segments if part.flow is not None]
        facts = sample_facts(
            survey=self._survey,
            day=self._day,
            order=order,
            method=method,
            run=run,
            drawn=drawn,
            bench=self._bench,
            flow=flows[0] if flows else None,
            volume=worked.air.volume,
            mass=worked.mass,
            concentration=worked.concentration,
            result=result,
            duplicate=len(found) > 1,
            batch=batch,
            limit=limit,
            limit_mg_m3=limit_mg_m3,
            sampled_share=self._shares.get((order.shift, method.agent)),
            air_assumed=self._reading_air_assumed(run),
            humidity_percent=self._humidity(run),
            stops=self._stops.of(run),
        )
        standings = {book.key: judge(facts, book, self._survey.overrides) for book in self._books}
        standing = standings[self._book.key]
        concentration, ppm = worked.concentration, worked.ppm
        if standing.bound != "exactly":
            concentration, ppm = (
                figure.bounding(joined(figure.sense, standing.bound)) if figure is not None else None
                for figure in (concentration, ppm)
            )
        minutes = [part.minutes for part in worked.air.segments if part.minutes is not None]
        return SampleResult(
            sampler=order.sampler,
            order=order,
            agent=agent,
            method=method,
            run=run,
            result=result,
            segments=worked.air.segments,
            flow=flows[0] if flows else None,
            minutes=minutes[0] if len(minutes) == 1 else None,
            volume=worked.air.volume,
            mass=worked.mass,
            blank=batch.blank,
            concentration=concentration,
            ppm=ppm,
            facts=facts,
            standing=standing,
            standings=standings,
            assumptions=tuple(dict.fromkeys(assumptions)),
        )

    def _work(self, chain: Chain, rule: FlowRule, blank_use: BlankUse, notes: list[str]) -> Worked:
        return work(chain, self._bench, rule=rule, basis=self._book.change_basis, blank_use=blank_use, notes=notes)

    def _strictest(self, order: SampleOrder, agent: str, air: Air | None) -> tuple[LimitChoice | None, float | None]:
        """Return the strictest limit this sample serves, with its value by mass in the air of the place."""
        kinds = ("STEL", "ceiling") if order.purpose in ("short term", "ceiling") else ("TWA",)
        molar_mass = self._survey.agents[agent].molar_mass
        best: tuple[LimitChoice | None, float | None] = (None, None)
        for limit in self._survey.limits:
            if limit.agent != agent or limit.kind not in kinds:
                continue
            value = by_mass(limit, molar_mass, air)
            if best[0] is None or (value is not None and (best[1] is None or value < best[1])):
                best = (limit, value)
        return best

    def _humidity(self, run: SampleRun | None) -> float | None:
        if run is None or not run.segments:
            return None
        last = run.segments[-1]
        return self._place_air.humidity_between(run.segments[0].start, last.stop or last.start)


def by_mass(limit: LimitChoice, molar_mass: float | None, air: Air | None) -> float | None:
    """Value of a limit in mg/m3 in the air of the place; None where the molar mass or the air is not known."""
    if limit.unit == "mg/m3":
        return limit.value
    if molar_mass is None or air is None:
        return None
    return limit.value / _ppm_of_one_mg_m3(molar_mass, number(air.temperature_k), number(air.pressure_kpa))


@lru_cache(maxsize=1024)
def _ppm_of_one_mg_m3(molar_mass: float, temperature_k: float, pressure_kpa: float) -> float:
    return to_ppm(1.0, molar_mass, air=Air(temperature_k, pressure_kpa)).value


def claimed(figure: Figure | None, sample: SampleResult) -> Figure | None:
    """Return a figure claimed as the bound the sample's standing allows."""
    if figure is None or sample.standing.bound == "exactly":
        return figure
    return figure.bounding(joined(figure.sense, sample.standing.bound))


def _by_sampler(overrides: Iterable[FindingOverride]) -> dict[str, tuple[FindingOverride, ...]]:
    found: dict[str, tuple[FindingOverride, ...]] = {}
    for override in overrides:
        found[override.sampler] = (*found.get(override.sampler, ()), override)
    return found


def _once(reads: Iterable[FlowReading]) -> Iterable[FlowReading]:
    return {read.entry_id: read for read in reads}.values()


def _by_sampler_and_agent(survey: Survey) -> dict[tuple[str, str], list[LaboratoryResult]]:
    """Results in the order in which they were received, the latest last."""
    order = {code: (report.received_on is None, report.received_on, code) for code, report in survey.reports.items()}
    found: dict[tuple[str, str], list[LaboratoryResult]] = defaultdict(list)
    for result in sorted(survey.results, key=lambda row: order[row.report]):
        found[result.sampler, result.agent].append(result)
    return found
