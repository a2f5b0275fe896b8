"""The sheets of a survey's day: those of the trains planned, and an empty one for a train nobody planned."""

from __future__ import annotations

from datetime import date

from lapel.documents.field_sheet import FieldSheet, SheetPort, field_sheet
from lapel.exchange.plan_now import planned_day
from lapel.records.models import Survey

EMPTY = "X1"
"""Code of the empty sheet; the next ones are X2, X3 and so on."""

LETTERS = "ABCDEF"


def sheets_of(survey: Survey, day: date) -> list[FieldSheet]:
    """Return the sheets of the trains planned for a day, in the order they are hung."""
    planned = planned_day(survey, day)
    return [_of_train(day, train) for train in planned["trains"]] if planned else []


def sheet_of(survey: Survey, day: date, train: str, ports: int = 3) -> FieldSheet:
    """Return the sheet of one train; one that is not planned gets an empty sheet with so many ports."""
    for sheet in sheets_of(survey, day):
        if sheet.train == train:
            return sheet
    return field_sheet(day, train, ports=[SheetPort(letter) for letter in LETTERS[:ports]])


def _of_train(day: date, train: dict[str, object]) -> FieldSheet:
    ports = train["ports"]
    assert isinstance(ports, list)
    return field_sheet(
        day,
        str(train["code"]),
        worker=str(train["worker"]),
        pump=str(train["pump"]),
        splitter=str(train["splitter"]),
        ports=[
            SheetPort(port["port"], port["medium"], (port["samplers"] or [""])[0], port["flow_ml"]) for port in ports
        ],
    )
