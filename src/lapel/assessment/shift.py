"""One agent over one worker's shift: the average, each limit, and whether the verdict would survive other choices."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, cast

from lapel.assessment.choices import BLANK_LEFT_IN, OTHER_FLOWS, Choices, no_figure, we_subtracted
from lapel.assessment.inputs import LimitChoice, Shift
from lapel.assessment.long_shift import (
    LONG_SHIFT_SLACK_MIN,
    WEEKLY_MODELS,
    LimitAsCompared,
    shortened_for,
    stated_for_long_days,
)
from lapel.assessment.results import LimitVerdict, OtherChoice, SampleResult, SegmentFlow, ShiftResult
from lapel.assessment.samples import Samples, claimed
from lapel.assessment.shift_time import covered, drew_in, shift_minutes, why_left_out, worst_hours
from lapel.assessment.stated_error import by_stated_error
from lapel.assessment.verdicts import (
    SETTLING_CAUSES,
    drives,
    is_robust,
    limit_figure,
    other_choice,
    settled_by,
    to_reach,
)
from lapel.hygiene.extended_shifts import ExtendedShiftModel
from lapel.hygiene.findings import worst_of
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.limits import Comparison, compare
from lapel.hygiene.rulebook import RuleBook
from lapel.hygiene.shift import ShiftAverage, Unsampled, unsampled_concentration_to_reach
from lapel.hygiene.window_bounds import overlapping_average_bounds, partly_shared_minutes
from lapel.hygiene.windows import PortRun, overlapping_average
from lapel.said import Said, listed, said

SMALL_GAP_SHARE = 0.05
"""A gap up to this part of the shift (tube changes, a walk to the gate) counts like the sampled time. Judgement."""

SHORTER_SAMPLES = said("the course of the shift: shorter samples, one after another, over the worst hours")
"""What would show how much of a sample's dose lay in the worst hours."""

ONE_AFTER_ANOTHER = said("the course of the minutes that two samples share: samples one after another")
"""What would show how much of two samples' doses lay in the minutes they share."""

TREATED_OTHERWISE: tuple[tuple[Unsampled, str], ...] = (
    ("zero", said("no exposure in the time without a sample")),
    ("mean", said("the time without a sample like the sampled time")),
    ("highest", said("the time without a sample up to the highest sample")),
)
"""How the time without a sample can be counted, in words."""

TAKEN_AS_PROVEN = said("taken as proven")
SMALL_GAP = said("a gap too small to matter")
VOID_COUNTED = said("void samples counted")
AIR_CHANGED = said("the air not even within samples that overlap")

SHIFT_PURPOSES = ("full shift", "task")


@dataclass(frozen=True, slots=True)
class Question:
    """
    One agent, one shift, one limit: the samples, the limit as compared, and the period it is averaged over.

    `compared` also says why the limit was or was not shortened.
    """

    shift: Shift
    results: Sequence[SampleResult]
    limit: LimitChoice
    compared: LimitAsCompared
    reference_min: float
    worst_hours: bool
    known: dict[Any, ShiftAverage | None]
    """Averages worked already for this shift and agent, whatever the limit."""


class ShiftJudge:
    """Averages and verdicts over shifts, under one rule book."""

    def __init__(self, samples: Samples, book: RuleBook) -> None:
        self._samples = samples
        self._book = book
        self._chosen = Choices(cast(FlowRule, book.flow_rule))

    def shift_result(self, shift: Shift, results: Sequence[SampleResult], limits: Sequence[LimitChoice]) -> ShiftResult:
        """
        Judge one agent over one shift.

        Parameters
        ----------
        shift : Shift
        results : sequence of SampleResult
            Of one agent on this shift, for the shift or a task of it; at least one.
        limits : sequence of LimitChoice
            Long-term limits and action levels of the agent.
        """
        agent = results[0].agent
        within = [result for result in results if drew_in(shift, result)]
        used = tuple(result for result in within if result.usable)
        left_out = tuple(result for result in results if result not in used)
        standing = worst_of([result.standing for result in used]) if used else None
        if not used:
            why = listed("; ", (listed(" ", (result.sampler, why_left_out(shift, result))) for result in left_out))
            nothing = said("no sample may be used ({why})", why=why)
            return ShiftResult(shift, agent, (), left_out, {}, None, (), nothing)
        averages: dict[str, ShiftAverage] = {}
        known: dict[Any, ShiftAverage | None] = {}
        verdicts: list[LimitVerdict] = []
        not_compared: list[tuple[LimitChoice, str]] = []
        for limit in limits:
            asked = self._asked(shift, within, limit, known)
            verdict = self._verdict(asked, averages) if isinstance(asked, Question) else asked
            if isinstance(verdict, LimitVerdict):
                verdicts.append(verdict)
            else:
                not_compared.append((limit, verdict))
        note = "" if verdicts else not_compared[0][1] if not_compared else said("no long-term limit is stated")
        return ShiftResult(shift, agent, used, left_out, averages, standing, tuple(verdicts), note, tuple(not_compared))

    def _verdict(self, asked: Question, averages: dict[str, ShiftAverage]) -> LimitVerdict | str:
        average = self._average(asked, self._chosen)
        if average is None:
            return no_figure(asked.limit, asked.results)
        averages[_over_what(asked.limit.unit, asked.reference_min, worst=asked.worst_hours)] = average
        value, limit = asked.compared.value, asked.limit
        compared = compare(average.lower, average.upper, value)
        others = self._other_choices(asked, average, compared)
        settles = settled_by(
            compared,
            average.lower,
            average.upper,
            value,
            others,
            facts=self._open_facts(asked, average),
        )
        return LimitVerdict(
            limit,
            value,
            compared,
            tuple(others),
            is_robust(compared.verdict, others),
            settles,
            drives(average.upper),
            asked.compared.note,
            average,
            asked.compared.shortened_for,
        )

    def _asked(
        self, shift: Shift, results: Sequence[SampleResult], limit: LimitChoice, known: dict[Any, ShiftAverage | None]
    ) -> Question | str:
        """
        Limit as compared, the period it is averaged over, and whether the worst hours of the shift are meant.

        A limit's own averaging time goes before any treatment of long shifts: one stated for up to ten hours holds for
        a ten-hour shift as it stands, whatever model is asked for; one stated for four is held against the worst four
        hours. Words where nothing can be compared.
        """
        length, reference = shift_minutes(shift), shift.reference_min
        own = limit.averaging_min or reference
        model = limit.extended_shift_model or self._book.extended_shift

        def question(period: float, compared: LimitAsCompared | None = None, *, worst_hours: bool = False) -> Question:
            as_stated = compared or LimitAsCompared(limit_figure(limit))
            return Question(shift, results, limit, as_stated, period, worst_hours=worst_hours, known=known)

        if own < reference and own < length - LONG_SHIFT_SLACK_MIN:
            return question(own, worst_hours=True)
        if length <= reference + LONG_SHIFT_SLACK_MIN:
            return question(reference)
        if own > reference and length <= own + LONG_SHIFT_SLACK_MIN and model not in WEEKLY_MODELS:
            return question(length, stated_for_long_days(limit, shift, model))
        if model == "eight-hour equivalent":
            return question(max(reference, own))
        if model == "worst eight hours":
            return question(max(reference, own), worst_hours=True)
        if model == "none":
            return question(min(length, max(reference, own)))
        shortened = shortened_for(limit, shift, cast(ExtendedShiftModel, model))
        return shortened if isinstance(shortened, str) else question(length, shortened)

    def _average(self, asked: Question, choices: Choices) -> ShiftAverage | None:
        key = (asked.limit.unit, asked.reference_min, asked.worst_hours, choices)
        if key not in asked.known:
            asked.known[key] = self._averaged(asked, choices)
        return asked.known[key]

    def _averaged(self, asked: Question, choices: Choices) -> ShiftAverage | None:
        shift, reference_min = asked.shift, asked.reference_min
        runs = [run for result in asked.results for run in self._port_runs(shift, result, asked.limit.unit, choices)]
        if not runs:
            return None
        length = max(shift_minutes(shift), covered(runs))
        gap = length - covered(runs)
        unsampled, reason = choices.unsampled or shift.unsampled, shift.unsampled_reason
        if choices.unsampled == "zero":
            reason = TAKEN_AS_PROVEN
        elif choices.unsampled is None and gap <= SMALL_GAP_SHARE * length and unsampled == "zero" and not reason:
            unsampled, reason = "mean", SMALL_GAP
        if asked.worst_hours:
            return worst_hours(runs, reference_min, length, gap, unsampled, reason)
        averaged = overlapping_average_bounds if choices.air_changed_within else overlapping_average
        return averaged(
            runs, reference_min=reference_min, unsampled=unsampled, shift_min=length, unsampled_reason=reason
        )

    def _overlap(self, asked: Question) -> float:
        """Minutes that two samples share in part. [min]"""
        if len(asked.results) < 2:
            return 0.0
        return partly_shared_minutes(
            run for each in asked.results for run in self._port_runs(asked.shift, each, asked.limit.unit, self._chosen)
        )

    def _port_runs(self, shift: Shift, result: SampleResult, unit: str, choices: Choices) -> list[PortRun]:
        if not result.usable and not (choices.with_void and result.concentration is not None):
            return []
        concentration = result.in_unit(unit)
        if choices.flow_rule != self._chosen.flow_rule or choices.blank_use != self._chosen.blank_use:
            worked = self._samples.worked(
                result.sampler, result.agent.key, rule=choices.flow_rule, blank_use=choices.blank_use
            )
            concentration = claimed(worked.ppm if unit == "ppm" else worked.concentration, result)
        if concentration is None:
            return []
        origin = shift.start.timestamp() / 60.0
        return [
            PortRun(
                concentration,
                part.segment.start.timestamp() / 60.0 - origin,
                part.segment.stop.timestamp() / 60.0 - origin,
                f"{result.sampler} on port {part.segment.port}",
            )
            for part in result.segments
            if part.segment.stop is not None and part.segment.stop > part.segment.start
        ]

    def _other_choices(self, asked: Question, average: ShiftAverage, compared: Comparison) -> list[OtherChoice]:
        """Verdicts under every other choice that makes a difference here."""

        def under(words: str, choices: Choices, settled: str) -> OtherChoice | None:
            far = _far_from_the_limit(used, words, choices, average, compared)
            if far is not None:
                return far
            other = self._average(asked, choices)
            return other_choice(words, compare(other.lower, other.upper, value) if other else None, settled)

        value = asked.compared.value

        found: list[OtherChoice | None] = []
        used = [result for result in asked.results if result.usable]
        if any(part.change for result in used for part in result.segments):
            flow = SETTLING_CAUSES["flow drift"]
            found += [
                under(words, Choices(rule), flow) for rule, words in OTHER_FLOWS if rule != self._chosen.flow_rule
            ]
        if any(we_subtracted(result) for result in used):
            choices = Choices(self._chosen.flow_rule, blank_use="leave")
            found.append(under(BLANK_LEFT_IN, choices, SETTLING_CAUSES["blank"]))
        if _has_gap(average):
            settled = _in_the_gap(asked, average)
            for treatment, words in TREATED_OTHERWISE:
                if treatment != asked.shift.unsampled:
                    choices = Choices(self._chosen.flow_rule, unsampled=treatment)
                    found.append(under(words, choices, settled))
        void = [result.sampler for result in asked.results if result.concentration is not None and not result.usable]
        if void:
            choices = Choices(self._chosen.flow_rule, with_void=True)
            found.append(under(VOID_COUNTED, choices, _in_place_of(void)))
        if self._book.decision == "sampling and analytical error" and not _has_gap(average):
            found.append(by_stated_error(used, value, average))
        if not asked.worst_hours and self._overlap(asked) > SMALL_GAP_SHARE * average.shift_min:
            choices = Choices(self._chosen.flow_rule, air_changed_within=True)
            found.append(under(AIR_CHANGED, choices, ONE_AFTER_ANOTHER))
        if average.within_runs is not None:
            words = said(
                "all that was breathed in the shift within its worst {hours} h",
                hours=f"{average.reference_min / 60:g}",
            )
            found.append(other_choice(words, compare(average.lower, average.within_runs, value), SHORTER_SAMPLES))
        for words, other_value, settled in asked.compared.others:
            found.append(other_choice(words, compare(average.lower, average.upper, other_value), settled))
        return [choice for choice in found if choice is not None]

    def _open_facts(self, asked: Question, average: ShiftAverage) -> Iterator[tuple[str, Callable[[], bool]]]:
        """Facts outside the uncertainty budget that could settle a verdict, each with its test."""

        def definite(choices: Choices) -> bool:
            other = self._average(asked, choices)
            return other is not None and compare(other.lower, other.upper, value).verdict != "cannot tell"

        value, results = asked.compared.value, asked.results

        if average.unsampled_min > 0.0:
            yield _in_the_gap(asked, average), lambda: definite(Choices(self._chosen.flow_rule, unsampled="zero"))
        void = [result.sampler for result in results if result.concentration is not None and not result.usable]
        if void:
            yield _in_place_of(void), lambda: definite(Choices(self._chosen.flow_rule, with_void=True))
        bounded = [r.sampler for r in results if r.usable and r.concentration and r.concentration.sense == "at most"]
        if bounded:
            words = said("a lower reporting limit or more air on {samplers}", samplers=", ".join(bounded))
            yield words, lambda: average.lower.value < value.value < average.upper.value
        lost = [r.sampler for r in results if r.usable and r.concentration and r.concentration.sense == "at least"]
        if lost:
            words = said(
                "what {samplers} may have lost: another sample on a larger sampler or with less air",
                samplers=", ".join(lost),
            )
            yield words, lambda: average.lower.value <= value.value


def _far_from_the_limit(
    used: Sequence[SampleResult], words: str, choices: Choices, average: ShiftAverage, compared: Comparison
) -> OtherChoice | None:
    """
    Return the same verdict under another flow where the limit is so far that nothing else can come out.

    For one sample the average is proportional to 1/V, so the other flow only scales it. Twice the uncertainty is
    allowed for; what is not clear even so is worked in full.
    """
    if (
        len(used) != 1
        or average.is_interval
        or average.upper.sense != "exactly"
        or choices != Choices(choices.flow_rule)
    ):
        return None
    parts = used[0].segments
    volume = sum(part.volume.value for part in parts if part.volume is not None)
    other = sum(_flow_value(part, choices.flow_rule) * part.minutes.value for part in parts if part.minutes is not None)
    if not volume > 0.0 or not other > 0.0:
        return None
    ratio = compared.ratio_high * volume / other
    spread = 2.0 * (compared.ucl - compared.ratio_high) * volume / other
    same = ratio + spread <= 1.0 if compared.verdict == "under" else ratio - spread > 1.0
    return OtherChoice(words, compared.verdict, ratio, ratio) if same and compared.verdict != "cannot tell" else None


def _flow_value(part: SegmentFlow, rule: FlowRule) -> float:
    """Flow of a segment under a rule, as a plain number. [L/min]"""
    flows = [each.value for each in (part.before, part.after) if each is not None and each.value > 0.0]
    if len(flows) < 2 or rule == "mean":
        return sum(flows) / len(flows) if flows else 0.0
    return {"lower": min(flows), "higher": max(flows), "pre": flows[0], "post": flows[1]}[rule]


def _has_gap(average: ShiftAverage) -> bool:
    """Whether more of the shift went without a sample than a change of tubes."""
    return average.unsampled_min > SMALL_GAP_SHARE * average.shift_min


def _in_the_gap(asked: Question, average: ShiftAverage) -> str:
    """What the time without a sample would have to tell."""
    if asked.worst_hours:
        return said("what was breathed in the {minutes} min without a sample", minutes=f"{average.unsampled_min:g}")
    reach = unsampled_concentration_to_reach(average, asked.compared.value)
    return to_reach(reach, average.unsampled_min, asked.limit.unit)


def _in_place_of(void: Sequence[str]) -> str:
    return said(
        "a sample in place of {samplers}, which is void"
        if len(void) == 1
        else "a sample in place of {samplers}, which are void",
        samplers=", ".join(void),
    )


@lru_cache(maxsize=256)
def _over_what(unit: str, minutes: float, *, worst: bool) -> Said:
    """What an average is of: the unit, and the period."""
    return said(
        "{unit} over the worst {minutes} min" if worst else "{unit} over {minutes} min",
        unit=unit,
        minutes=f"{minutes:g}",
    )
