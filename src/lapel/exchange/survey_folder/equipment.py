"""Pumps, splitters and meters with their certificates."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from lapel.assessment.inputs import Meter, Pump, Splitter
from lapel.exchange.problems import Faults, quoted
from lapel.exchange.survey_folder.tables import Row
from lapel.hygiene.air import Air


def ordered(row: Row, low: str, high: str, faults: Faults) -> bool:
    """Say whether two cells are in order; a fault if not."""
    if row[low] is None or row[high] is None or row[low] <= row[high]:
        return True
    faults.add(
        row.place(high),
        f"{high} below {low}",
        f"{low} at most {high}",
        "Exchange or correct them, and check the unit.",
    )
    return False


def pumps_of(rows: Iterable[Row], faults: Faults) -> dict[str, Pump]:
    """Return the pumps by code."""
    return {
        row["code"]: Pump(row["code"], row["flow_min"], row["flow_max"], row["area_certificate"] or "", row.origin)
        for row in rows
        if ordered(row, "flow_min", "flow_max", faults)
    }


def splitters_of(rows: Iterable[Row]) -> dict[str, Splitter]:
    """Return the splitters by code."""
    return {row["code"]: Splitter(row["code"], row["ports"], row["total_max"], row.origin) for row in rows}


def meters_of(rows: Iterable[Row], faults: Faults) -> dict[str, Meter]:
    """
    Return the meters by code, each under its latest certificate with those before.

    A certificate's uncertainty becomes a standard uncertainty, U/k.
    """
    meters: dict[str, Meter] = {}
    for row in in_order_of_days((row for row in rows if _meter_sound(row, faults)), "certified_on"):
        before = meters.get(row["code"])
        if before is not None and before.kind != row["kind"]:
            faults.add(
                row.place("kind"),
                quoted(row["kind"]),
                f"{quoted(before.kind)}, as in the meter's earlier row",
                "Correct one of them; another instrument has another code.",
            )
        meters[row["code"]] = replace(_meter(row, row["coverage_factor"] or 1.0), before=before)
    return meters


def in_order_of_days(rows: Iterable[Row], column: str) -> list[Row]:
    """Return rows with the one without a day first, and then by their day; codes in the order they first stand in."""
    listed = list(rows)
    place = {code: number for number, code in reversed(list(enumerate(row["code"] for row in listed)))}
    return sorted(listed, key=lambda row: (place[row["code"]], row[column] or date.min))


def _meter_sound(row: Row, faults: Faults) -> bool:
    before = faults.count
    ordered(row, "range_min", "range_max", faults)
    ordered(row, "certified_on", "due_on", faults)
    if (row["reading_u_percent"] is not None or row["full_scale_u_percent"] is not None) and not row["coverage_factor"]:
        faults.add(
            row.place("coverage_factor"),
            "an empty cell",
            "the k of the certificate's uncertainty, usually 2",
            "Write it as the certificate prints it; none is assumed.",
        )
    if row["full_scale_u_percent"] is not None and row["range_max"] is None:
        faults.add(
            row.place("range_max"),
            "an empty cell",
            "the full scale that full_scale_u_percent refers to",
            "Write the upper end of the range.",
        )
    if (row["scale_temperature"] is None) != (row["scale_pressure"] is None):
        column = "scale_temperature" if row["scale_temperature"] is None else "scale_pressure"
        faults.add(
            row.place(column), "an empty cell", "temperature and pressure together, or neither", "Fill in the other."
        )
    if row["reads"] == "standard" and row["scale_temperature"] is None:
        faults.add(
            row.place("scale_temperature"),
            "an empty cell",
            "the standard air this meter reads at",
            "Write it as the instrument states it: makers differ (0, 20 or 25 °C).",
        )
    return faults.count == before


def _meter(row: Row, coverage: float) -> Meter:
    full_scale = (row["full_scale_u_percent"] or 0.0) / 100.0 * (row["range_max"] or 0.0) / coverage
    air = None if row["scale_temperature"] is None else Air(row["scale_temperature"], row["scale_pressure"])
    return Meter(
        code=row["code"],
        kind=row["kind"],
        certificate=row["certificate"] or "",
        certified_on=row["certified_on"],
        due_on=row["due_on"],
        range_min_lpm=row["range_min"],
        range_max_lpm=row["range_max"],
        relative_u=None if row["reading_u_percent"] is None else row["reading_u_percent"] / 100.0 / coverage,
        full_scale_u_lpm=full_scale,
        reads=row["reads"],
        calibrated_at=air,
        exponent=row["exponent"],
        curve=row["curve"] or (),
        origin=row.origin,
    )
