"""What no single cell of the log shows: other cells, the shifts, the lots, the ports of the train."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from lapel.assessment.inputs import MediaLot, Shift, Splitter
from lapel.exchange.problems import Faults, Place, quoted
from lapel.exchange.survey_folder.log_sources import Source
from lapel.fieldlog import KINDS

_IN_SHIFT = frozenset(
    {"train_hung", "sampler_fitted", "sampler_removed", "pump_started", "pump_checked", "pump_held", "pump_resumed"}
    | {"pump_stopped", "task"}
)
"""Acts that happen during a shift, or a day off it at most."""
_FARTHEST = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class LogContext:
    """What the log is held against."""

    zone: tzinfo | None
    field_author: str
    assessed_on: date | None
    shifts: Mapping[str, Shift]
    splitters: Mapping[str, Splitter]
    media_lots: Mapping[str, MediaLot]


class LogChecker:
    """Holds rows against what no single cell shows: other cells, the shifts, the ports of the train."""

    def __init__(self, sources: list[Source], context: LogContext, faults: Faults) -> None:
        self._faults = faults
        self._context = context
        self._days: set[date] = set()
        starts = [shift.start for shift in context.shifts.values()]
        ends = [shift.end for shift in context.shifts.values()]
        self._first = min(starts, default=None)
        self._last = max(ends, default=None)
        for start, end in zip(starts, ends, strict=True):
            day = start.date() - timedelta(days=1)
            while day <= end.date() + timedelta(days=1):
                self._days.add(day)
                day += timedelta(days=1)
        self._media = {lot.medium for lot in context.media_lots.values()}
        self._ports = self._ports_of_trains(sources)

    def pairs_of(self, kind: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return the unit fields of a kind with the numbers each is the unit of."""
        fields = KINDS[kind].fields
        return tuple(
            (name, tuple(number.name for number in fields.values() if number.unit_in == name))
            for name, spec in fields.items()
            if spec.type == "unit"
        )

    def sound(
        self,
        kind: str,
        file: str,
        number: int,
        values: Mapping[str, Any],
        fields: Mapping[str, str],
        pairs: tuple[tuple[str, tuple[str, ...]], ...],
    ) -> bool:
        """Say whether a row fits; what does not is a fault."""
        before = self._faults.count
        for unit, numbers in pairs:
            if unit in fields and not any(name in fields for name in numbers):
                self._add(
                    file, number, numbers[0], "an empty cell", f"a number in {fields[unit]}", "Add it, or no unit."
                )
        groups = KINDS[kind].one_of
        if groups and not any(all(name in fields for name in group) for group in groups):
            wanted = ", or ".join(" with ".join(group) for group in groups)
            self._add(file, number, groups[0][0], "an empty cell", wanted, "Fill in one of these.")
        self._check_time(kind, file, number, values["at"])
        if "train" in fields:
            self._check_ports(file, number, fields["train"], values)
        if "medium" in fields:
            self._check_medium(file, number, fields)
        return self._faults.count == before

    def _check_time(self, kind: str, file: str, number: int, at: datetime) -> None:
        if kind == "correction":
            return  # made whenever the slip is found, also after the day the assessment refers to
        assessed = self._context.assessed_on
        if assessed is not None and at.date() > assessed + timedelta(days=1):
            self._add(
                file, number, "at", f"{at.date()}, after the survey was assessed on {assessed}",
                "a day before it", "Correct the date here, or assessed_on in survey.toml.",
            )  # fmt: skip
        elif self._first is None or self._last is None:
            return
        elif not self._first - _FARTHEST <= at <= self._last + _FARTHEST:
            self._add(
                file, number, "at", f"{at.date()}, more than {_FARTHEST.days} days from every shift",
                f"a day near the shifts, {self._first.date()} to {self._last.date()}", "Correct the date.",
            )  # fmt: skip
        elif kind in _IN_SHIFT and at.date() not in self._days:
            self._add(
                file, number, "at", f"{at.date()}, when nobody of shifts.csv worked",
                "the day of a shift, or one day off it", "Correct the date, or add the shift.",
            )  # fmt: skip

    def _check_ports(self, file: str, number: int, train: str, values: Mapping[str, Any]) -> None:
        allowed = self._ports.get(train)
        if not allowed:
            return
        for column in ("port", "ports"):
            named = values.get(column) or ()
            for port in named:
                if port not in allowed:
                    self._add(
                        file, number, column, quoted(port),
                        f"a port of the train's splitter: {', '.join(sorted(allowed))}",
                        "Correct the letter, or the splitter of the train.",
                    )  # fmt: skip

    def _check_medium(self, file: str, number: int, fields: Mapping[str, str]) -> None:
        lots, medium, lot = self._context.media_lots, fields["medium"], fields.get("lot", "")
        if lot in lots:
            if lots[lot].medium != medium:
                self._add(
                    file, number, "medium", f"{quoted(medium)} with the lot {lot} of {quoted(lots[lot].medium)}",
                    "lot and medium that agree with media.csv", "Look at the label; correct one of the two.",
                )  # fmt: skip
        elif lots and medium not in self._media:
            self._add(
                file, number, "medium", quoted(medium), "a medium that stands in media.csv",
                self._faults.near(Place(file), medium, self._media)
                + "Use the same words in both, or add the lot to media.csv.",
            )  # fmt: skip

    def _ports_of_trains(self, sources: list[Source]) -> dict[str, set[str]]:
        ports: dict[str, set[str]] = {}
        open_trains: set[str] = set()
        for source in sources:
            header = source.sheet.header
            if source.kind != "train_prepared" or "train" not in header or "splitter" not in header:
                continue
            train_at, splitter_at = header.index("train"), header.index("splitter")
            for _, cells in source.rows:
                if len(cells) != len(header):
                    continue
                train, splitter = cells[train_at].strip(), self._context.splitters.get(cells[splitter_at].strip())
                if splitter is None:
                    open_trains.add(train)
                else:
                    ports.setdefault(train, set()).update(splitter.ports)
        return {train: letters for train, letters in ports.items() if train not in open_trains}

    def _add(self, file: str, number: int, column: str, found: str, wanted: str, remedy: str) -> None:
        self._faults.add(Place(file, number, column), found, wanted, remedy)
