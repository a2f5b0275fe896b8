"""A table of results of one or several groups: the file `lapel judge` reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.survey_folder.columns import Column, Table
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.tables import RowReader, open_csv
from lapel.figures import UnitProblem, canonical, display_unit, parsed_number, parsed_quantity

RESULTS = Table(
    "results.csv",
    "Shift averages of one or several groups, one row a result.",
    (
        Column("value", "text", "the result; “<0.5” is below a reporting limit of 0.5, “>12” at least 12"),
        Column("low", "number", "lower end, where a result is known between two values", low=0.0, high=1e7),
        Column("high", "number", "upper end of such a result", low=0.0, high=1e7),
        Column("unit", "text", "unit of the row's numbers; the limit's where empty"),
        Column("worker", "code", "whose shift it was, by code"),
        Column("date", "date", "day of the shift"),
        Column("group", "text", "the similar exposure group, where the table holds several"),
        Column("error_cv_percent", "number", "measurement error as a coefficient of variation", low=0.0, high=100.0),
    ),
)
"""The columns; `value`, or `low` and `high`, must be there."""


LEAST = 1e-12
"""A concentration below it is measured nowhere: a femtogram in a cubic metre is 1e-12 mg/m3. [mg/m3 or ppm]"""

MOST = {"ppm": 1e6, "mg/m3": 1e7}
"""More than any air can hold: a million parts in a million; ten kilograms in a cubic metre, eight times its weight."""

MOST_WORDS = {
    "ppm": "at most 1 000 000 ppm, which is the pure vapour",
    "mg/m3": "at most 10 000 000 mg/m³, more than any air can hold",
}


@dataclass(frozen=True, slots=True)
class GroupResult:
    """
    One result as an interval: measured (`lower` = `upper`), below a limit (`lower` 0), at least (`upper` infinite).

    Values are in the unit of the limit. [mg/m3 or ppm]
    """

    lower: float
    upper: float
    worker: str
    day: date | None
    group: str
    error_cv: float | None
    origin: str


@dataclass(frozen=True, slots=True)
class StatedLimit:
    """A limit as typed: its value in a canonical unit, and the text itself."""

    value: float
    unit: str
    text: str


def stated_limit(text: str) -> StatedLimit:
    """
    Read a limit such as “50 ppm” or “5 mg/m3”.

    Raises
    ------
    UnitProblem
        It is no number with a unit of concentration, or not above 0.
    """
    last: UnitProblem | None = None
    for kind, unit in (("mole ratio", "ppm"), ("concentration", "mg/m3")):
        try:
            value = parsed_quantity(text, kind)
        except UnitProblem as problem:
            last = problem
            continue
        if not value > 0.0:
            raise UnitProblem(f"found {quoted(text)}; wanted a limit above 0")
        if wanted := beyond_sense(value, unit):
            raise UnitProblem(f"found {quoted(text)}; wanted a limit of {wanted}")
        return StatedLimit(value, unit, text.strip())
    raise UnitProblem(f"found {quoted(text)}; wanted a limit with its unit, as in “50 ppm” or “5 mg/m3”") from last


def beyond_sense(value: float, unit: str) -> str:
    """
    Say what is wanted of a concentration that cannot be one; empty where it can.

    Parameters
    ----------
    value : float
        Above 0; an endless upper end is none. [unit]
    unit : str
        “ppm” or “mg/m3”.
    """
    if value < LEAST:
        return f"at least {LEAST:g} {display_unit(unit)}, below which nothing is measured"
    return MOST_WORDS[unit] if MOST[unit] < value < float("inf") else ""


def read_results(path: Path, unit: str) -> tuple[GroupResult, ...]:
    """
    Read a table of results.

    Parameters
    ----------
    path : Path
        CSV with a header row; columns as `RESULTS`, in any order.
    unit : str
        Unit of the limit, “ppm” or “mg/m3”; rows without a unit are in it.

    Raises
    ------
    InputProblems
        Every fault with its row and column; nothing is used.
    """
    faults = Faults()
    if not path.is_file():
        found = "a folder" if path.is_dir() else "no such file"
        faults.add(Place(str(path)), found, "a CSV file with a column “value”", "Check the path of the results.")
        faults.raise_any()
    files = FolderFiles(path.parent, faults)
    rows: list[GroupResult] = []
    sheet = open_csv(files, path.name)
    if sheet is not None:
        reader = RowReader(sheet, RESULTS.columns, faults, None, {})
        if "value" not in reader.at and not {"low", "high"} <= set(reader.at):
            faults.add(
                Place(path.name, 1, "value"), "no such column", "a column “value”", "Name the column of the results."
            )
        else:
            for number, cells in reader.rows():
                values = reader.read(number, cells)
                if values is not None and (row := _result(values, unit, path.name, number, faults)) is not None:
                    rows.append(row)
            if not rows and not faults.count:
                faults.add(Place(path.name), "no result", "one row or more", "Fill the table.")
    faults.raise_any()
    return tuple(rows)


def _result(values: Mapping[str, object], unit: str, file: str, number: int, faults: Faults) -> GroupResult | None:
    typed, low, high = values.get("value"), values.get("low"), values.get("high")
    if (typed is None) == (low is None and high is None) or (low is None) != (high is None):
        faults.add(
            Place(file, number, "value"),
            "both a value and an interval" if typed is not None else "no complete result",
            "either “value”, or “low” and “high”",
            "Fill one of the two.",
        )
        return None
    try:
        lower, upper = _interval(str(typed)) if typed is not None else (float(str(low)), float(str(high)))
        row_unit = str(values.get("unit") or unit)
        kind = "mole ratio" if unit == "ppm" else "concentration"
        lower, upper = (_in_unit(end, row_unit, kind) for end in (lower, upper))
    except UnitProblem as problem:
        found, _, wanted = str(problem).removeprefix("found ").partition("; wanted ")
        mixed = found.startswith("the unit ")
        faults.add(
            Place(file, number, "value"),
            found,
            f"{wanted}, for the limit is in {unit}" if wanted and mixed else wanted or f"a result in {unit}",
            _ONE_KIND if mixed else _ADVICE,
        )
        return None
    if not (0.0 <= lower <= upper and upper > 0.0):
        faults.add(
            Place(file, number, "value"),
            f"{lower:g}" if lower == upper else f"{lower:g} to {upper:g}",
            "results above 0; a non-detect as “<” and its reporting limit; low not above high",
            _ADVICE,
        )
        return None
    for end in (lower, upper):
        if end > 0.0 and (wanted := beyond_sense(end, unit)):
            shown = f"{end:g} {unit}" if str(typed) == f"{end:g}" else f"{quoted(str(typed))}, {end:g} {unit}"
            faults.add(Place(file, number, "value"), shown, f"a result of {wanted}", _SIZE)
            return None
    cv = values.get("error_cv_percent")
    day = values.get("date")
    return GroupResult(
        lower,
        upper,
        str(values.get("worker") or ""),
        day if isinstance(day, date) else None,
        str(values.get("group") or ""),
        None if cv is None else float(str(cv)) / 100.0,
        f"{file}, row {number}",
    )


_ADVICE = "Write the number with a decimal point, “<” before a reporting limit, and the unit in its own column."
_SIZE = "Check the number and its unit."
_ONE_KIND = "Give results and limit alike: all as ppm, or all by mass. One is not turned into the other here."


def _interval(text: str) -> tuple[float, float]:
    cell = text.strip().replace("\u2264", "<")
    if cell.startswith("<"):
        return 0.0, float(parsed_number(cell[1:]))
    if cell.startswith(">"):
        return float(parsed_number(cell[1:])), float("inf")
    value = float(parsed_number(cell))
    if value == 0.0:
        raise UnitProblem("found 0; a result below what can be told is “<” and its reporting limit")
    return value, value


def _in_unit(value: float, unit: str, kind: str) -> float:
    return value if value in (0.0, float("inf")) else canonical(value, unit, kind)
