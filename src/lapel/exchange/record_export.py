"""
A recorded survey out as a survey folder, its plan too.

Coded, the delivered laboratory files byte for byte. Names have no place in a folder and never leave with one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from lapel.assessment import inputs
from lapel.assessment.recorded_survey import ROWS_AT_ONCE, recorded_survey
from lapel.exchange.plan_folder.reader import PlanFolder
from lapel.exchange.plan_folder.writer import in_force, plan_texts
from lapel.exchange.plan_now import plan_now
from lapel.exchange.survey_folder.log_chains import Ranges, ranges_of
from lapel.exchange.survey_folder.writer import PlanPart, Written, is_planned_only, write_survey
from lapel.exchange.survey_folder.writer_check import plan_differences
from lapel.exchange.survey_folder.writer_laboratory import as_it_came
from lapel.fieldlog import Entry
from lapel.records.models import LogEntry, RefusedEntry, Survey


def export_survey(survey: Survey, folder: str | Path) -> Written:
    """
    Write a recorded survey as a folder.

    Parameters
    ----------
    survey : Survey
        The record; access was checked by whoever got it (act "export").
    folder : str or Path
        Where; it must not be there yet, or be empty.

    Returns
    -------
    Written
        With what the folder could not say, if anything.

    Raises
    ------
    InputProblems
        It could not be written; nothing was.
    """
    delivered = {
        report.code: as_it_came(
            report.file,
            bytes(report.original),
            report.mapping,
            {beside.place: bytes(beside.original.content) for beside in report.files_beside.all()},
        )
        for report in survey.laboratoryreports.order_by("id").prefetch_related("files_beside__original")
        if report.original is not None
    }
    plain = recorded_survey(survey)
    plan = _plan_part(survey)
    if plan is not None and is_planned_only(plain):
        plain = _without_retired(survey, plain)
    return write_survey(plain, folder, delivered=delivered, elsewhere=_elsewhere(survey, plain.entries), plan=plan)


PARTS_OF_A_PLAN = ("planquestions", "offered_shifts", "plantechnicians", "planned_trains", "products")
"""A survey with none of these has no plan, whatever its terms say."""


def _plan_part(survey: Survey) -> PlanPart | None:
    """Write the plan of a survey that has one, the plan in force too."""
    if not any(getattr(survey, part).exists() for part in PARTS_OF_A_PLAN):
        return None
    now = plan_now(survey)
    trains = in_force(now.plan, now.trains) if now.plan is not None else ()
    lost = len(now.trains) - len(trains)

    def read_back(root: Path) -> tuple[str, ...]:
        found = plan_differences(now.inputs, PlanFolder(root).inputs)
        if lost:
            found = (*found, f"plan in force: {lost} trains carry samplers no question asks for any more: left out")
        return found

    return PlanPart(plan_texts(now.inputs, trains), read_back)


def _without_retired(survey: Survey, plain: inputs.Survey) -> inputs.Survey:
    """Leave retired equipment out of a folder that only plans: nothing in it could use it."""
    pumps, splitters = (
        set(getattr(survey.site, kind).filter(retired_on__isnull=False).values_list("code", flat=True))
        for kind in ("pumps", "splitters")
    )
    return replace(
        plain,
        pumps={code: pump for code, pump in plain.pumps.items() if code not in pumps},
        splitters={code: one for code, one in plain.splitters.items() if code not in splitters},
    )


def _elsewhere(survey: Survey, entries: Iterable[Entry]) -> dict[str, Ranges]:
    """Find which sequences of the survey's devices stand in other surveys, or among the entries that were refused."""
    last: dict[str, int] = {}
    for entry in entries:
        if entry.hash:
            last[entry.device] = max(entry.sequence, last.get(entry.device, 0))
    found: dict[str, set[int]] = defaultdict(set)
    others = LogEntry.objects.filter(device__in=last).exclude(survey=survey).exclude(hash="")
    refused = RefusedEntry.objects.filter(device__in=last, sequence__gt=0)
    for rows in (others, refused):
        for device, sequence in rows.values_list("device", "sequence").iterator(ROWS_AT_ONCE):
            if sequence <= last[device]:
                found[device].add(sequence)
    for entry in entries:
        found[entry.device].discard(entry.sequence)
    return {device: ranges_of(sequences) for device, sequences in found.items()}
