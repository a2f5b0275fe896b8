"""The survey itself, its site, groups, workers and shifts."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta, tzinfo
from zoneinfo import ZoneInfo

from lapel.assessment.inputs import Group, Shift, Site, Worker
from lapel.exchange.problems import Faults, quoted
from lapel.exchange.survey_folder.equipment import in_order_of_days
from lapel.exchange.survey_folder.tables import DocumentValues, Row, as_cell
from lapel.hygiene.air import Air

_SHORTEST_SHIFT, _LONGEST_SHIFT = timedelta(minutes=10), timedelta(hours=24)


def zone_of(document: DocumentValues, faults: Faults) -> tzinfo | None:
    """Return the zone of the clock on the site's wall."""
    name = document["site.zone"]
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        faults.add(
            document.place("site.zone"),
            quoted(name),
            "an IANA time zone, as in Europe/Oslo or America/Denver",
            "Write the zone of the clock on the wall; abbreviations such as CET do not know when clocks change.",
        )
        return None


def air_of(document: DocumentValues, prefix: str, faults: Faults) -> Air | None:
    """Return the air two keys name, both or neither."""
    temperature, pressure = document[f"{prefix}temperature"], document[f"{prefix}pressure"]
    if temperature is None and pressure is None:
        return None
    if temperature is None or pressure is None:
        missing = "temperature" if temperature is None else "pressure"
        faults.add(
            document.place(f"{prefix}{missing}"),
            "nothing",
            "temperature and pressure together, or neither",
            "Add it, or take the other away; neither is assumed.",
        )
        return None
    return Air(temperature, pressure)


def site_of(document: DocumentValues, faults: Faults) -> Site:
    """Return the site."""
    return Site(
        name=document["site.name"] or "",
        zone=document["site.zone"] or "",
        air=air_of(document, "site.", faults),
        area_class=document["site.area_class"] or "",
        origin=f"{document.file}, site",
    )


def notes_of(document: DocumentValues, faults: Faults) -> dict[str, str]:
    """Return the free notes."""
    notes = {}
    for key, value in document.free["notes"].items():
        text = as_cell(value)
        if text is None or not isinstance(value, str):
            faults.add(document.place(f"notes.{key}"), "no text", "a note in words", "Put it in quotation marks.")
        else:
            notes[key] = text
    return notes


def groups_of(rows: Iterable[Row]) -> dict[str, Group]:
    """Return the groups by code."""
    return {row["code"]: Group(row["code"], row["name"], row["tasks"] or "", row.origin) for row in rows}


def workers_of(rows: Iterable[Row]) -> dict[str, Worker]:
    """Return the workers by code, each with the group they came to last and those before."""
    workers: dict[str, Worker] = {}
    for row in in_order_of_days(rows, "since"):
        code = row["code"]
        workers[code] = Worker(
            code, row["group"], row["job"] or "", row.origin, since=row["since"], before=workers.get(code)
        )
    return workers


def shifts_of(rows: Iterable[Row], faults: Faults) -> dict[str, Shift]:
    """Return the shifts by code; ends before starts and unexplained assumptions are faults."""
    shifts = {}
    for row in rows:
        length = row["end"] - row["start"]
        if not _SHORTEST_SHIFT <= length <= _LONGEST_SHIFT:
            faults.add(
                row.place("end"),
                f"a shift of {length.total_seconds() / 3600:.4g} h",
                "an end 10 minutes to 24 hours after the start",
                "Correct start or end; a shift past midnight ends on the next date.",
            )
            continue
        if row["unsampled"] != "zero" and not row["unsampled_reason"]:
            faults.add(
                row.place("unsampled_reason"),
                "an empty cell",
                f"the reason for assuming “{row['unsampled']}” of time without a sample",
                "Write why; only “zero” assumes nothing that was not measured.",
            )
            continue
        shifts[row["code"]] = Shift(
            code=row["code"],
            worker=row["worker"],
            start=row["start"],
            end=row["end"],
            reference_min=row["reference_min"],
            unsampled=row["unsampled"],
            unsampled_reason=row["unsampled_reason"] or "",
            hours_per_week=row["hours_per_week"],
            respirator=row["respirator"] or "",
            origin=row.origin,
        )
    return shifts
