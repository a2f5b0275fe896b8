"""What the rules may ask about a sample, gathered from the log, the survey and the laboratory."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from lapel.assessment.bench import FlowBench
from lapel.assessment.delivered_results import not_analysed_note
from lapel.assessment.inputs import (
    LaboratoryReport,
    LaboratoryResult,
    LimitChoice,
    MediaLot,
    Method,
    SampleOrder,
    Survey,
)
from lapel.assessment.pump_stop import StopsInDoubt, post_round_waiting
from lapel.assessment.sample import DrawnSegment, own_method
from lapel.fieldlog.kit import KIT_DIFFERS
from lapel.fieldlog.state import Day, FlowReading, FlowRound, Preparation, SampleRun
from lapel.figures import Figure, display_unit
from lapel.hygiene.facts import FlowPair, SampleFacts
from lapel.said import said

ZERO_CELSIUS_K = 273.15
NO_DOUBT = StopsInDoubt()


def sample_facts(
    *,
    survey: Survey,
    day: Day,
    order: SampleOrder,
    method: Method,
    run: SampleRun | None,
    drawn: Sequence[DrawnSegment],
    bench: FlowBench,
    flow: Figure | None,
    volume: Figure | None,
    mass: Figure | None,
    concentration: Figure | None,
    result: LaboratoryResult | None,
    duplicate: bool,
    batch: BatchBlanks,
    limit: LimitChoice | None,
    limit_mg_m3: float | None,
    sampled_share: float | None,
    air_assumed: bool,
    humidity_percent: float | None,
    stops: StopsInDoubt = NO_DOUBT,
) -> SampleFacts:
    """
    Gather the facts about one agent on one sampler; what nobody recorded stays None.

    Parameters
    ----------
    limit, limit_mg_m3 : LimitChoice and float, optional
        The strictest limit this sample serves, and its value by mass, for shares of it.
    sampled_share : float, optional
        Part of the worker's shift sampled for this agent, all usable samplers together. [-]
    stops : StopsInDoubt
        What is in doubt about the pump's stops.

    Returns
    -------
    SampleFacts
    """
    report = survey.reports.get(result.report) if result else None
    why_none = survey.notes.get(not_analysed_note(order.sampler, method.agent))
    preparations = _preparations(day, run)
    segments = run.segments if run else ()
    lot = survey.media_lots.get(run.lot) if run and run.lot else None
    reads = [read for part in segments for each in (part.before, part.after) if each for read in each.readings]
    certified = [(bench.meter_of(read), bench.day_of(read)) for read in reads]
    meters = list({meter.name: meter for meter, _ in certified}.values())
    zone = ZoneInfo(survey.site.zone)
    used_on = segments[0].start.astimezone(zone).date() if segments else None
    rounds_after = [post_round_waiting(s, day.preparation_of(s)) for s in segments]
    share = concentration.value / limit_mg_m3 if concentration is not None and limit_mg_m3 else None
    reporting_limit = _reporting_limit_ug(result, method)
    parcel = day.parcels.get(run.parcel) if run and run.parcel else None
    return SampleFacts(
        sampler=order.sampler,
        agent=method.agent,
        purpose=order.purpose,
        flow_pairs=tuple(_flow_pair(part, bench, each) for part, each in zip(drawn, rounds_after, strict=True)),
        closing_round=all(s.before is not None and s.before.declared for s in segments) if segments else None,
        valve_touched=_any(each.valve_touched for each in rounds_after if each),
        recharged=_any(each.recharged for each in rounds_after if each),
        battery_changed=_any(each.battery_changed for each in rounds_after if each),
        same_meter=_same_meter(drawn),
        post_done=all(each is not None for each in rounds_after) if segments else None,
        leak_check_passed=_leak_check(preparations, run),
        readings_off_range=bench.off_range(_once(reads)),
        certificate_days_left=min(
            ((meter.due_on - day).days for meter, day in certified if meter.due_on), default=None
        ),
        certificate_missing=any(not meter.certificate or meter.due_on is None for meter in meters) if meters else None,
        meter_kinds=tuple(dict.fromkeys(meter.kind for meter in meters)),
        rotameter_corrected=all(m.calibrated_at is not None for m in meters if m.kind == "rotameter")
        if any(m.kind == "rotameter" for m in meters)
        else None,
        standard_unknown=bench.standard_unknown(_once(reads)),
        method_source=own_method(method),
        flow_lpm=flow.value if flow else None,
        method_flow_min_lpm=method.flow_min_lpm,
        method_flow_max_lpm=method.flow_max_lpm,
        port_flow_ratio=_port_flow_ratio(preparations, bench),
        volume_l=volume.value if volume else None,
        method_volume_min_l=method.volume_min_l,
        method_volume_max_l=method.volume_max_l,
        air_assumed=air_assumed,
        back_over_front=_back_over_front(result),
        back_reported=result.back_ug is not None if result else None,
        two_sections=method.two_sections,
        blanks_count=batch.count,
        blanks_wanted=_blanks_wanted(method, batch.samples),
        samples_in_batch=batch.samples,
        blank_ug=batch.largest_ug,
        blank_below_limit=batch.largest_below,
        sample_ug=mass.value if mass else None,
        limit_equivalent_ug=limit_mg_m3 * volume.value if limit_mg_m3 and volume else None,
        blank_corrections=_blank_corrections(report, batch),
        clock_min=run.pump_clock_min if run else None,
        counter_min=run.pump_counter_min if run else None,
        stop_from_counter=any(s.stop_from_counter for s in segments) if segments else None,
        stop_unknown=stops.unknown,
        stop_from_removal=stops.taken_from_removal,
        faults=run.faults if run else None,
        restarts=run.restarts if run else None,
        held_min=run.held_min if run else None,
        touched_in_run=run.touched_in_run if run else None,
        days_past_expiry=_days_past_expiry(run, lot, used_on),
        medium_wanted=method.medium,
        medium_fitted=(run.medium or (lot.medium if lot else None)) if run else None,
        medium_seen_by_laboratory=result.medium or None if result else None,
        sorbent_family=lot.family or None if lot else None,
        kit_sheet_differences=_kit_sheet_differences(day, run, preparations),
        at_laboratory=result is not None or bool(why_none) if survey.reports else None,
        result_present=result is not None if survey.reports else None,
        not_analysed=why_none if result is None else None,
        duplicate_result=duplicate,
        holding_days=_holding_days(run, result, report, zone),
        holding_days_max=method.holding_days,
        receipt_temperature_c=report.receipt_temperature_k - ZERO_CELSIUS_K
        if report and report.receipt_temperature_k is not None
        else None,
        receipt_temperature_max_c=method.receipt_max_c,
        custody_gap_h=max((gap.hours for gap in parcel.gaps), default=0.0) if parcel and parcel.hops else None,
        seal_intact=None if parcel is None or parcel.seal_broken is None else not parcel.seal_broken,
        averaging_min=order.averaging_min or (15.0 if order.purpose == "short term" else None),
        hours_since_charge=_hours_since_charge(preparations, segments[0].start if segments else None),
        warm_up_min=min((p.warm_up_min for p in preparations if p.warm_up_min is not None), default=None),
        first_check_min=_first_check_min(run),
        longest_check_gap_min=_longest_check_gap_min(run),
        sampled_share=sampled_share if order.purpose == "full shift" else None,
        reporting_limit_share=reporting_limit / volume.value / limit_mg_m3
        if reporting_limit and volume and volume.value and limit_mg_m3
        else None,
        reporting_limit_of=_limit_words(limit, survey.agents[method.agent].name) if limit else None,
        mass_over_reporting_limit=_over_reporting_limit(result, reporting_limit),
        limit_has_source=bool(limit.source.strip()) if limit else None,
        limit_age_days=(survey.assessed_on - limit.as_of).days if limit and limit.as_of else None,
        humidity_percent=humidity_percent,
        recovery=result.recovery if result else None,
        laboratory_volume_ratio=result.volume_l / volume.value if result and result.volume_l and volume else None,
        laboratory_concentration_ratio=result.concentration_mg_m3 / concentration.value
        if result and result.concentration_mg_m3 and concentration and concentration.value
        else None,
        conflicts=tuple(one.words for one in run.conflicts if not stops.explains(one)) if run else (),
        expanded_relative_u=2.0 * concentration.relative_uncertainty
        if concentration is not None and concentration.sense == "exactly" and concentration.value
        else None,
        exposure_share_of_limit=share,
    )


class BatchBlanks:
    """The field blanks that speak for one agent on one lot: how many have a result, and what they carried."""

    __slots__ = ("blank", "count", "largest_below", "largest_ug", "samples")

    def __init__(self, blank: Figure | None, masses: Sequence[Figure], samples: int) -> None:
        self.blank = blank
        self.count = len(masses)
        self.samples = samples
        largest = max(masses, key=lambda mass: (mass.sense != "at most", mass.value), default=None)
        self.largest_ug = largest.value if largest else None
        self.largest_below = largest.sense == "at most" if largest else None


def _blanks_wanted(method: Method, samples: int) -> int | None:
    """Return the blanks the method itself wants for a batch; None where it states nothing and the rule book decides."""
    if method.blanks_min is None and method.blanks_share is None:
        return None
    return max(method.blanks_min or 0, math.ceil(round((method.blanks_share or 0.0) * samples, 9)))


def _any(answers: Iterable[bool | None]) -> bool | None:
    """True if one says so, False if all that were asked say no, None if nobody was asked."""
    known = [answer for answer in answers if answer is not None]
    return any(known) if known else None


def _once(reads: Iterable[FlowReading]) -> Iterable[FlowReading]:
    return {read.entry_id: read for read in reads}.values()


def _preparations(day: Day, run: SampleRun | None) -> list[Preparation]:
    return list({s.preparation: day.preparation_of(s) for s in run.segments}.values()) if run else []


def _flow_pair(part: DrawnSegment, bench: FlowBench, round_after: FlowRound | None) -> FlowPair:
    """Flows around a segment; a reading that waits for the segment's stop is a reading."""
    before, after = part.before, part.after
    if after is None and round_after is not None and round_after.readings:
        after = bench.round_flow(round_after)
    return FlowPair(
        part.segment.port,
        before.flow.value if before else None,
        after.flow.value if after else None,
        before.spread if before else None,
        after.spread if after else None,
        before.n if before else None,
        after.n if after else None,
    )


def _same_meter(drawn: Sequence[DrawnSegment]) -> bool | None:
    pairs = [(part.before.meters, part.after.meters) for part in drawn if part.before and part.after]
    return all(set(before) == set(after) for before, after in pairs) if pairs else None


def _kit_sheet_differences(day: Day, run: SampleRun | None, preparations: Sequence[Preparation]) -> tuple[str, ...]:
    """Say where the sheet that holds for the port differs from pump, calibration tube or sampler as they were used."""
    if run is None:
        return ()
    sheets = {p.kit[run.port].entry_id for p in preparations if run.port in p.kit}
    used = {p.entry_id for p in preparations} | {
        p.ports[run.port].entry_id for p in preparations if run.port in p.ports
    }
    return tuple(
        remark.words
        for remark in day.remarks
        if remark.about == KIT_DIFFERS and remark.entry_ids[0] in sheets
        if remark.entry_ids[1] in used or (remark.entry_ids[1] in run.entry_ids and run.sampler in remark.samplers)
    )


def _leak_check(preparations: Sequence[Preparation], run: SampleRun | None) -> bool | None:
    """Last word of the leak checks that concern the sample's port."""
    checks = [check for p in preparations for check in p.leak_checks if run and check.port in ("", run.port)]
    return min(checks, key=lambda check: (check.passed, check.at)).passed if checks else None


def _port_flow_ratio(preparations: Sequence[Preparation], bench: FlowBench) -> float | None:
    worst: float | None = None
    for preparation in preparations:
        for closing in preparation.closing_rounds[-1:]:
            flows = [bench.round_flow(each).flow.value for each in closing.ports.values() if each.readings]
            if len(flows) > 1 and min(flows) > 0.0:
                worst = max(worst or 0.0, max(flows) / min(flows))
    return worst


def _reporting_limit_ug(result: LaboratoryResult | None, method: Method) -> float | None:
    if result and result.reporting_limit_ug:
        return result.reporting_limit_ug
    if result and result.front_below:
        return result.front_ug
    return method.reporting_limit_ug


def _over_reporting_limit(result: LaboratoryResult | None, reporting_limit_ug: float | None) -> float | None:
    """Mass found over the reporting limit, as reported; None for a non-detect or where no limit is known. [-]"""
    if result is None or result.front_below or not reporting_limit_ug:
        return None
    back_ug = result.back_ug if result.back_ug is not None and not result.back_below else 0.0
    return (result.front_ug + back_ug) / reporting_limit_ug


def _limit_words(limit: LimitChoice, agent: str) -> str:
    """Which limit a share is of: authority, kind, agent and value."""
    return _limit_of(limit.authority, limit.kind, agent, limit.value, limit.unit)


@lru_cache(maxsize=1024)  # one for every sample it is about
def _limit_of(authority: str, kind: str, agent: str, value: float, unit: str) -> str:
    return said(
        "the {authority} {kind} for {agent}, {value} {unit}",
        authority=said(authority),
        kind=said(kind),
        agent=agent,
        value=f"{value:g}",
        unit=display_unit(unit),
    )


def _back_over_front(result: LaboratoryResult | None) -> float | None:
    """Back over front section; 0 where the back section is below its limit, None where the front is."""
    if result is None or result.back_ug is None or result.front_below or not result.front_ug:
        return None
    return 0.0 if result.back_below else result.back_ug / result.front_ug


def _blank_corrections(report: LaboratoryReport | None, batch: BatchBlanks) -> int | None:
    """Return how often a blank was taken off: here never again once the laboratory has."""
    if report is None:
        return None
    if report.blank_corrected_by == "laboratory":
        return 1
    return 1 if batch.blank is not None and batch.blank.sense != "at most" else 0


def _days_past_expiry(run: SampleRun | None, lot: MediaLot | None, used_on: date | None) -> int | None:
    if run is None or used_on is None:
        return None
    expiry = date.fromisoformat(run.expiry) if run.expiry else (lot.expiry if lot else None)
    return (used_on - expiry).days if expiry else None


def _holding_days(
    run: SampleRun | None, result: LaboratoryResult | None, report: LaboratoryReport | None, zone: ZoneInfo
) -> float | None:
    """Days from the end of sampling, by the calendar of the place, to the analysis. [d]"""
    ends = [segment.stop for segment in run.segments if segment.stop] if run else []
    done = (result.analysed_on if result else None) or (report.samples_received_on if report else None)
    return float((done - max(ends).astimezone(zone).date()).days) if ends and done else None


def _hours_since_charge(preparations: Sequence[Preparation], start: datetime | None) -> float | None:
    charged = [p.charged_at for p in preparations if p.charged_at is not None]
    return (start - max(charged)) / timedelta(hours=1) if charged and start else None


def _span(run: SampleRun | None) -> tuple[datetime, datetime] | None:
    if run is None or not run.segments or run.segments[-1].stop is None:
        return None
    return run.segments[0].start, run.segments[-1].stop


def _first_check_min(run: SampleRun | None) -> float | None:
    span = _span(run)
    if run is None or span is None or not run.checks:
        return None
    return (run.checks[0].at - span[0]) / timedelta(minutes=1)


def _longest_check_gap_min(run: SampleRun | None) -> float | None:
    """Longest time nobody looked, the start and the end counting as looks. [min]"""
    span = _span(run)
    if run is None or span is None:
        return None
    looks = [span[0], *(check.at for check in run.checks if span[0] < check.at < span[1]), span[1]]
    return max((b - a) / timedelta(minutes=1) for a, b in itertools.pairwise(looks))
