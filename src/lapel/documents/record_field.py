"""What the field and the laboratory handed in, as texts: flows, equipment, reports, custody, the log."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Meter
from lapel.assessment.results import SegmentFlow, SurveyAssessment
from lapel.documents import compose
from lapel.documents.blank_words import blank_lines
from lapel.documents.cells import NOTHING, cell, change_cell, flow_cell, kind_cell, minutes_cell, range_cell
from lapel.documents.columns import column_widths
from lapel.documents.record_results import LANDSCAPE, MOST_ROWS, MOST_WORKED
from lapel.fieldlog.entries import Entry
from lapel.fieldlog.state import FlowReading, FlowRound
from lapel.figures import at_decimals, display_unit, first_of, percent, significant
from lapel.said import Said, Tell, as_it_is, capital, listed, said

MOST_NAMED = 12
"""Samplers named in a cell; the rest is counted."""

METER_KINDS = {
    "piston": said("dry piston"),
    "burette": said("soap-film burette"),
    "rotameter": said("rotameter"),
    "thermal": said("thermal mass meter"),
}

READS_WORDS = {"actual": said("actual flow"), "standard": said("standard flow")}


FLOW_HEAD = (
    said("Sample"), said("Port"), said("Time"), said("Ended by"), said("Readings before"), said("Flow"),
    said("Readings after"), said("Flow"), said("Change"), said("Flow used"), "min", said("Volume"),
)  # fmt: skip


def flow_table(
    assessment: SurveyAssessment, wanted: set[str] | None = None, *, tell: Tell = as_it_is
) -> dict[str, Any]:
    """Each segment of each sampler with the readings before and after it, as typed, and the flow they made."""
    zone = ZoneInfo(assessment.survey.site.zone)
    rows: list[list[str]] = []
    seen: set[str] = set()
    for sample in assessment.samples:
        if sample.sampler in seen:
            continue
        seen.add(sample.sampler)
        if (wanted is None or sample.sampler in wanted) and len(rows) < MOST_ROWS:
            rows += [_flow_row(sample.sampler, number, part, zone) for number, part in enumerate(sample.segments)]
    shown = {row[0] for row in rows if row[0]}
    left_out = said("{n} of {all} samplers stand here, as in the appendix.", n=len(shown), all=len(seen))
    head, rows = list(map(tell, FLOW_HEAD)), [list(map(tell, row)) for row in rows]
    return {
        "head": head,
        "rows": rows,
        "widths": column_widths(head, rows, size=6.8, room=LANDSCAPE, free=6, least_free=110.0),
        "left_out": "" if wanted is None else left_out,
    }


def _flow_row(sampler: str, number: int, part: SegmentFlow, zone: ZoneInfo) -> list[str]:
    segment = part.segment
    return [
        sampler if number == 0 else "",
        f"{segment.train} {segment.port}",
        _span(segment.start, segment.stop, zone),
        said("{cause}, by the counter", cause=said(segment.ended_by))
        if segment.stop_from_counter
        else said(segment.ended_by),
        readings_cell(segment.before) or segment.before_lost or NOTHING,
        flow_cell(part.before),
        readings_cell(segment.after) or segment.after_lost or NOTHING,
        flow_cell(part.after),
        change_cell((part,)),
        flow_cell(part.flow),
        minutes_cell(segment.minutes),
        cell(part.volume),
    ]


def readings_cell(flow_round: FlowRound | None) -> str:
    """Replicates of one round as they were typed, with their unit and meter."""
    if flow_round is None or not flow_round.readings:
        return ""
    first = flow_round.readings[0]
    if all(
        (r.unit, r.meter, r.volume_unit) == (first.unit, first.meter, first.volume_unit) for r in flow_round.readings
    ):
        typed = listed(", ", (_typed(reading) for reading in flow_round.readings))
        return typed + f" {first.unit or first.volume_unit}, {first.meter}"
    return listed("; ", (_typed(r) + f" {r.unit or r.volume_unit}, {r.meter}" for r in flow_round.readings))


def _typed(reading: FlowReading) -> str:
    return reading.reading or said("{volume} in {seconds} s", volume=reading.volume, seconds=reading.seconds)


def meter_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every meter with each of its certificates."""
    return [
        {
            "code": meter.code,
            "kind": METER_KINDS[meter.kind],
            "certificate": meter.certificate or said("none"),
            "certified": _day(meter.certified_on),
            "due": _day(meter.due_on),
            "range": _range(meter.range_min_lpm, meter.range_max_lpm),
            "uncertainty": _meter_uncertainty(meter),
            "scale": _scale(meter),
        }
        for latest in assessment.survey.meters.values()
        for meter in latest.certificates()
    ]


def pump_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every pump, with the trains it drew for."""
    used: dict[str, list[str]] = {}
    for train in assessment.day.trains.values():
        for preparation in train.preparations:
            used.setdefault(preparation.pump, []).append(train.code)
    return [
        {
            "code": pump.code,
            "range": _range(pump.flow_min_lpm, pump.flow_max_lpm),
            "area": pump.area_certificate or said("none stated"),
            "trains": ", ".join(dict.fromkeys(used.get(pump.code, ()))) or said("not used"),
        }
        for pump in assessment.survey.pumps.values()
    ]


def _corrector(who: str) -> Said:
    """Who made a correction before the result came: the laboratory before it reported, or this record."""
    return said("by the laboratory" if who == "laboratory" else "here")


def report_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every laboratory report, with the hash of the file as delivered."""
    return [
        {
            "code": report.code,
            "laboratory": report.laboratory,
            "received": _day(report.received_on),
            "arrived": _day(report.samples_received_on),
            "corrected": said(
                "recovery {recovery}, blank {blank}",
                recovery=_corrector(report.recovery_corrected_by),
                blank=_corrector(report.blank_corrected_by),
            ),
            "file": report.file,
            "hash": report.sha256,
        }
        for report in assessment.survey.reports.values()
    ]


def custody_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every parcel and its way; of very many, those with a gap, a broken seal or no hand-over."""
    zone = ZoneInfo(assessment.survey.site.zone)
    rows: list[dict[str, str]] = []
    many = len(assessment.day.parcels) > MOST_WORKED
    for parcel in assessment.day.parcels.values():
        if many and parcel.hops and not parcel.gaps and not parcel.seal_broken:
            continue
        hops = listed(
            "; ",
            (
                said("{at} {giver} to {receiver}", at=_moment(hop.at, zone), giver=hop.giver, receiver=hop.receiver)
                for hop in parcel.hops
            ),
        )
        gaps = listed(
            "; ",
            (
                said(
                    "{hours} h between {last} and {next}",
                    hours=at_decimals(gap.hours, 1),
                    last=gap.last_holder,
                    next=gap.next_giver,
                )
                for gap in parcel.gaps
            ),
        )
        rows.append(
            {
                "parcel": parcel.code,
                "samplers": listed(", ", parcel.samplers),
                "sealed": f"{_moment(parcel.sealed_at, zone)} {parcel.sealed_by}".strip(),
                "hops": hops or said("not handed over"),
                "gaps": gaps or said("none"),
                "seal": said({True: "found broken", False: "intact", None: "nobody looked"}[parcel.seal_broken]),
            }
        )
    return rows


def amendment_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Corrections: what was recorded, what counts now, who changed it and why."""
    rows = []
    for entry_id, amendment in assessment.day.amendments.items():
        who = "; ".join(f"{entry.author}: {entry.reason}" for entry in amendment.corrections)
        rows.append(
            {
                "entry": listed(", ", (said(amendment.recorded.kind), entry_id)),
                "recorded": _changed(amendment.recorded, amendment.counts),
                "counts": said("withdrawn")
                if amendment.counts is None
                else _changed(amendment.counts, amendment.recorded),
                "why": who,
            }
        )
    return rows


def _changed(entry: Entry, other: Entry | None) -> str:
    """Fields of an entry that differ from the other's; all that were filled in when there is none."""
    fields = {
        key: value for key, value in entry.fields.items() if value and not (other and other.fields.get(key) == value)
    }
    texts: list[str] = [listed(" ", (said(key), value)) for key, value in fields.items()]
    if other is not None and entry.at != other.at:
        texts.append(said("at {moment}", moment=f"{entry.at:%Y-%m-%d %H:%M}"))
    return listed(", ", texts) if texts else NOTHING


AHEAD = "ahead by at least {seconds} s; its instants were moved back by that"


def log_rows(assessment: SurveyAssessment) -> dict[str, list[list[str]]]:
    """Conflicts to settle, entries that count for nothing, remarks, overrides, and clocks that were off."""
    day = assessment.day
    return {
        "conflicts": [[conflict.words, ", ".join(conflict.entry_ids)] for conflict in day.conflicts],
        "unusable": [
            [listed("", (said(u.kind), f", {u.entry_id} ({u.origin})")), listed("; ", u.problems)] for u in day.unusable
        ],
        "remarks": [[remark.words, ", ".join(remark.entry_ids)] for remark in day.remarks],
        "overrides": [
            [said("{rule} on {sampler}", rule=o.rule, sampler=o.sampler), f"{o.person}: {o.reason}"]
            for o in assessment.survey.overrides
        ],
        "clocks": [
            [clock.device, said(AHEAD, seconds=at_decimals(clock.ahead_s, 0))]
            for clock in day.clocks.values()
            if clock.ahead_s > 0
        ],
        "rivals": [[listed(", ", (said(entry.kind), entry.id)), entry.origin] for entry in day.rivals],
    }


def blank_table(assessment: SurveyAssessment) -> dict[str, Any]:
    """Every blank, and what was taken off which mass; of very many, those that carried something or have no result."""
    rows = [list(row) for row in compose.blank_rows(assessment)]
    lines = blank_lines(assessment)[:MOST_ROWS]
    if len(rows) <= MOST_ROWS:
        return {"rows": rows, "left_out": "", "lines": lines}
    shown = [row for row in rows if not row[4].startswith("<")][:MOST_ROWS]
    return {
        "rows": shown,
        "left_out": said(
            "{n} of {all} rows: those that carried something or have no result.", n=len(shown), all=len(rows)
        ),
        "lines": lines,
    }


def limit_table(assessment: SurveyAssessment) -> list[dict[str, str]]:
    """Every limit with its source and date."""
    return [
        {
            "agent": assessment.survey.agents[limit.agent].name,
            "limit": listed(
                " ",
                (f"{limit.value:g} {display_unit(limit.unit)},", kind_cell(limit.authority, limit.kind)),
            )
            + ("" if limit.averaging_min is None else said(" over {minutes} min", minutes=f"{limit.averaging_min:g}")),
            "binding": said("binding" if limit.binding else "recommended"),
            "as_of": limit.as_of.isoformat() if limit.as_of else said("not stated"),
            "source": listed(". ", (part for part in (limit.source, capital(_note(limit.note))) if part)),
        }
        for limit in assessment.survey.limits
    ]


def _note(note: str) -> str:
    """The advice that stands with limits from the packaged table is ours; what somebody added to it is theirs."""
    return listed("; ", (said(part) for part in note.split("; ")))


def assumption_rows(assessment: SurveyAssessment) -> list[list[str]]:
    """Assumptions, each once, with the samplers it was made for."""
    found: dict[str, list[str]] = {}
    for sample in assessment.samples:
        for words in sample.assumptions:
            names = found.setdefault(words, [])
            if sample.sampler not in names:
                names.append(sample.sampler)
    return [[words, first_of(names, MOST_NAMED)] for words, names in found.items()]


def _span(start: datetime, stop: datetime | None, zone: ZoneInfo) -> str:
    begin = start.astimezone(zone)
    if stop is None:
        return range_cell(f"{begin:%m-%d %H:%M}", "?")
    end = stop.astimezone(zone)
    if begin.utcoffset() != end.utcoffset():
        return range_cell(f"{begin:%m-%d %H:%M %Z}", f"{end:%H:%M %Z}")
    return range_cell(f"{begin:%m-%d %H:%M}", f"{end:%H:%M}")


def _moment(at: datetime | None, zone: ZoneInfo) -> str:
    return "" if at is None else f"{at.astimezone(zone):%Y-%m-%d %H:%M}"


def _day(day: object) -> str:
    return NOTHING if day is None else str(day)


def _range(low: float | None, high: float | None) -> str:
    if low is None and high is None:
        return NOTHING
    ends = (NOTHING if end is None else f"{end:g}" for end in (low, high))
    return listed(" ", (range_cell(*ends), "L/min"))


def _meter_uncertainty(meter: Meter) -> str:
    of_reading = "" if meter.relative_u is None else said("{share} of reading", share=percent(meter.relative_u))
    of_scale = f"{significant(meter.full_scale_u_lpm, 2)} L/min" if meter.full_scale_u_lpm else ""
    if of_reading and of_scale:
        return said("{first} and {last}", first=of_reading, last=of_scale)
    return of_reading or of_scale or said("not stated")


def _scale(meter: Meter) -> str:
    text = READS_WORDS[meter.reads]
    if meter.calibrated_at is None:
        return text
    air = meter.calibrated_at.bare()
    made_for = said("made for {kelvin} K and {kpa} kPa", kelvin=f"{air.temperature_k:g}", kpa=f"{air.pressure_kpa:g}")
    return listed(", ", (text, made_for))
