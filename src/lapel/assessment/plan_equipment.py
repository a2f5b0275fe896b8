"""From pumps and splitters by code to the kinds a campaign plans with, and back to codes."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.assessment.inputs import Pump, Splitter
from lapel.assessment.plan_inputs import PlanInputs
from lapel.planning import Crew, Equipment, PumpKind, SplitterKind
from lapel.planning.fragility import PORTS_SHARE_OF_MAIN


@dataclass(frozen=True)
class PlanEquipment:
    """The kernel's equipment, and the codes behind each of its kinds, in order."""

    equipment: Equipment
    pumps: dict[str, tuple[str, ...]]
    splitters: dict[str, tuple[str, ...]]

    def pump_code(self, kind: str, number: int) -> str:
        """The pump that is number so and so of its kind."""
        return self.pumps[kind][number - 1]

    def pump_place(self, code: str) -> tuple[str, int]:
        """Kind and number of a pump."""
        return next((kind, codes.index(code) + 1) for kind, codes in self.pumps.items() if code in codes)

    def in_codes(self, words: str) -> str:
        """Words about the kernel's pumps, “kind 3”, with the codes people know them by."""
        for kind, codes in self.pumps.items():
            for number in range(len(codes), 0, -1):
                words = words.replace(f"{kind} {number}", f"pump {codes[number - 1]}")
        return words

    def splitter_kind(self, code: str) -> str:
        """Kind of a splitter."""
        return next(kind for kind, codes in self.splitters.items() if code in codes)


def equipment_of(inputs: PlanInputs) -> PlanEquipment:
    """
    Pumps and splitters by kind, with the crew.

    Parameters
    ----------
    inputs : PlanInputs

    Returns
    -------
    PlanEquipment
        Pumps alike in flow window and certificate are one kind, and so are splitters with as many ports.

    Notes
    -----
    With a pressure controller the ports together take at most a third of the pump's main flow, so that something is
    left to regulate with (judgement of the trade); without one the pump holds the total of its ports itself. The
    smallest total any splitter states bounds them all.
    """
    pumps: dict[tuple[float, float, str], list[Pump]] = {}
    for pump in inputs.pumps.values():
        low, high = pump.flow_min_lpm or 0.0, pump.flow_max_lpm or 0.0
        pumps.setdefault((low, high, pump.area_certificate), []).append(pump)
    splitters: dict[int, list[Splitter]] = {}
    for splitter in inputs.splitters.values():
        splitters.setdefault(len(splitter.ports), []).append(splitter)
    totals = [each.total_max_lpm for each in inputs.splitters.values() if each.total_max_lpm]
    pump_kinds, pump_codes = [], {}
    for (low, high, certificate), alike in pumps.items():
        name = _flows(low, high) + (f", {certificate}" if certificate else "")
        areas = frozenset(a.area_class for a in inputs.accepted_areas if a.area_certificate == certificate)
        pump_kinds.append(PumpKind(name, len(alike), (low, high), _split_total(low, high, totals, inputs), areas))
        pump_codes[name] = tuple(sorted(pump.code for pump in alike))
    terms = inputs.splitter_terms
    splitter_kinds, splitter_codes = [], {}
    for ports, group in sorted(splitters.items()):
        name = f"{ports}-port splitter"
        window = (terms.port_min_lpm or 0.0, terms.port_max_lpm or 0.0)
        splitter_kinds.append(SplitterKind(name, len(group), ports, window, terms.may_cap))
        splitter_codes[name] = tuple(sorted(splitter.code for splitter in group))
    return PlanEquipment(
        Equipment(tuple(pump_kinds), tuple(splitter_kinds), crew_of(inputs)), pump_codes, splitter_codes
    )


def crew_of(inputs: PlanInputs) -> Crew:
    """Technicians of each day, and what one of them can do."""
    there = {day: sum(day not in person.away_on for person in inputs.technicians) for day in inputs.days}
    crew = inputs.crew
    return Crew(
        technicians=len(inputs.technicians),
        hang_min=crew.hang_min,
        before_min=crew.before_min,
        after_min=crew.after_min,
        pumps_per_technician=crew.pumps_per_technician,
        changes_per_technician=crew.changes_per_technician,
        on_day={day: count for day, count in there.items() if count != len(inputs.technicians)},
    )


def technicians_on(day: str, inputs: PlanInputs) -> tuple[str, ...]:
    """Codes of the technicians of a day; the kernel's technician 1 is the first of them."""
    return tuple(person.code for person in inputs.technicians if day not in person.away_on)


def _split_total(low: float, high: float, totals: list[float], inputs: PlanInputs) -> tuple[float, float] | None:
    """What all ports together may take on this pump; `None` where it cannot carry a splitter. [L/min]"""
    main = inputs.splitter_terms.main_flow_lpm
    if main is None:
        most = min([high, *totals])
        return (low, most) if low <= most else None
    if not low <= main <= high:
        return None
    return (inputs.splitter_terms.port_min_lpm or 0.0, min([PORTS_SHARE_OF_MAIN * main, *totals]))


def _flows(low: float, high: float) -> str:
    return f"{low * 1000:g} to {high * 1000:g} mL/min"
