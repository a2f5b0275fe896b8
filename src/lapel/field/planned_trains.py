"""The plan's part of the day pack: trains with what goes on each port, field blanks and spares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from lapel.exchange.plan_now import planned_day
from lapel.field.pack_shapes import PlannedBlank, PlannedPort, PlannedSpare, PlannedTrain
from lapel.records import models

NOT_READ = (
    "The plan cannot be read as it is on record, so no tube, window or blank is named here. Open the survey's plan at "
    "the office: it says what is wrong."
)


@dataclass(frozen=True)
class DayPlan:
    """What is planned for a day; `words` says what keeps it from naming samplers and blanks."""

    planned_for: str = ""
    words: str = ""
    trains: list[PlannedTrain] = field(default_factory=list)
    blanks: list[PlannedBlank] = field(default_factory=list)
    spares: list[PlannedSpare] = field(default_factory=list)


AFTERWARDS_MIN = 120
"""So long after its pumps stopped a shift still has stops to record, flows to read again and blanks to cap. [min]"""
PREPARED_BEFORE_MIN = 60
"""So long before the first train is hung, its day is the one to look at. [min]"""
A_DAY_MIN = 24 * 60


def day_in_hand(survey: models.Survey, now: datetime) -> date:
    """
    Return the day an instant belongs to: a night shift is of the day it begins on until it is over.

    Parameters
    ----------
    survey : Survey
        With its site.
    now : datetime
        The instant, with its zone.

    Returns
    -------
    date
        The day before, by the site's clock, while a plan of that day runs on past midnight and no train of today is
        about to be hung; else today.
    """
    here = now.astimezone(ZoneInfo(survey.site.zone))
    today = here.date()
    before = today - timedelta(days=1)
    rows = list(survey.planned_trains.filter(day__in=(before, today)))
    over = max((_worn_until_min(row) for row in rows if row.day == before), default=0) - A_DAY_MIN + AFTERWARDS_MIN
    next_up = min((row.hang_at_min for row in rows if row.day == today), default=A_DAY_MIN) - PREPARED_BEFORE_MIN
    return before if here.hour * 60 + here.minute < min(over, next_up) else today


def _worn_until_min(row: models.PlannedTrain) -> float:
    """Return when its last sampler is planned to come off. [min after midnight of its day]"""
    kinds = (port.get("kind") for port in row.ports)
    return row.hang_at_min + max((kind.get("minutes", 0.0) for kind in kinds if isinstance(kind, dict)), default=0.0)


def planned_trains(survey: models.Survey, on: date) -> DayPlan:
    """
    Take the trains of a day, else of the next that has any; named T1, T2 as they are hung.

    Parameters
    ----------
    survey : Survey
        With its site.
    on : date
        The day, by the site's clock.

    Returns
    -------
    DayPlan
        Where the plan cannot be made from what is on record now, the trains as they were kept, without samplers.
    """
    rows = list(survey.planned_trains.select_related("worker").filter(day__gte=on))
    if not rows:
        return DayPlan()
    day = min(row.day for row in rows)
    plan = planned_day(survey, day)
    if plan is None:
        today = sorted(
            (row for row in rows if row.day == day),
            key=lambda row: (row.hang_at_min, row.technician, row.worker.code),
        )
        kept = [_as_kept(f"T{place}", row) for place, row in enumerate(today, start=1)]
        return DayPlan(day.isoformat(), NOT_READ, kept)
    return DayPlan(
        day.isoformat(),
        "",
        [
            PlannedTrain(
                train=train["code"],
                worker=train["worker"],
                pump=train["pump"],
                splitter=train["splitter"],
                ports=[_port(port) for port in train["ports"]],
            )
            for train in plan["trains"]
        ],
        [PlannedBlank(**{name: blank[name] for name in PlannedBlank.model_fields}) for blank in plan["blanks"]],
        [PlannedSpare(**spare) for spare in plan["spares"]],
    )


def _port(port: Mapping[str, Any]) -> PlannedPort:
    return PlannedPort(
        port=port["port"],
        medium=port["medium"],
        sampler=next(iter(port["samplers"]), ""),
        samplers=port["samplers"],
        lot=port["lot"],
        catalogue=port["catalogue"],
        methods=port["methods"],
        target_lpm=port["flow_lpm"],
        low_lpm=port["low_lpm"],
        high_lpm=port["high_lpm"],
        minutes=port["minutes"],
    )


def _as_kept(code: str, row: models.PlannedTrain) -> PlannedTrain:
    return PlannedTrain(
        train=code,
        worker=row.worker.code,
        pump=row.pump,
        splitter=row.splitter,
        ports=[_port_as_kept(port) for port in row.ports],
    )


def _port_as_kept(port: Mapping[str, object]) -> PlannedPort:
    """Take the methods the plan kept: its agents carry purpose and task where a port is not for the full shift."""
    kind = port.get("kind")
    content: Mapping[str, object] = kind if isinstance(kind, dict) else {}
    methods = content.get("methods")
    flow = port.get("flow_lpm")
    return PlannedPort(
        port=str(port.get("letter", "")),
        medium=str(content.get("medium", "")),
        sampler="",
        samplers=[],
        lot="",
        catalogue="",
        methods=[str(code) for code in methods] if isinstance(methods, list) else [],
        target_lpm=float(flow) if isinstance(flow, (int, float)) else None,
        low_lpm=None,
        high_lpm=None,
        minutes=None,
    )
