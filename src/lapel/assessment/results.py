"""What an assessment says, as plain data: samples, shifts, comparisons, and how sure each of them is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from lapel.assessment.inputs import Agent, LaboratoryResult, LimitChoice, Method, SampleOrder, Shift, Survey
from lapel.fieldlog.state import Day, SampleRun, Segment
from lapel.figures import Figure
from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.findings import Standing
from lapel.hygiene.limits import Comparison
from lapel.hygiene.rulebook import RuleBook
from lapel.hygiene.shift import ShiftAverage
from lapel.said import listed, said

Verdict: TypeAlias = Literal["under", "over", "cannot tell"]
GRAVEST_FIRST: tuple[Verdict, ...] = ("over", "cannot tell", "under")
"""The order in which verdicts are told: what is open is graver than what is under."""


@dataclass(frozen=True, slots=True)
class SegmentFlow:
    """One segment with its flows before and after, the flow used and the volume drawn; None where not known."""

    segment: Segment
    before: Figure | None
    after: Figure | None
    flow: Figure | None
    change: float | None
    minutes: Figure | None
    volume: Figure | None


@dataclass(frozen=True, slots=True)
class SampleResult:
    """
    One agent on one sampler.

    Attributes
    ----------
    concentration, ppm : Figure or None
        In the air of the place, claimed as the bound its standing allows; None where there is none. [mg/m3, ppm]
    standing : Standing
        Under the survey's rule book; `standings` under every one shown, by key.
    assumptions : tuple of str
        What had to be assumed because it was not recorded or not reported.
    """

    sampler: str
    order: SampleOrder
    agent: Agent
    method: Method
    run: SampleRun | None
    result: LaboratoryResult | None
    segments: tuple[SegmentFlow, ...]
    flow: Figure | None
    minutes: Figure | None
    volume: Figure | None
    mass: Figure | None
    blank: Figure | None
    concentration: Figure | None
    ppm: Figure | None
    facts: SampleFacts
    standing: Standing
    standings: Mapping[str, Standing]
    assumptions: tuple[str, ...]

    @property
    def usable(self) -> bool:
        """Whether it has a concentration that may be used."""
        return self.standing.level != "void" and self.concentration is not None

    def in_unit(self, unit: str) -> Figure | None:
        """Concentration in the unit of a limit."""
        return self.ppm if unit == "ppm" else self.concentration


@dataclass(frozen=True, slots=True)
class OtherChoice:
    """A defensible choice that was not made, the verdict it would give, and what would show which choice holds."""

    words: str
    verdict: Verdict
    ratio_low: float
    ratio_high: float
    settled_by: str = ""


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """
    An exposure held against one limit.

    Attributes
    ----------
    limit_value : Figure
        The limit as compared, shortened for a long shift where the rule book or the survey says so.
    comparison : Comparison
        Verdict, interval as shares of the limit, and the reason in words.
    others : tuple of OtherChoice
        The same under every other defensible choice.
    robust : bool
        None of them changes the verdict.
    settles : str
        What would settle a verdict that is open or not robust, in words; empty where nothing is open.
    drives : str
        The cause that brings most of the uncertainty.
    note : str
        Why the limit was or was not shortened for a long shift; empty where there is nothing to say.
    average : ShiftAverage or None
        The average that was compared; None for a short-term sample.
    shortened_for : str
        What the limit was shortened for (“10 h”); empty where it stands as its authority states it.
    """

    limit: LimitChoice
    limit_value: Figure
    comparison: Comparison
    others: tuple[OtherChoice, ...] = ()
    robust: bool = True
    settles: str = ""
    drives: str = ""
    note: str = ""
    average: ShiftAverage | None = None
    shortened_for: str = ""


@dataclass(frozen=True, slots=True)
class ShiftResult:
    """
    One agent over one worker's shift; no averages and no verdicts where no sample of it may be used.

    Attributes
    ----------
    samples, left_out : tuple of SampleResult
        Those that may be used, and those that may not.
    not_compared : tuple of (LimitChoice, str)
        Limits nothing could be held against, and why.
    """

    shift: Shift
    agent: Agent
    samples: tuple[SampleResult, ...]
    left_out: tuple[SampleResult, ...]
    averages: Mapping[str, ShiftAverage]
    standing: Standing | None
    verdicts: tuple[LimitVerdict, ...]
    note: str = ""
    not_compared: tuple[tuple[LimitChoice, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ShortTermResult:
    """One agent on a sample taken for a short-term or ceiling limit; `not_compared` as in `ShiftResult`."""

    shift: Shift
    sample: SampleResult
    verdicts: tuple[LimitVerdict, ...]
    note: str = ""
    not_compared: tuple[tuple[LimitChoice, str], ...] = ()


@dataclass(frozen=True, slots=True)
class MixtureResult:
    """
    Agents with like effects, added up over one shift by one authority's limits.

    Attributes
    ----------
    agents, shares : tuple of str, mapping of str to float
        Names of who is in the sum, and the part of the upper index that each brings.
    missing : tuple of str
        Agents of the group without a usable result: the sum is then only a least value.
    without_limit : tuple of str
        Agents of the group for which this authority states no limit here.
    """

    shift: Shift
    authority: str
    effect_group: str
    agents: tuple[str, ...]
    shares: Mapping[str, float]
    lower: Figure
    upper: Figure
    comparison: Comparison
    missing: tuple[str, ...] = ()
    without_limit: tuple[str, ...] = ()

    @property
    def reason(self) -> str:
        """Why, of the index and 1, and who is not in the sum."""
        sentences: list[str] = [self.comparison.why("index")]
        if self.missing:
            sentences.append(said("Not in the sum, for want of a result: {agents}.", agents=listed(", ", self.missing)))
        if self.without_limit:
            sentences.append(
                said(
                    "Not in the sum, for no long-term limit of {authority} is stated for it: {agents}.",
                    authority=said(self.authority),
                    agents=listed(", ", self.without_limit),
                )
            )
        return listed(" ", sentences)

    @property
    def settles(self) -> str:
        """What could change the verdict: a result that is lacking; empty where none is, or it is over without."""
        if not self.missing or self.comparison.verdict == "over":
            return ""
        return said("a result for {agents}", agents=listed(", ", self.missing))


@dataclass(frozen=True, slots=True)
class BlankResult:
    """What one blank carried, by agent; None where the laboratory gave no result for it."""

    blank: str
    medium: str
    lot: str
    use: str
    masses: Mapping[str, Figure | None]


@dataclass(frozen=True, slots=True)
class SurveyAssessment:
    """Everything an assessment of a survey says."""

    survey: Survey
    day: Day
    rule_book: RuleBook
    compared: tuple[RuleBook, ...]
    samples: tuple[SampleResult, ...]
    shifts: tuple[ShiftResult, ...]
    short_terms: tuple[ShortTermResult, ...]
    mixtures: tuple[MixtureResult, ...]
    blanks: tuple[BlankResult, ...]
    notes: tuple[str, ...] = ()
    kernel_version: str = ""
    extras: Mapping[str, str] = field(default_factory=dict)

    @property
    def has_findings(self) -> bool:
        """Whether a person must look at something: a finding, a note, an open verdict, an exposure over a limit."""
        return (
            any(sample.standing.findings or sample.standing.idle_overrides for sample in self.samples)
            or any(not shift.verdicts or shift.not_compared for shift in self.shifts)
            or any(not short.verdicts or short.not_compared for short in self.short_terms)
            or any(v.comparison.verdict != "under" for s in self.shifts for v in s.verdicts)
            or any(v.comparison.verdict != "under" for s in self.short_terms for v in s.verdicts)
            or any(mixture.comparison.verdict != "under" for mixture in self.mixtures)
            or bool(self.day.conflicts or self.day.unusable or self.notes)
        )
