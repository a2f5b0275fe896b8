"""One agent over one worker's shift: the average, each limit, and whether the verdict would survive other choices."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, cast

from lapel.assessment.inputs import LimitChoice, Shift
from lapel.assessment.results import (
    LimitVerdict,
    OtherChoice,
    SampleResult,
    SegmentFlow,
    ShiftResult,
    ShortTermResult,
)
from lapel.assessment.sample import ASSUMED_ANALYSIS_CV, BlankUse
from lapel.assessment.samples import Samples, claimed, covered_minutes
from lapel.assessment.verdicts import drives, is_robust, limit_figure, other_choice, settled_by, to_reach
from lapel.figures import Figure
from lapel.hygiene.decision import PUMP_CV, consecutive_samples_decision, single_sample_decision
from lapel.hygiene.extended_shifts import ExtendedShiftModel, extended_shift_limit
from lapel.hygiene.findings import worst_of
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.limits import Comparison, compare
from lapel.hygiene.rulebook import RuleBook
from lapel.hygiene.shift import ShiftAverage, Unsampled, unsampled_concentration_to_reach
from lapel.hygiene.short_term import ceiling_comparison, short_term_comparison
from lapel.hygiene.windows import PortRun, overlapping_average, worst_total_window

SMALL_GAP_SHARE = 0.05
"""A gap up to this part of the shift (tube changes, a walk to the gate) counts like the sampled time. Judgement."""

LONG_SHIFT_SLACK_MIN = 5.0
"""A shift this much longer than the reference period is still an ordinary one. Judgement."""

SHIFT_PURPOSES = ("full shift", "task")


@dataclass(frozen=True, slots=True)
class Choices:
    """The choices behind an average that somebody else could defend differently."""

    flow_rule: FlowRule
    blank_use: BlankUse = "subtract"
    unsampled: Unsampled | None = None
    with_void: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """One agent, one shift, one limit: the samples, the limit as compared, and the period it is averaged over."""

    shift: Shift
    results: Sequence[SampleResult]
    limit: LimitChoice
    value: Figure
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
        used = tuple(result for result in results if result.usable)
        left_out = tuple(result for result in results if not result.usable)
        standing = worst_of([result.standing for result in used]) if used else None
        if not used:
            why = "; ".join(f"{result.sampler} {result.standing.level}" for result in left_out)
            return ShiftResult(shift, results[0].agent, (), left_out, {}, None, (), f"no sample may be used ({why})")
        averages: dict[str, ShiftAverage] = {}
        known: dict[Any, ShiftAverage | None] = {}
        verdicts = []
        for limit in limits:
            verdict = self._verdict(self._asked(shift, results, limit, known), averages)
            if verdict is not None:
                verdicts.append(verdict)
        note = f"{limits[0].unit} not available" if limits and not verdicts else ""
        return ShiftResult(shift, results[0].agent, used, left_out, averages, standing, tuple(verdicts), note)

    def short_term_result(self, shift: Shift, sample: SampleResult, limits: Sequence[LimitChoice]) -> ShortTermResult:
        """Hold a sample taken for it against the short-term limits and ceilings of its agent."""
        if not sample.usable:
            return ShortTermResult(shift, sample, (), f"sample {sample.standing.level}: nothing to compare")
        verdicts = [v for limit in limits if (v := self._short_term_verdict(sample, limit)) is not None]
        return ShortTermResult(shift, sample, tuple(verdicts), "" if verdicts else "no short-term limit stated")

    # ---- long-term limits ----------------------------------------------------------------------------------------

    def _verdict(self, asked: Question, averages: dict[str, ShiftAverage]) -> LimitVerdict | None:
        average = self._average(asked, self._chosen)
        if average is None:
            return None
        averages[f"{asked.limit.unit} over {asked.reference_min:g} min"] = average
        value, limit = asked.value, asked.limit
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
        note = f"limit shortened for the long shift: {value.name}" if value is not limit_figure(limit) else ""
        return LimitVerdict(
            limit,
            value,
            compared,
            tuple(others),
            is_robust(compared.verdict, others),
            settles,
            drives(average.upper),
            note,
            average,
        )

    def _asked(
        self, shift: Shift, results: Sequence[SampleResult], limit: LimitChoice, known: dict[Any, ShiftAverage | None]
    ) -> Question:
        """Limit as compared, the period it is averaged over, and whether the worst 8 hours of the shift are meant."""
        value = limit_figure(limit)
        length, reference = shift_minutes(shift), shift.reference_min
        model = limit.extended_shift_model or self._book.extended_shift
        if length <= reference + LONG_SHIFT_SLACK_MIN or model == "eight-hour equivalent":
            return Question(shift, results, limit, value, reference, worst_hours=False, known=known)
        if model == "worst eight hours":
            return Question(shift, results, limit, value, reference, worst_hours=True, known=known)
        if model == "none":
            period = min(length, max(reference, limit.averaging_min or reference))
            return Question(shift, results, limit, value, period, worst_hours=False, known=known)
        shortened = extended_shift_limit(
            value,
            hours_per_day=length / 60.0,
            hours_per_week=shift.hours_per_week,
            model=cast(ExtendedShiftModel, model),
        )
        return Question(shift, results, limit, shortened, length, worst_hours=False, known=known)

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
        length = max(shift_minutes(shift), _covered(runs))
        if asked.worst_hours:
            worst = worst_total_window(runs, window_min=reference_min)
            words = f"the worst {reference_min / 60:g} h of the shift in total"
            return ShiftAverage(
                worst.lower,
                worst.upper,
                reference_min - worst.unsampled_min,
                worst.unsampled_min,
                reference_min,
                length,
                words,
            )
        unsampled, reason = choices.unsampled or shift.unsampled, shift.unsampled_reason
        if choices.unsampled == "zero":
            reason = "taken as proven"
        if length - _covered(runs) <= SMALL_GAP_SHARE * length and choices.unsampled is None:
            unsampled, reason = "mean", "a gap too small to matter"
        return overlapping_average(
            runs, reference_min=reference_min, unsampled=unsampled, shift_min=length, unsampled_reason=reason
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

        def under(words: str, choices: Choices) -> OtherChoice | None:
            far = _far_from_the_limit(used, words, choices, average, compared)
            if far is not None:
                return far
            other = self._average(asked, choices)
            return other_choice(words, compare(other.lower, other.upper, asked.value) if other else None)

        listed: list[OtherChoice | None] = []
        used = [result for result in asked.results if result.usable]
        if any(part.change for result in used for part in result.segments):
            rules: tuple[tuple[FlowRule, str], ...] = (
                ("lower", "the lower flow, before or after"),
                ("higher", "the higher flow, before or after"),
                ("mean", "the mean flow"),
            )
            listed += [under(words, Choices(rule)) for rule, words in rules if rule != self._chosen.flow_rule]
        if any(result.facts.blank_corrections == 1 and _we_subtracted(result) for result in used):
            listed.append(under("the blank left in", Choices(self._chosen.flow_rule, blank_use="leave")))
        if average.unsampled_min > SMALL_GAP_SHARE * average.shift_min and not asked.worst_hours:
            for treatment, words in (
                ("zero", "no exposure in the time without a sample"),
                ("mean", "the time without a sample like the sampled time"),
                ("highest", "the time without a sample up to the highest sample"),
            ):
                if treatment != asked.shift.unsampled:
                    listed.append(under(words, Choices(self._chosen.flow_rule, unsampled=treatment)))  # type: ignore[arg-type]
        if any(result.concentration is not None and not result.usable for result in asked.results):
            listed.append(under("void samples counted", Choices(self._chosen.flow_rule, with_void=True)))
        if self._book.decision == "sampling and analytical error":
            listed.append(self._by_stated_error(used, asked, average))
        return [choice for choice in listed if choice is not None]

    def _by_stated_error(
        self, used: Sequence[SampleResult], asked: Question, average: ShiftAverage
    ) -> OtherChoice | None:
        """Return the verdict by the pump's 5 % and the analysis' stated error, for samples over the whole period."""
        if average.is_interval or average.upper.sense != "exactly" or average.unsampled_min > LONG_SHIFT_SLACK_MIN:
            return None
        cvs = [result.method.analysis_cv or ASSUMED_ANALYSIS_CV for result in used]
        cv_total = max((PUMP_CV**2 + cv**2) ** 0.5 for cv in cvs)
        if len(used) == 1:
            decision = single_sample_decision(average.upper, asked.value, cv_total=cv_total)
        else:
            pairs = [
                (figure, result.facts.clock_min)
                for result in used
                if (figure := result.in_unit(asked.limit.unit)) is not None and result.run and result.run.clock_min
            ]
            if len(pairs) < len(used):
                return None
            minutes = [result.run.clock_min or 0.0 for result in used if result.run]
            exposures = [figure for figure, _ in pairs]
            decision = consecutive_samples_decision(exposures, minutes, asked.value, cv_total=cv_total)
        share = decision.severity.value
        return OtherChoice(
            f"by sampling and analytical error (pump 5 %, analysis {100 * max(cvs):g} %)",
            decision.verdict,
            share,
            share,
        )

    def _open_facts(self, asked: Question, average: ShiftAverage) -> list[tuple[str, Callable[[], bool]]]:
        """Facts outside the uncertainty budget that could settle a verdict, each with its test."""

        def definite(choices: Choices) -> bool:
            other = self._average(asked, choices)
            return other is not None and compare(other.lower, other.upper, value).verdict != "cannot tell"

        value, results = asked.value, asked.results

        facts: list[tuple[str, Callable[[], bool]]] = []
        if average.unsampled_min > 0.0 and not asked.worst_hours:
            reach = unsampled_concentration_to_reach(average, value)
            facts.append(
                (
                    to_reach(reach, average.unsampled_min, asked.limit.unit),
                    lambda: definite(Choices(self._chosen.flow_rule, unsampled="zero")),
                )
            )
        void = [result.sampler for result in results if result.concentration is not None and not result.usable]
        if void:
            facts.append(
                (
                    f"a sample in place of {', '.join(void)}, which is void",
                    lambda: definite(Choices(self._chosen.flow_rule, with_void=True)),
                )
            )
        bounded = [r.sampler for r in results if r.usable and r.concentration and r.concentration.sense == "at most"]
        if bounded:
            facts.append(
                (
                    f"a lower reporting limit or more air on {', '.join(bounded)}",
                    lambda: average.lower.value < value.value < average.upper.value,
                )
            )
        lost = [r.sampler for r in results if r.usable and r.concentration and r.concentration.sense == "at least"]
        if lost:
            facts.append(
                (
                    f"what {', '.join(lost)} may have lost: another sample on a larger sampler or with less air",
                    lambda: average.lower.value <= value.value,
                )
            )
        return facts

    # ---- short-term limits ---------------------------------------------------------------------------------------

    def _short_term_verdict(self, sample: SampleResult, limit: LimitChoice) -> LimitVerdict | None:
        concentration = sample.in_unit(limit.unit)
        minutes = sample.run.clock_min if sample.run else None
        if concentration is None or not minutes:
            return None
        value = limit_figure(limit)

        def held(figure: Figure) -> tuple[Comparison, Figure, Figure]:
            if limit.kind == "ceiling" and not limit.averaging_min:
                found = ceiling_comparison(figure, minutes, value)
            else:
                averaging = limit.averaging_min or sample.order.averaging_min or self._book.averaging_min
                found = short_term_comparison(figure, minutes, value, averaging_min=averaging)
            return found.comparison, found.lower, found.upper

        compared, lower, upper = held(concentration)
        others = []
        rules: tuple[tuple[FlowRule, str], ...] = (("lower", "the lower flow"), ("higher", "the higher flow"))
        for rule, words in rules:
            if rule != self._chosen.flow_rule and any(part.change for part in sample.segments):
                worked = self._samples.worked(sample.sampler, sample.agent.key, rule=rule, blank_use="subtract")
                figure = claimed(worked.ppm if limit.unit == "ppm" else worked.concentration, sample)
                if figure is not None and (choice := other_choice(words, held(figure)[0])) is not None:
                    others.append(choice)
        exact = abs(minutes - (limit.averaging_min or 15.0)) < 1e-9
        facts: list[tuple[str, Callable[[], bool]]] = []
        if not exact:
            facts.append((f"a sample of exactly {limit.averaging_min or 15:g} min", lambda: True))
        settles = settled_by(compared, lower, upper, value, others, facts=facts)
        return LimitVerdict(
            limit, value, compared, tuple(others), is_robust(compared.verdict, others), settles, drives(upper)
        )


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


def shift_minutes(shift: Shift) -> float:
    """Length of a shift as elapsed time, whatever the clock on the wall did. [min]"""
    return (shift.end - shift.start).total_seconds() / 60.0


def _we_subtracted(result: SampleResult) -> bool:
    return result.blank is not None and result.blank.sense != "at most"


def _covered(runs: Sequence[PortRun]) -> float:
    return covered_minutes((run.start_min, run.stop_min) for run in runs)
