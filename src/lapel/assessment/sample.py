"""One sample from its readings to its concentration, step by step as it is done by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Literal

from uncertainties import ufloat

from lapel.assessment.bench import FlowBench, RoundFlow
from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Method
from lapel.assessment.origins import row_of_report
from lapel.assessment.place_air import PlaceAir
from lapel.assessment.results import SegmentFlow
from lapel.fieldlog.state import SampleRun, Segment
from lapel.figures import Figure, Source, reading
from lapel.hygiene import (
    Air,
    clock_minutes,
    concentration,
    counter_minutes,
    flow_change,
    laboratory_mass,
    sample_volume,
    to_ppm,
    total_volume,
)
from lapel.hygiene.flow import ChangeBasis, FlowRule
from lapel.said import said

ASSUMED_ANALYSIS_CV = 0.05
"""Relative standard uncertainty of an analysis whose laboratory or method states none; working default, always said."""

BlankUse = Literal["subtract", "leave"]


@dataclass(frozen=True, slots=True)
class DrawnSegment:
    """A segment with the flows around it and its minutes, before any rule says which flow to use."""

    segment: Segment
    before: RoundFlow | None
    after: RoundFlow | None
    minutes: Figure | None


@dataclass(frozen=True, slots=True)
class AirDrawn:
    """How much air one sampler drew: every segment with its own flow."""

    segments: tuple[SegmentFlow, ...]
    volume: Figure | None


def drawn_segments(run: SampleRun, bench: FlowBench) -> tuple[DrawnSegment, ...]:
    """Find the flows before and after each segment, and its minutes by the clock or, if need be, by the counter."""
    return tuple(
        DrawnSegment(
            segment,
            bench.round_flow(segment.before) if segment.before and segment.before.readings else None,
            bench.round_flow(segment.after) if segment.after and segment.after.readings else None,
            _minutes(segment, run.sampler),
        )
        for segment in run.segments
    )


def air_drawn(
    drawn: Sequence[DrawnSegment], bench: FlowBench, *, rule: FlowRule = "mean", basis: ChangeBasis = "pre"
) -> AirDrawn:
    """
    Volume of air a sampler drew.

    Parameters
    ----------
    drawn : sequence of DrawnSegment
        Of one sampler.
    bench : FlowBench
        Where its flows were measured.
    rule : FlowRule
        Which flow stands for a segment.
    basis : ChangeBasis
        What a change of flow is a fraction of.

    Returns
    -------
    AirDrawn
        The volume is None where a segment's flow or time is not known: a part of the air is no volume of the sample.
    """
    rows = []
    for part in drawn:
        flow = bench.sample_flow(part.before, part.after, rule)
        volume = sample_volume(flow, part.minutes) if flow is not None and part.minutes is not None else None
        change = _change(part, basis)
        rows.append(
            SegmentFlow(
                part.segment,
                part.before.flow if part.before else None,
                part.after.flow if part.after else None,
                flow,
                change,
                part.minutes,
                volume,
            )
        )
    volumes = [row.volume for row in rows if row.volume is not None]
    if not rows or len(volumes) < len(rows):
        return AirDrawn(tuple(rows), None)
    return AirDrawn(tuple(rows), volumes[0] if len(volumes) == 1 else total_volume(volumes))


def mass_on_sampler(
    result: LaboratoryResult,
    report: LaboratoryReport,
    method: Method,
    blank: Figure | None,
    *,
    blank_use: BlankUse = "subtract",
    assumptions: list[str] | None = None,
) -> Figure:
    """
    Mass that was in the sampled air, from the laboratory's sections; whoever has corrected already is data.

    Raises
    ------
    ValueError
        A mass, recovery or blank that cannot be, as `lapel.hygiene.laboratory_mass` says; a mass of 0 without a
        reporting limit, which is no measurement of nothing.
    """
    limit = _reporting_limit(result, report, method)
    if not result.front_ug and not result.front_below and not result.back_ug:
        if limit is None:
            raise ValueError(said("a mass of 0 without a reporting limit says nothing of how much there may have been"))
        if assumptions is not None:
            assumptions.append(said("a mass of 0 was reported: taken as below the reporting limit"))
        result = replace(result, front_ug=limit.value, front_below=True, back_ug=None)
    front, back = _sections(result, report, method, assumptions)
    recovery = result.recovery
    return laboratory_mass(
        front,
        back,
        blank_ug=blank if blank_use == "subtract" else None,
        recovery=None
        if recovery is None
        else reading(recovery, "1", name="recovery", source=row_of_report(report.code, result.origin)),
        blank_corrected_by=report.blank_corrected_by,
        recovery_corrected_by=report.recovery_corrected_by,
        reporting_limit_ug=limit,
    )


@lru_cache(maxsize=1024)
def own_method(method: Method) -> str:
    """The sample's own method, as the survey states it, for the steps that follow it."""
    if not method.source:
        return said("method {code}", code=method.code)
    return said("method {code} ({source})", code=method.code, source=method.source)


def in_air(mass: Figure, volume: Figure) -> Figure | None:
    """Concentration of a mass in a volume; None where no air was drawn. [mg/m3]"""
    return concentration(mass, volume) if volume.value > 0.0 else None


def as_mole_ratio(mg_m3: Figure, molar_mass: float, air: Air) -> Figure:
    """Return the same concentration as a mole ratio, at the air it was taken in. [ppm]"""
    return to_ppm(mg_m3, molar_mass, air=air)


def sample_air(run: SampleRun, place_air: PlaceAir, assumptions: list[str]) -> Air | None:
    """Air a sample was taken in, None where it never ran."""
    if not run.segments:
        return None
    first, last = run.segments[0], run.segments[-1]
    return place_air.between(first.start, last.stop or last.start, assumptions)


def _change(part: DrawnSegment, basis: ChangeBasis) -> float | None:
    if part.before is None or part.after is None or not part.before.flow.value > 0.0:
        return None
    if not part.after.flow.value > 0.0:
        return -1.0
    return flow_change(part.before.flow, part.after.flow, basis=basis)


def _minutes(segment: Segment, sampler: str) -> Figure | None:
    if segment.minutes is None or segment.minutes <= 0.0:
        return None
    if segment.stop_from_counter:
        return counter_minutes(segment.minutes)
    to_the_minute = segment.start.second == 0 and (segment.stop is None or segment.stop.second == 0)
    return clock_minutes(segment.minutes, resolution_min=1.0 if to_the_minute else 1.0 / 60.0)


def _sections(
    result: LaboratoryResult, report: LaboratoryReport, method: Method, assumptions: list[str] | None
) -> tuple[Figure, Figure | None]:
    """Front and back section as figures that share the analysis' error and the sampler's."""
    relative_u = result.relative_u if result.relative_u is not None else method.analysis_cv
    if relative_u is None:
        relative_u = ASSUMED_ANALYSIS_CV
        if assumptions is not None:
            share = f"{100 * relative_u:g}"
            assumptions.append(said("no uncertainty of the analysis stated: {share} % taken", share=share))
    shared: Any = ufloat(1.0, relative_u, tag="laboratory analysis") if relative_u else 1.0
    if method.sampling_cv:
        shared = shared * ufloat(1.0, method.sampling_cv, tag="sampler: collection and storage")
    place = row_of_report(report.code, result.origin)
    front = Figure(
        shared * result.front_ug if result.front_ug else 0.0,
        "ug",
        name="front section" if result.back_ug is not None else "mass reported",
        sense="at most" if result.front_below else "exactly",
        source=place,
    )
    if result.back_ug is None:
        return front, None
    back = Figure(
        shared * result.back_ug if result.back_ug and not result.back_below else float(result.back_ug),
        "ug",
        name="back section",
        sense="at most" if result.back_below else "exactly",
        source=place,
    )
    return front, back


def _reporting_limit(result: LaboratoryResult, report: LaboratoryReport, method: Method) -> Figure | None:
    if result.reporting_limit_ug:
        return _limit(result.reporting_limit_ug, row_of_report(report.code, ""))
    return _limit(method.reporting_limit_ug, ("method {code}", method.code)) if method.reporting_limit_ug else None


@lru_cache(maxsize=1024)
def _limit(value: float, source: Source) -> Figure:
    return reading(value, "ug", name="reporting limit", source=source, sense="at most")
