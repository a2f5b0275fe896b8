"""A plan as a table to edit by hand, and the edited table read back; nothing in it is put right."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TextIO

from lapel.assessment.plan_by_hand import HandTrain, hand_trains
from lapel.assessment.planned import SurveyPlan
from lapel.exchange.plan_folder.layout import HAND
from lapel.exchange.plan_folder.reader import PlanFolder
from lapel.exchange.problems import Faults, did_you_mean, quoted
from lapel.exchange.survey_folder.columns import Table
from lapel.exchange.survey_folder.folder_files import FolderFiles
from lapel.exchange.survey_folder.tables import Row, read_table
from lapel.exchange.survey_folder.writer_cells import scaled


def write_hand(plan: SurveyPlan, stream: TextIO) -> None:
    """Write a plan as the table a person edits: a row a port."""
    write_hand_trains(hand_trains(plan), stream)


def write_hand_trains(trains: Iterable[HandTrain], stream: TextIO) -> None:
    """Write trains as the table a person edits: a row a port."""
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([column.name for column in HAND.columns])
    for train in trains:
        hang_at = datetime.fromisoformat(train.day) + timedelta(minutes=train.hang_at_min)
        for letter, kind, flow_lpm in train.ports:
            writer.writerow(
                [
                    train.day,
                    train.worker,
                    train.pump,
                    train.splitter,
                    letter,
                    kind,
                    scaled(flow_lpm, 1000),
                    "mL/min",
                    train.technician,
                    hang_at.isoformat(timespec="minutes"),
                ]
            )


def read_hand(path: str | Path, folder: PlanFolder, kinds: frozenset[str]) -> tuple[HandTrain, ...]:
    """
    Read a plan edited by hand.

    Parameters
    ----------
    path : str or Path
        The table.
    folder : PlanFolder
        The survey folder it belongs to.
    kinds : frozenset of str
        Codes of the kinds of samplers the folder's plan has.

    Returns
    -------
    tuple of HandTrain

    Raises
    ------
    InputProblems
        Cells that cannot be read, or codes that stand nowhere. Whether the plan can be worked is not asked here.
    """
    file, faults = Path(path), Faults()
    table = Table(file.name, HAND.about, HAND.columns)
    rows = read_table(FolderFiles(file.parent, faults), table, dict(folder.known), folder.zone)
    trains: dict[tuple[str, str, str], list[Row]] = {}
    for row in rows:
        _check(row, folder, kinds, faults)
        trains.setdefault((row["day"].isoformat(), row["worker"], row["pump"]), []).append(row)
    for same in trains.values():
        for row in same[1:]:
            for column in ("splitter", "technician", "hang_at"):
                if row[column] != same[0][column]:
                    faults.add(
                        row.place(column),
                        quoted(str(row[column] or "")),
                        f"{quoted(str(same[0][column] or ''))}, as in row {same[0].number} of the same pump",
                        "One pump has one splitter, one technician and one time; correct one of the rows.",
                    )
    faults.raise_any()
    return tuple(_train(key, same) for key, same in trains.items())


def _check(row: Row, folder: PlanFolder, kinds: frozenset[str], faults: Faults) -> None:
    if row["kind"] not in kinds:
        faults.add(
            row.place("kind"),
            quoted(row["kind"]),
            "a kind of sampler of this plan",
            did_you_mean(row["kind"], kinds) + f"They are: {', '.join(sorted(kinds))}.",
        )
    splitter = folder.inputs.splitters.get(row["splitter"] or "")
    if splitter is not None and row["port"] not in splitter.ports:
        faults.add(
            row.place("port"),
            quoted(row["port"]),
            f"a port of {splitter.code}: {', '.join(splitter.ports)}",
            "Write the letter on the holder.",
        )
    if not row["flow"]:
        faults.add(row.place("flow"), "0", "a flow above 0", "Write the flow, or take the row away.")
    if row["hang_at"].date().isoformat() not in (row["day"].isoformat(), _eve(row)):
        faults.add(
            row.place("hang_at"),
            quoted(row["hang_at"].isoformat(timespec="minutes")),
            f"a time on {row['day']}, or the evening before a shift that begins at midnight",
            "Correct the date.",
        )


def _eve(row: Row) -> str:
    before: datetime = datetime.combine(row["day"], datetime.min.time()) - timedelta(days=1)
    return before.date().isoformat()


def _train(key: tuple[str, str, str], rows: list[Row]) -> HandTrain:
    day, worker, pump = key
    first = rows[0]
    wall = first["hang_at"].replace(tzinfo=None) - datetime.fromisoformat(day)
    return HandTrain(
        day=day,
        worker=worker,
        pump=pump,
        splitter=first["splitter"] or "",
        technician=first["technician"],
        hang_at_min=round(wall.total_seconds() / 60),
        ports=tuple((row["port"], row["kind"], row["flow"]) for row in rows),
        origin=first.origin,
    )
