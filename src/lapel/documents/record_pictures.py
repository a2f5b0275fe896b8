"""The pictures of a calculation record: exposures beside their limits, and each sampling day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from lapel.assessment.results import LimitVerdict, SampleResult, SurveyAssessment
from lapel.documents import compose
from lapel.documents.cells import kind_cell, minutes_cell, significant_as_stated
from lapel.documents.compose import VerdictRow
from lapel.documents.render import Picture
from lapel.fieldlog.state import FlowRound
from lapel.hygiene.findings import Level
from lapel.pictures.day_timeline import Event, EventKind, Span, TimelineRow, day_timeline
from lapel.pictures.verdict_strip import StripRow, verdict_strip
from lapel.said import Tell, as_it_is, listed, said

ROUND_READ = {
    "closing": "flow read (closing round)",
    "post": "flow read (post round)",
}

MOST_PORTS = 32
"""Ports in one picture of a day; more make another one."""


def strip_picture(
    pairs: Sequence[tuple[VerdictRow, LimitVerdict | None]], name: str, *, tell: Tell = as_it_is
) -> Picture | None:
    """Draw exposures beside their limits; None where nothing was compared."""
    rows = [_strip_row(row, verdict) for row, verdict in pairs if verdict is not None]
    if not rows:
        return None
    drawn = verdict_strip(rows, name=name, tell=tell)
    return Picture(drawn.svg(), drawn.words)


def _strip_row(row: VerdictRow, verdict: LimitVerdict) -> StripRow:
    compared = verdict.comparison
    return StripRow(
        exposure=row.agent,
        limit=_limit_label(verdict),
        low=compared.ratio_low,
        high=compared.ratio_high,
        lower_limit=compared.lcl,
        upper_limit=compared.ucl,
        verdict=row.verdict,
        words=said("{share} of the limit", share=row.share),
    )


def _limit_label(verdict: LimitVerdict) -> str:
    """A limit beside its row of the picture; what it was shortened from stands in the table below."""
    kind = kind_cell(verdict.limit.authority, verdict.limit.kind)
    named = listed(", ", (significant_as_stated(verdict.limit_value), kind))
    return said("{limit}, shortened", limit=named) if verdict.shortened_for else named


def day_pictures(assessment: SurveyAssessment, *, tell: Tell = as_it_is) -> list[dict[str, object]]:
    """Draw each sampling day, ports against time on the clock of the place."""
    zone = ZoneInfo(assessment.survey.site.zone)
    levels = compose.worst_levels(assessment)
    days: dict[date, dict[str, SampleResult]] = {}
    for sample in assessment.samples:
        if sample.run is not None and any(part.segment.stop for part in sample.segments):
            day = assessment.survey.shifts[sample.order.shift].start.astimezone(zone).date()
            days.setdefault(day, {}).setdefault(sample.sampler, sample)
    pictures: list[dict[str, object]] = []
    for day, samples in sorted(days.items()):
        ports: dict[tuple[str, str], list[SampleResult]] = {}
        for sample in samples.values():
            assert sample.run is not None
            ports.setdefault((sample.run.train, sample.run.port), []).append(sample)
        in_order = sorted(ports)
        title = tell(listed(" ", (said(f"{day:%A}"), f"{day:%Y-%m-%d}")))
        for first in range(0, len(in_order), MOST_PORTS):
            chosen = {key: ports[key] for key in in_order[first : first + MOST_PORTS]}
            picture = _day(assessment, day, chosen, levels, zone, tell)
            pictures.append({"title": title, "picture": picture})
    return pictures


def _day(
    assessment: SurveyAssessment,
    day: date,
    ports: dict[tuple[str, str], list[SampleResult]],
    levels: dict[str, Level],
    zone: ZoneInfo,
    tell: Tell,
) -> Picture:
    instants = [at for samples in ports.values() for sample in samples for at in _instants(sample)]
    full_hour = min(instants).astimezone(zone).replace(minute=0, second=0, microsecond=0)
    origin = full_hour.astimezone(UTC)
    hours = _hours(origin, max(instants), zone)
    rows = [
        TimelineRow(
            label=f"{train} {port}",
            who=_worn_by(samples),
            spans=tuple(span for sample in samples for span in _spans(sample, levels[sample.sampler], origin)),
            events=_events(assessment, samples, origin, zone),
        )
        for (train, port), samples in ports.items()
    ]
    name = tell(said("Sampling on {day}", day=f"{day:%Y-%m-%d}"))
    drawn = day_timeline(rows, hours, name=name, tell=tell)
    return Picture(drawn.svg(), drawn.words)


def _instants(sample: SampleResult) -> list[datetime]:
    found = []
    for part in sample.segments:
        found += [part.segment.start, *([part.segment.stop] if part.segment.stop else [])]
        for of_round in (part.segment.before, part.segment.after):
            if of_round is not None:
                found += [reading.at for reading in of_round.readings]
    return found


def _hours(origin: datetime, last: datetime, zone: ZoneInfo) -> list[tuple[float, str]]:
    """Full hours that passed, named by the clock on the wall; a clock set back names an hour twice."""
    count = max(1, -int(-(last - origin).total_seconds() // 3600))
    return [(60.0 * n, f"{(origin + timedelta(hours=n)).astimezone(zone):%H:%M}") for n in range(count + 1)]


def _worn_by(samples: Sequence[SampleResult]) -> str:
    names = dict.fromkeys(sample.run.worker for sample in samples if sample.run and sample.run.worker)
    return ", ".join(names) or said("not worn")


def _spans(sample: SampleResult, level: Level, origin: datetime) -> list[Span]:
    spans: list[Span] = []
    for part in sample.segments:
        if part.segment.stop is None:
            continue
        start, stop = _minutes(part.segment.start, origin), _minutes(part.segment.stop, origin)
        if spans and spans[-1].stop_min < start:
            words = said("{sampler} on hold or stopped", sampler=sample.sampler)
            spans.append(Span(spans[-1].stop_min, start, sample.sampler, level, words, held=True))
        ended_by = part.segment.ended_by
        words = said(
            "{sampler}, {minutes} min, {level}{ended}",
            sampler=sample.sampler,
            minutes=minutes_cell(part.segment.minutes),
            level=said(level),
            ended=said(", ended by {cause}", cause=said(ended_by)) if ended_by else "",
        )
        spans.append(Span(start, stop, sample.sampler, level, words))
    return spans


def _events(
    assessment: SurveyAssessment, samples: Sequence[SampleResult], origin: datetime, zone: ZoneInfo
) -> tuple[Event, ...]:
    events: dict[tuple[float, str], Event] = {}

    def happened(at: datetime, kind: EventKind, words: str) -> None:
        minutes = _minutes(at, origin)
        clock = f"{at.astimezone(zone):%H:%M}"
        events.setdefault((minutes, kind), Event(minutes, kind, listed(" ", (clock, words))))

    for sample in samples:
        assert sample.run is not None
        for check in sample.run.checks:
            happened(check.at, "check", said("pump running" if check.running else "pump not running"))
        for part in sample.segments:
            for of_round in (part.segment.before, part.segment.after):
                if of_round is not None and of_round.readings:
                    happened(_middle(of_round), "reading", said(ROUND_READ[of_round.phase]))
            if part.segment.stop is not None and part.segment.ended_by in ("fault", "valve touched"):
                ended = part.segment.ended_by
                happened(part.segment.stop, "fault" if ended == "fault" else "touched", said(ended))
    first = _minutes(min(at for sample in samples for at in _instants(sample)), origin)
    last = _minutes(max(at for sample in samples for at in _instants(sample)), origin)
    return tuple(event for event in events.values() if first <= event.at_min <= last)


def _middle(of_round: FlowRound) -> datetime:
    return of_round.readings[len(of_round.readings) // 2].at


def _minutes(at: datetime, origin: datetime) -> float:
    return (at - origin).total_seconds() / 60.0
