"""One sample taken for it against short-term limits and ceilings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

from lapel.assessment.choices import BLANK_LEFT_IN, OTHER_FLOWS, no_figure, we_subtracted
from lapel.assessment.inputs import LimitChoice, Shift
from lapel.assessment.results import LimitVerdict, OtherChoice, SampleResult, ShortTermResult
from lapel.assessment.sample import BlankUse
from lapel.assessment.samples import Samples, claimed
from lapel.assessment.shift_time import why_left_out
from lapel.assessment.verdicts import (
    ANOTHER_SAMPLE,
    SETTLING_CAUSES,
    drives,
    is_robust,
    limit_figure,
    other_choice,
    settled_by,
)
from lapel.figures import Figure
from lapel.hygiene.flow import FlowRule
from lapel.hygiene.limits import Comparison, compare
from lapel.hygiene.rulebook import RuleBook
from lapel.hygiene.short_term import ceiling_comparison, short_term_comparison
from lapel.said import said

EVERY_INSTANT = said("a reading at every instant: no average shows that a ceiling was kept")


def short_term_result(
    samples: Samples, book: RuleBook, shift: Shift, sample: SampleResult, limits: Sequence[LimitChoice]
) -> ShortTermResult:
    """Hold a sample taken for it against the short-term limits and ceilings of its agent."""
    if not sample.usable:
        why = why_left_out(shift, sample)
        fate = said("is void") if why == "void" else why
        return ShortTermResult(shift, sample, (), said("sample {sampler} {why}", sampler=sample.sampler, why=fate))
    verdicts: list[LimitVerdict] = []
    not_compared: list[tuple[LimitChoice, str]] = []
    for limit in limits:
        verdict = _verdict(samples, book, sample, limit)
        if isinstance(verdict, LimitVerdict):
            verdicts.append(verdict)
        else:
            not_compared.append((limit, verdict))
    note = "" if verdicts else not_compared[0][1] if not_compared else said("no short-term limit is stated")
    return ShortTermResult(shift, sample, tuple(verdicts), note, tuple(not_compared))


def _verdict(samples: Samples, book: RuleBook, sample: SampleResult, limit: LimitChoice) -> LimitVerdict | str:
    concentration = sample.in_unit(limit.unit)
    minutes = sample.run.clock_min if sample.run else None
    if concentration is None:
        return no_figure(limit, [sample])
    if not minutes:
        return said("how long {sampler} ran is not known", sampler=sample.sampler)
    value = limit_figure(limit)
    at_any_instant = limit.kind == "ceiling" and not limit.averaging_min
    averaging = limit.averaging_min or sample.order.averaging_min or book.averaging_min

    def held(figure: Figure) -> tuple[Comparison, Figure, Figure]:
        if at_any_instant:
            found = ceiling_comparison(figure, minutes, value)
        else:
            found = short_term_comparison(figure, minutes, value, averaging_min=averaging)
        return found.comparison, found.lower, found.upper

    compared, lower, upper = held(concentration)
    others = _other_choices(samples, book, sample, limit, held)
    facts: list[tuple[str, Callable[[], bool]]] = []
    another = ANOTHER_SAMPLE
    if at_any_instant:
        facts.append((EVERY_INSTANT, lambda: True))
    elif abs(minutes - averaging) > 1e-9:
        facts.append(
            (
                said("a sample of exactly {minutes} min", minutes=f"{averaging:g}"),
                lambda: compare(concentration, concentration, value).verdict != "cannot tell",
            )
        )
        another = said("another sample, of exactly {minutes} min", minutes=f"{averaging:g}")
    settles = settled_by(compared, lower, upper, value, others, facts=facts, another=another)
    return LimitVerdict(
        limit, value, compared, tuple(others), is_robust(compared.verdict, others), settles, drives(upper)
    )


def _other_choices(
    samples: Samples,
    book: RuleBook,
    sample: SampleResult,
    limit: LimitChoice,
    held: Callable[[Figure], tuple[Comparison, Figure, Figure]],
) -> list[OtherChoice]:
    """Verdicts of one sample under other flows, and with the blank left in."""
    chosen = cast(FlowRule, book.flow_rule)
    tried: list[tuple[str, FlowRule, BlankUse, str]] = []
    if any(part.change for part in sample.segments):
        flow = SETTLING_CAUSES["flow drift"]
        tried = [(words, rule, "subtract", flow) for rule, words in OTHER_FLOWS if rule != chosen]
    if we_subtracted(sample):
        tried.append((BLANK_LEFT_IN, chosen, "leave", SETTLING_CAUSES["blank"]))
    others = []
    for words, rule, blank_use, settled in tried:
        worked = samples.worked(sample.sampler, sample.agent.key, rule=rule, blank_use=blank_use)
        figure = claimed(worked.ppm if limit.unit == "ppm" else worked.concentration, sample)
        if figure is not None and (choice := other_choice(words, held(figure)[0], settled)) is not None:
            others.append(choice)
    return others
