"""Samples of a survey as the search for exchanged ones needs them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import LaboratoryResult, Survey
from lapel.assessment.swap_model import SwapSample
from lapel.fieldlog.state import Day


def swap_samples(
    survey: Survey,
    day: Day,
    results: Iterable[LaboratoryResult],
    volumes_l: Mapping[str, float | None],
    *,
    only: Collection[str] | None = None,
) -> tuple[SwapSample, ...]:
    """
    Bring results, volumes and times together.

    Parameters
    ----------
    results : iterable of LaboratoryResult
        Those of the report in question and of the survey's others.
    only : collection of str, optional
        Samplers to keep; all if left out.

    Returns
    -------
    tuple of SwapSample
        Samplers that ran, have a volume and a mass above its reporting limit; masses as reported.
    """
    masses: dict[str, dict[str, float]] = {}
    printed: dict[str, float] = {}
    seen: dict[str, str] = {}
    for result in results:
        front = 0.0 if result.front_below else result.front_ug
        back = 0.0 if result.back_below or result.back_ug is None else result.back_ug
        if front + back > 0.0:
            masses.setdefault(result.sampler, {})[result.agent] = front + back
        if result.volume_l:
            printed[result.sampler] = result.volume_l
        if result.medium:
            seen[result.sampler] = result.medium
    zone = ZoneInfo(survey.site.zone)
    start_of_time = datetime(2000, 1, 1, tzinfo=UTC)
    found = []
    for code, order in survey.orders.items():
        run, volume = day.runs.get(code), volumes_l.get(code)
        if run is None or not volume or code not in masses or (only is not None and code not in only):
            continue
        ends = [(segment.start, segment.stop) for segment in run.segments if segment.stop is not None]
        if not ends:
            continue
        start, stop = min(begin for begin, _ in ends), max(end for _, end in ends)
        lot = survey.media_lots.get(run.lot) if run.lot else None
        worker = survey.workers.get(survey.shifts[order.shift].worker)
        found.append(
            SwapSample(
                code=code,
                shift=order.shift,
                group=worker.group if worker else "",
                start_min=(start - start_of_time).total_seconds() / 60.0,
                stop_min=(stop - start_of_time).total_seconds() / 60.0,
                medium=run.medium or (lot.medium if lot else ""),
                day=start.astimezone(zone).date(),
                masses_ug=masses[code],
                volume_l=volume,
                port=run.port,
                laboratory_volume_l=printed.get(code),
                medium_seen=seen.get(code, ""),
            )
        )
    return tuple(found)
