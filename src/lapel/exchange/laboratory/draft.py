"""A result being put together from the cells that speak of one sampler and agent."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from lapel.assessment.delivered_results import DeliveredResult
from lapel.exchange.laboratory.questions import Asked
from lapel.exchange.laboratory.unit_words import Unit
from lapel.exchange.laboratory.values import Value
from lapel.exchange.survey_folder.layout import RESULT_RANGES
from lapel.figures.units import UnitProblem, conversion, parsed_quantity

if TYPE_CHECKING:
    from lapel.exchange.laboratory.columns import ColumnMap

_MASSES = ("front", "back", "mass")
_SAME = 1e-9
"""Relative difference up to which two writings of one number are the same."""
_RANGE_OF = {"front": "mass", "back": "mass", "mass": "mass", "reporting limit": "mass"}


class Slot:
    """One quantity of a result: its number in canonical units, how it is meant, and its cell."""

    __slots__ = ("number", "sense", "unit", "where")

    def __init__(self, number: float | None, sense: str, where: str, unit: Unit) -> None:
        self.number, self.sense, self.where, self.unit = number, sense, where, unit


class Draft:
    """
    Cells about one sampler and agent, brought together.

    Parameters
    ----------
    sampler : str
        As printed.
    agent : str
        The survey's key.
    origin : str
        Where its first cell stands.
    """

    __slots__ = (
        "agent",
        "analysed_on",
        "duplicate",
        "flags",
        "is_open",
        "medium",
        "not_analysed",
        "origin",
        "printed",
        "remarks",
        "sampler",
        "slots",
    )

    def __init__(self, sampler: str, agent: str, origin: str) -> None:
        self.sampler, self.agent, self.origin = sampler, agent, origin
        self.slots: dict[str, Slot] = {}
        self.printed: list[str] = []
        self.flags: list[str] = []
        self.remarks: list[str] = []
        self.medium = ""
        self.not_analysed = ""
        self.analysed_on: date | None = None
        self.duplicate: list[str] = []
        self.is_open = False

    def put(self, column: ColumnMap, value: Value, section: str, unit: Unit, where: str, asked: Asked) -> None:
        """Add what one cell says; a second, different number for the same thing is kept as a duplicate."""
        name = self._name(column, section, unit)
        if name is None:
            return
        number = _canonical(value.number, unit) if value.number is not None else None
        low, high, plain = RESULT_RANGES.get(_RANGE_OF.get(name, name), (0.0, 1e12, ""))
        if number is not None and not low <= number <= high:
            self.is_open = True
            asked.ask(
                f"report.cells.{where}",
                f"“{value.number:f} {unit.name}” is not a plausible {name}: wanted from {low:g} to {high:g} {plain}. "
                "What does the cell say? Check its unit with the laboratory.",
                where=where,
                cells=(f"{value.number:f} {unit.name}",),
            )
            return
        slot = Slot(number, value.sense, where, unit)
        known = self.slots.get(name)
        if known is None:
            self.slots[name] = slot
        elif not _same(known, slot):
            self.duplicate.append(f"{name}: {_words(known)} at {known.where} and {_words(slot)} at {where}")

    def make_below(self, section: str) -> None:
        """
        Turn results into upper bounds: a letter or sign beside them says so.

        Of two sections in one row the letter means the front one, and the back one where both print the same limit.
        """
        front, back = self.slots.get("front"), self.slots.get("back")
        alike = front is not None and back is not None and front.number == back.number
        for name in (section,) if section else ("mass", "front", "concentration", "ppm", *(["back"] if alike else [])):
            slot = self.slots.get(name)
            if slot is not None and slot.sense == "exactly":
                slot.sense = "below"

    def _name(self, column: ColumnMap, section: str, unit: Unit) -> str | None:
        role = column.role
        if role in ("front", "back", "mass", "result", "concentration", "mole ratio"):
            if unit.kind == "mass":
                return section or ("mass" if role in ("mass", "result", "concentration", "mole ratio") else role)
            if unit.kind == "concentration":
                return "concentration" if not section else None
            return "ppm" if unit.kind == "mole ratio" and not section else None
        if role == "reporting limit":
            return role if unit.kind == "mass" else None
        if role == "uncertainty":
            return "uncertainty" if unit.kind == "ratio" else "uncertainty mass" if unit.kind == "mass" else None
        wanted = {"recovery": "ratio", "volume": "volume"}.get(role)
        return role if wanted == unit.kind else None

    def result(self, report_map: Mapping[str, Any], factor: float | None, asked: Asked) -> DeliveredResult | None:
        """Return the result; None where a question about it is open."""
        if self.is_open:
            return None
        limit = self._limit(report_map)
        masses: dict[str, tuple[float, bool] | None] = dict.fromkeys(_MASSES)
        for name in _MASSES:
            slot = self.slots.get(name)
            if slot is None:
                continue
            mass = self._mass(slot, limit, asked)
            if mass is None:
                return None
            masses[name] = mass
        front, back, total = masses["front"], masses["back"], masses["mass"]
        if front is None and back is None and total is not None:
            front, total = total, None
        elif front is None and back is not None:
            asked.ask(
                f"report.cells.{self.slots['back'].where}",
                f"{self.sampler}, {self.agent}: a back section without a "
                "front section. Is this column the back section?",
                where=self.slots["back"].where,
            )
            return None
        concentration, ppm, volume = self._air("concentration"), self._air("ppm"), self.slots.get("volume")
        front, derived = self._from_concentration(front, concentration, volume, report_map, asked)
        if limit is None and front is not None and front[1]:
            limit = front[0]
        return DeliveredResult(
            sampler=self.sampler,
            agent=self.agent,
            front_ug=front[0] if front else None,
            front_below=front[1] if front else False,
            back_ug=back[0] if back else None,
            back_below=back[1] if back else False,
            total_ug=total[0] if total else None,
            total_below=total[1] if total else False,
            reporting_limit_ug=limit,
            recovery=self._number("recovery"),
            relative_u=self._relative_u(factor, asked),
            volume_l=self._number("volume"),
            concentration_mg_m3=concentration[0] if concentration else None,
            concentration_below=concentration[1] if concentration else False,
            ppm=ppm[0] if ppm else None,
            ppm_below=ppm[1] if ppm else False,
            medium=self.medium,
            remark="; ".join([*self.remarks, *derived, *self._trace_words()]),
            analysed_on=self.analysed_on,
            not_analysed=self.not_analysed if front is None else "",
            flags=tuple(dict.fromkeys(self.flags)),
            origin=self.origin,
            printed="; ".join(self.printed),
        )

    def _limit(self, report_map: Mapping[str, Any]) -> float | None:
        limit = self._number("reporting limit")
        told = report_map.get("reporting_limits", {}).get(self.agent)
        if limit is None and told:
            try:
                limit = parsed_quantity(told, "mass")
            except UnitProblem:
                return None
        return limit or None

    def _mass(self, slot: Slot, limit: float | None, asked: Asked) -> tuple[float, bool] | None:
        if slot.number is not None:
            return slot.number, slot.sense == "below"
        if limit is None:
            asked.ask(
                f"reporting_limits.{self.agent}",
                f"Below which mass is “not detected” for {self.agent}? No reporting limit stands beside it, and not "
                "detected is no zero. Answer with the unit, as in 5 ug; ask the laboratory if need be.",
                where=slot.where,
            )
            return None
        return limit, True

    def _from_concentration(
        self,
        front: tuple[float, bool] | None,
        concentration: tuple[float, bool] | None,
        volume: Slot | None,
        report_map: Mapping[str, Any],
        asked: Asked,
    ) -> tuple[tuple[float, bool] | None, list[str]]:
        """Mass from concentration and the laboratory's own volume, where a person has said that this is wanted."""
        if front is not None or concentration is None or volume is None or not volume.number:
            return front, []
        said = report_map.get("mass_from_concentration")
        if said is None:
            asked.ask(
                "mass_from_concentration",
                "No mass is printed, only concentrations. Shall the mass be the concentration times the "
                "laboratory's volume?",
                where=self.slots["concentration"].where,
                cells=tuple(self.printed[:4]),
            )
        if said != "yes":
            return front, []
        return (concentration[0] * volume.number, concentration[1]), [
            "mass worked out here: printed concentration times printed volume"
        ]

    def _air(self, name: str) -> tuple[float, bool] | None:
        slot = self.slots.get(name)
        return (slot.number, slot.sense == "below") if slot is not None and slot.number is not None else None

    def _number(self, name: str) -> float | None:
        slot = self.slots.get(name)
        return slot.number if slot is not None else None

    def _relative_u(self, factor: float | None, asked: Asked) -> float | None:
        relative, absolute = self._number("uncertainty"), self._number("uncertainty mass")
        if relative is None and absolute is not None:
            mass = self._number("mass") or self._number("front")
            relative = absolute / mass if mass else None
        if relative is None:
            return None
        if factor is None:
            slot = self.slots.get("uncertainty") or self.slots["uncertainty mass"]
            asked.ask(
                "uncertainty_factor",
                "Which coverage factor k has the printed uncertainty? The report does not say.",
                (("1", "a standard uncertainty"), ("2", "an expanded uncertainty of about 95 %")),
                where=slot.where,
            )
            return None
        return relative / factor

    def _trace_words(self) -> list[str]:
        traces = [name for name in _MASSES if name in self.slots and self.slots[name].sense == "trace"]
        return ["seen below the reporting limit (trace)"] if traces else []


def _same(one: Slot, other: Slot) -> bool:
    if one.number is None or other.number is None:
        return one.number == other.number and one.sense == other.sense
    return one.sense == other.sense and abs(one.number - other.number) <= _SAME * max(abs(one.number), 1e-300)


def _words(slot: Slot) -> str:
    return slot.sense if slot.number is None else f"{'<' if slot.sense == 'below' else ''}{slot.number:.6g}"


def _canonical(number: Decimal, unit: Unit) -> float:
    scale, offset = conversion(unit.name, unit.kind)
    return float(number * scale + offset)
