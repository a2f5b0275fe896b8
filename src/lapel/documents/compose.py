"""From an assessment to the words and cells of a page: every number is rounded here, once, for people."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import LimitChoice
from lapel.assessment.results import (
    LimitVerdict,
    MixtureResult,
    OtherChoice,
    SampleResult,
    ShiftResult,
    ShortTermResult,
    SurveyAssessment,
)
from lapel.documents.cells import (
    NOTHING,
    cell,
    cell_as_sure,
    cell_with_spread,
    change_cell,
    counted,
    flow_cell,
    interval_cell,
    kind_cell,
    minutes_cell,
    range_cell,
    ratio_cell,
    share_cell,
    significant_as_stated,
)
from lapel.figures.rounding import display_unit
from lapel.hygiene.findings import LEVELS, Level, Standing
from lapel.hygiene.limits import Comparison
from lapel.said import capital, listed, said


@dataclass(frozen=True, slots=True)
class SampleRow:
    """One agent on one sampler, as cells."""

    sampler: str
    worker: str
    train: str
    agent: str
    purpose: str
    medium: str
    minutes: str
    flow: str
    change: str
    volume: str
    mass: str
    concentration: str
    ppm: str
    standing: str
    level: Level
    because: str


@dataclass(frozen=True, slots=True)
class VerdictRow:
    """One exposure against one limit, as cells."""

    worker: str
    shift: str
    agent: str
    about: str
    average: str
    limit: str
    share: str
    verdict: str
    robust: str
    reason: str
    settles: str
    drives: str
    others: tuple[str, ...]


def sample_rows(assessment: SurveyAssessment) -> list[SampleRow]:
    """Every sample as cells, in the order of the survey."""
    return [_sample_row(assessment, sample) for sample in assessment.samples]


def verdict_rows(assessment: SurveyAssessment) -> list[VerdictRow]:
    """Every comparison with a limit as cells: shifts, then short-term samples, then mixtures."""
    rows = [row for shift in assessment.shifts for row in shift_verdict_rows(assessment, shift)]
    rows += [row for sample in assessment.short_terms for row in short_term_verdict_rows(assessment, sample)]
    return rows + [mixture_verdict_row(assessment, mixture) for mixture in assessment.mixtures]


def other_standings(assessment: SurveyAssessment) -> list[tuple[str, str, tuple[Standing, ...]]]:
    """Sampler, agent and standing of each sample under every rule book shown, the deciding one first."""
    books = [assessment.rule_book.key, *(book.key for book in assessment.compared)]
    return [
        (sample.sampler, sample.agent.name, tuple(sample.standings[key] for key in books))
        for sample in assessment.samples
    ]


def other_standing_rows(assessment: SurveyAssessment) -> list[tuple[str, ...]]:
    """Standing of each sample under every rule book shown: sampler, agent, then one word a book."""
    return [
        (sampler, agent, *map(standing_words, standings)) for sampler, agent, standings in other_standings(assessment)
    ]


def blank_rows(assessment: SurveyAssessment) -> list[tuple[str, str, str, str, str]]:
    """Every blank: its code, use, medium and lot, and what it carried of each agent."""
    rows: list[tuple[str, str, str, str, str]] = []
    for blank in assessment.blanks:
        use, lot = said(blank.use or "field"), f"{blank.medium} {blank.lot}".strip()
        for agent in (key for key in assessment.survey.agents if key in blank.masses):
            name, mass = assessment.survey.agents[agent].name, blank.masses[agent]
            rows.append((blank.blank, use, lot, name, cell(mass)))
        if not blank.masses:
            rows.append((blank.blank, use, lot, said("no result"), NOTHING))
    return rows


def headline(assessment: SurveyAssessment) -> list[str]:
    """Summary sentences: how many samples may be used, and what was over, under or open."""
    samplers = worst_levels(assessment)
    counts = {
        level: sum(1 for found in samplers.values() if found == level) for level in ("sound", "qualified", "void")
    }
    lines: list[str] = [
        said(
            "{samples}: {sound} sound, {qualified} qualified, {void} void.",
            samples=counted(len(samplers), "sample"),
            sound=counts["sound"],
            qualified=counts["qualified"],
            void=counts["void"],
        )
    ]
    for kind, words in (
        ("TWA", said("a long-term limit")),
        ("action level", said("an action level")),
        ("STEL", said("a short-term limit")),
        ("ceiling", said("a ceiling")),
    ):
        found = [v for v in all_verdicts(assessment) if v.limit.kind == kind]
        if found:
            tally = {
                word: sum(1 for v in found if v.comparison.verdict == word) for word in ("over", "cannot tell", "under")
            }
            shaky = sum(1 for v in found if not v.robust)
            line = said(
                "{comparisons} with {limit}: {over} over, {open} cannot tell, {under} under",
                comparisons=counted(len(found), "comparison"),
                limit=words,
                over=tally["over"],
                open=tally["cannot tell"],
                under=tally["under"],
            )
            turning = said("; {n} would change under another defensible choice.", n=shaky)
            lines.append(line + (turning if shaky else "."))
    return lines


def all_verdicts(assessment: SurveyAssessment) -> list[LimitVerdict]:
    """Every verdict of every shift and short-term sample."""
    of_shifts = [verdict for result in assessment.shifts for verdict in result.verdicts]
    return of_shifts + [verdict for result in assessment.short_terms for verdict in result.verdicts]


def every_comparison(assessment: SurveyAssessment) -> list[Comparison]:
    """Every comparison with a limit or with an index of 1."""
    compared = [verdict.comparison for verdict in all_verdicts(assessment)]
    return compared + [mixture.comparison for mixture in assessment.mixtures]


def not_compared(assessment: SurveyAssessment) -> int:
    """Exposures that could be held against no limit, or not against one of them; each is open, not under."""
    judged: list[ShiftResult | ShortTermResult] = [*assessment.shifts, *assessment.short_terms]
    return sum(len(result.not_compared) or int(not result.verdicts) for result in judged)


def worst_levels(assessment: SurveyAssessment) -> dict[str, Level]:
    """Worst standing among the agents of each sampler."""
    worst: dict[str, Level] = {}
    for sample in assessment.samples:
        so_far = worst.get(sample.sampler, "sound")
        worst[sample.sampler] = max(so_far, sample.standing.level, key=LEVELS.index)
    return worst


def standing_words(standing: Standing) -> str:
    """Standing in words: “qualified: at least”."""
    extra: list[str] = [said(standing.bound)] if standing.bound in ("at least", "at most") else []
    if standing.bound == "unknown":
        extra.append(said("no bound holds"))
    if standing.partial:
        extra.append(said("part of the period"))
    level = said(standing.level)
    return listed(": ", (level, listed(", ", extra))) if extra and standing.level != "void" else level


def _sample_row(assessment: SurveyAssessment, sample: SampleResult) -> SampleRow:
    run = sample.run
    shift = assessment.survey.shifts[sample.order.shift]
    minutes = run.clock_min if run else None
    effects = [finding.title for finding in sample.standing.findings if finding.counts and finding.effect != "remark"]
    return SampleRow(
        sampler=sample.sampler,
        worker=shift.worker,
        train=f"{run.train} {run.port}".strip() if run else NOTHING,
        agent=sample.agent.name,
        purpose=sample.order.purpose,
        medium=(run.medium if run else "") or sample.method.medium,
        minutes=minutes_cell(minutes),
        flow=flow_cell(sample.flow),
        change=change_cell(sample.segments),
        volume=cell(sample.volume),
        mass=cell(sample.mass),
        concentration=cell_with_spread(sample.concentration),
        ppm=cell_as_sure(sample.ppm),
        standing=standing_words(sample.standing),
        level=sample.standing.level,
        because=listed("; ", map(said, effects)),
    )


def shift_verdict_rows(assessment: SurveyAssessment, result: ShiftResult) -> list[VerdictRow]:
    """One agent over one shift: a row a limit, or one that says why there is none."""
    day = local_day(assessment, result)
    worker, name = result.shift.worker, result.agent.name
    rows = [
        _not_compared_row(worker, day, name, SHIFT_AVERAGE, *limit_and_why) for limit_and_why in result.not_compared
    ]
    if not result.verdicts and not rows:
        settles = A_LIMIT if result.samples else what_is_lacking(result.left_out)
        return [_open_row(worker, day, name, SHIFT_AVERAGE, result.note, settles)]
    for verdict in result.verdicts:
        average = verdict.average
        assert average is not None  # a shift's verdicts always have one
        text = interval_cell(average.lower, average.upper)
        about = listed(", ", (said(verdict.limit.kind), average.treatment))
        rows.append(_verdict_row(worker, day, name, about, text, verdict))
    return rows


def short_term_verdict_rows(assessment: SurveyAssessment, result: ShortTermResult) -> list[VerdictRow]:
    """One short-term sample: a row a limit, or one that says why there is none."""
    day = local_day(assessment, result)
    sample = result.sample
    about = listed(", ", (said(sample.order.purpose), sample.sampler))
    worker, name = result.shift.worker, sample.agent.name
    rows = [_not_compared_row(worker, day, name, about, *limit_and_why) for limit_and_why in result.not_compared]
    if not result.verdicts and not rows:
        return [
            _open_row(worker, day, name, about, result.note, A_LIMIT if sample.usable else what_is_lacking([sample]))
        ]
    return rows + [
        _verdict_row(
            result.shift.worker,
            day,
            sample.agent.name,
            _short_term_about(verdict, sample),
            cell_with_spread(sample.in_unit(verdict.limit.unit)),
            verdict,
        )
        for verdict in result.verdicts
    ]


def _short_term_about(verdict: LimitVerdict, sample: SampleResult) -> str:
    about = said("{kind}, sample {sampler}", kind=said(verdict.limit.kind), sampler=sample.sampler)
    return about + (f", {sample.order.task}" if sample.order.task else "")


def mixture_verdict_row(assessment: SurveyAssessment, mixture: MixtureResult) -> VerdictRow:
    """One additive index against 1."""
    compared = mixture.comparison
    return VerdictRow(
        worker=mixture.shift.worker,
        shift=local_day(assessment, mixture),
        agent=listed("", (listed(" + ", mixture.agents), " (", said(mixture.effect_group), ")")),
        about=said("additive index, {effect}", effect=said(mixture.effect_group)),
        average=NOTHING,
        limit=listed("", ("1 (", said(mixture.authority), ")")),
        share=share_cell(compared.ratio_low, compared.ratio_high, compared.lcl, compared.ucl),
        verdict=compared.verdict,
        robust=NOTHING,
        reason=mixture.reason,
        settles=mixture.settles,
        drives=max(mixture.shares, key=lambda agent: mixture.shares[agent]),
        others=(),
    )


def _verdict_row(worker: str, shift: str, agent: str, about: str, average: str, verdict: LimitVerdict) -> VerdictRow:
    compared = verdict.comparison
    limit = limit_cell(verdict)
    return VerdictRow(
        worker=worker,
        shift=shift,
        agent=agent,
        about=about,
        average=average,
        limit=limit,
        share=share_cell(compared.ratio_low, compared.ratio_high, compared.lcl, compared.ucl),
        verdict=compared.verdict,
        robust="yes" if verdict.robust else "no",
        reason=listed(" ", (compared.reason, capital(verdict.note) + ".")) if verdict.note else compared.reason,
        settles=verdict.settles,
        drives=verdict.drives,
        others=tuple(
            said(
                "{choice}: {verdict} ({share} of the limit)",
                choice=other.words,
                verdict=said(other.verdict),
                share=other_share_cell(other),
            )
            for other in verdict.others
        ),
    )


def other_share_cell(other: OtherChoice) -> str:
    """Share of the limit under another choice, or the two ends of it."""
    low = ratio_cell(other.ratio_low)
    if other.ratio_high == other.ratio_low:
        return low
    return range_cell(low, "∞" if math.isinf(other.ratio_high) else ratio_cell(other.ratio_high))


def limit_cell(verdict: LimitVerdict) -> str:
    """A limit as compared; one that was shortened names what its authority states, and what it was shortened for."""
    limit = verdict.limit
    named = kind_cell(limit.authority, limit.kind)
    if verdict.shortened_for:
        named += said(
            " {value} {unit}, shortened for {hours}",
            value=f"{limit.value:g}",
            unit=display_unit(limit.unit),
            hours=verdict.shortened_for,
        )
    return listed("", (significant_as_stated(verdict.limit_value), " (", named, ")"))


def stated_limit_cell(limit: LimitChoice) -> str:
    """A limit as its authority states it."""
    kind = kind_cell(limit.authority, limit.kind)
    return listed("", (f"{limit.value:g} {display_unit(limit.unit)} (", kind, ")"))


A_LIMIT = said("a limit to hold it against")
SHIFT_AVERAGE = said("shift average")


def what_is_lacking(samples: Sequence[SampleResult]) -> str:
    """What samples that may not be used would need: the stop of a pump somebody may yet enter, else another sample."""
    stops = [sample.sampler for sample in samples if sample.facts.stop_unknown]
    return said("when the pump of {samplers} stopped", samplers=", ".join(stops)) if stops else said("another sample")


def _open_row(worker: str, shift: str, agent: str, about: str, note: str, settles: str) -> VerdictRow:
    """An exposure nothing was compared for: no limit where there is a usable sample, else no sample."""
    reason = capital(note) + "."
    return VerdictRow(
        worker, shift, agent, about, NOTHING, NOTHING, NOTHING, "cannot tell", NOTHING, reason, settles, "", ()
    )


def _not_compared_row(worker: str, shift: str, agent: str, about: str, limit: LimitChoice, why: str) -> VerdictRow:
    """A limit nothing could be held against, and why."""
    stated = stated_limit_cell(limit)
    reason = said("Not compared: {why}.", why=why)
    return VerdictRow(worker, shift, agent, about, NOTHING, stated, NOTHING, "cannot tell", NOTHING, reason, "", "", ())


def local_day(assessment: SurveyAssessment, result: ShiftResult | ShortTermResult | MixtureResult) -> str:
    """Code of the shift with its start on the clock of the site."""
    start = result.shift.start.astimezone(ZoneInfo(assessment.survey.site.zone))
    return f"{result.shift.code}, {start:%Y-%m-%d %H:%M}"
