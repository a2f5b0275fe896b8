"""The flow bench of a survey: from a reading as typed to the flow of ambient air, each meter's doubt counted once."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from lapel.assessment.inputs import Meter
from lapel.assessment.place_air import PlaceAir
from lapel.fieldlog.state import FlowReading, FlowRound, RoundPhase
from lapel.figures import Figure, canonical, parsed_number, reading
from lapel.hygiene import (
    certificate_factor,
    corrected_reading,
    curve_flow,
    flow_by_rule,
    full_scale_offset,
    replicate_flow,
    rotameter_flow,
    standard_to_ambient_flow,
    unknown_float_exponent,
    volume_time_flow,
)
from lapel.hygiene.flow import FlowRule
from lapel.said import Said, said

ASSUMED_CERTIFICATE_U: Mapping[str, float] = {"piston": 0.01, "burette": 0.01, "thermal": 0.02, "rotameter": 0.05}
"""Relative standard uncertainty taken where no certificate states one; working defaults, judgement, always said."""

REPEATABILITY: Mapping[RoundPhase, str] = {
    "closing": "repeatability of the closing readings",
    "post": "repeatability of the post readings",
}
"""What the spread of a round is called in a budget: those before and after a run are two causes."""


@dataclass(frozen=True, slots=True)
class RoundFlow:
    """
    One round of readings at one port, as flow of ambient air.

    Attributes
    ----------
    flow : Figure
        Mean of the readings, with repeatability and the meter's doubt. [L/min]
    spread : float
        (largest - smallest) / mean. [-]
    n : int
        Number of readings.
    meters : tuple of str
        Codes of the meters read.
    assumptions : tuple of str
        What had to be assumed, in words.
    """

    flow: Figure
    spread: float
    n: int
    meters: tuple[str, ...]
    assumptions: tuple[str, ...]


class FlowBench:
    """
    The meters of one survey and what was read on them.

    The same round gives the same figure, the same meter the same factor: what samples share stays shared. A bench that
    goes on from an `earlier` one shares with it too: a round that reads as it did, on meters certified and in air as
    they were, is the figure it was.
    """

    def __init__(
        self, meters: Mapping[str, Meter], place_air: PlaceAir, *, kept: bool = False, earlier: FlowBench | None = None
    ) -> None:
        self._meters = meters
        self._air = place_air
        self._factors: dict[tuple[str, float], Figure] = earlier._factors if earlier else {}
        self._offsets: dict[tuple[str, float], Figure] = earlier._offsets if earlier else {}
        self._exponents: dict[str, Figure] = earlier._exponents if earlier else {}
        self._rounds: dict[tuple[str, ...], RoundFlow] = {}
        self._kept: dict[tuple[str, ...], tuple[Any, RoundFlow]] | None = {} if kept else None
        if earlier is not None:
            self._kept = earlier._kept
        self._sample_flows: dict[tuple[int, int, str], tuple[RoundFlow, RoundFlow, Figure]] = (
            earlier._sample_flows if earlier else {}
        )
        self._days: dict[datetime, date] = {}

    def meter(self, code: str) -> Meter:
        """Return a meter; one the register does not have is taken as reading actual flow, without a certificate."""
        return self._meters.get(code) or Meter(code=code, kind="piston")

    def day_of(self, read: FlowReading) -> date:
        """Day of a reading by the clock on the site's wall."""
        known = self._days.get(read.at)
        if known is None:
            known = self._days[read.at] = read.at.astimezone(self._air.zone).date()
        return known

    def meter_of(self, read: FlowReading) -> Meter:
        """Return the meter of a reading under the certificate in force on its day."""
        return self.meter(read.meter).on(self.day_of(read))

    def round_flow(self, flow_round: FlowRound) -> RoundFlow:
        """Flow of ambient air behind one round of readings at one port."""
        key = tuple(read.entry_id for read in flow_round.readings)
        known = self._rounds.get(key)
        if known is None:
            known = self._rounds[key] = self._as_before(key, flow_round) or self._measured(flow_round)
            if self._kept is not None:
                self._kept[key] = (self._rests_on(flow_round), known)
        return known

    def ground_of(self, reads: Iterable[FlowReading]) -> tuple[Any, ...]:
        """Return what readings rest on besides themselves: their meters as certified on their days, and their air."""
        ground = []
        for read in reads:
            notes: list[str] = []
            air = self._air.of_reading(read, notes)
            ground.append((read.meter in self._meters, self.meter_of(read), air, *notes))
        return tuple(ground)

    def _rests_on(self, flow_round: FlowRound) -> tuple[Any, ...]:
        return flow_round.phase, flow_round.port, flow_round.readings, self.ground_of(flow_round.readings)

    def _as_before(self, key: tuple[str, ...], flow_round: FlowRound) -> RoundFlow | None:
        """Return the flow of a round where it reads and rests as it did."""
        if not self._kept or key not in self._kept:
            return None
        rested_on, flow = self._kept[key]
        return flow if rested_on == self._rests_on(flow_round) else None

    def sample_flow(self, before: RoundFlow | None, after: RoundFlow | None, rule: FlowRule) -> Figure | None:
        """Flow that stands for a run under a rule; where one is missing or nothing the other, None without any."""
        if before is None or after is None or not (before.flow.value > 0.0 and after.flow.value > 0.0):
            single = next((each for each in (before, after) if each and each.flow.value > 0.0), None)
            return single.flow if single else None
        key = (id(before), id(after), rule)
        known = self._sample_flows.get(key)
        if known is None:  # kept with its rounds: while they are, no other has their place in memory
            known = self._sample_flows[key] = (before, after, flow_by_rule(before.flow, after.flow, rule=rule))
        return known[2]

    def off_range(self, reads: Iterable[FlowReading]) -> tuple[str, ...]:
        """Readings outside the range of their meter's certificate, one phrase each."""
        return tuple(
            _read_on(read, meter)
            for read in reads
            if read.meter in self._meters
            and (meter := self.meter_of(read))
            and not (meter.range_min_lpm or 0.0) <= _indicated_lpm(read) <= (meter.range_max_lpm or math.inf)
        )

    def standard_unknown(self, reads: Iterable[FlowReading]) -> tuple[str, ...]:
        """Readings at a standard condition that nobody stated, one phrase each; they are left as read."""
        return tuple(
            _read_on(read, meter)
            for read in reads
            if (meter := self.meter_of(read))
            and meter.kind != "rotameter"
            and (read.basis or meter.reads) == "standard"
            and meter.calibrated_at is None
        )

    def _measured(self, flow_round: FlowRound) -> RoundFlow:
        assumptions: list[str] = []
        meters = tuple(dict.fromkeys(read.meter for read in flow_round.readings))
        shown = [_indicated_lpm(read) for read in flow_round.readings]
        if min(shown) <= 0.0:
            return _still(flow_round, shown, meters)
        assumptions += [
            said(
                "the meter {code} is not on the register: taken as reading actual flow, and nobody knows how well",
                code=code,
            )
            for code in meters
            if code not in self._meters
        ]
        certified = {meter.name: meter for meter in map(self.meter_of, flow_round.readings)}
        for read in flow_round.readings:
            self._note_before_certificate(read, assumptions)
        flows = [self._ambient_flow(read, assumptions) for read in flow_round.readings]
        what = REPEATABILITY[flow_round.phase]
        if len(certified) == 1:
            (meter,) = certified.values()
            replicates = replicate_flow(flows, certificate=self._factor(meter, assumptions), cause=what)
        else:
            factored = [
                corrected_reading(flow, factor=self._factor(self.meter_of(read), assumptions))
                for flow, read in zip(flows, flow_round.readings, strict=True)
            ]
            replicates = replicate_flow(factored, cause=what)
        named = replicates.flow.named(_port_flow(flow_round.port, flow_round.phase))
        return RoundFlow(named, replicates.spread, replicates.n, meters, tuple(dict.fromkeys(assumptions)))

    def _note_before_certificate(self, read: FlowReading, assumptions: list[str]) -> None:
        meter, day = self.meter_of(read), self.day_of(read)
        if meter.certified_on is not None and meter.certified_on > day:
            assumptions.append(
                said(
                    "{meter} was read on {day}, before its first certificate on record, of {certified}: "
                    "taken as that says",
                    meter=meter.code,
                    day=str(day),
                    certified=str(meter.certified_on),
                )
            )

    def _ambient_flow(self, read: FlowReading, assumptions: list[str]) -> Figure:
        meter = self.meter_of(read)
        indicated = _indicated(read)
        if meter.curve:
            if meter.curve[0][0] <= indicated.value <= meter.curve[-1][0]:
                indicated = curve_flow(indicated, curve=meter.curve, meter=meter.name)
            else:
                assumptions.append(
                    said("a reading lies off the certificate's curve of {meter}; left as read", meter=meter.name)
                )
        if meter.full_scale_u_lpm:
            full_scale = (meter.name, meter.full_scale_u_lpm)
            offset = self._offsets.setdefault(full_scale, full_scale_offset(*full_scale))
            indicated = corrected_reading(indicated, factor=1.0, offset_lpm=offset)
        if meter.kind == "rotameter":
            if meter.calibrated_at is None:
                return indicated
            air = self._air.of_reading(read, assumptions)
            return rotameter_flow(
                indicated, calibrated_at=meter.calibrated_at, used_at=air, exponent=self._exponent(meter, assumptions)
            )
        if (read.basis or meter.reads) == "standard":
            standard = meter.calibrated_at
            if standard is None:
                assumptions.append(
                    said("{meter} reads standard flow, at a condition nobody stated; left as read", meter=meter.name)
                )
                return indicated
            return standard_to_ambient_flow(
                indicated, standard=standard, ambient=self._air.of_reading(read, assumptions)
            )
        return indicated

    def _factor(self, meter: Meter, assumptions: list[str]) -> Figure:
        relative_u = meter.relative_u
        if relative_u is None:
            relative_u = ASSUMED_CERTIFICATE_U[meter.kind]
            share = f"{100 * relative_u:g}"
            assumptions.append(
                said("no certificate uncertainty for {meter}: {share} % taken", meter=meter.name, share=share)
            )
        certified = (meter.name, relative_u)
        if certified not in self._factors:
            self._factors[certified] = certificate_factor(*certified)
        return self._factors[certified]

    def _exponent(self, meter: Meter, assumptions: list[str]) -> Figure | float:
        if meter.exponent is not None:
            return meter.exponent
        assumptions.append(
            said("float exponent of {meter} not known: 0 to 0.5 carried as uncertainty", meter=meter.code)
        )
        return self._exponents.setdefault(meter.name, unknown_float_exponent(meter.name))


@lru_cache(maxsize=128)
def _port_flow(port: str, phase: RoundPhase) -> Said:
    before = phase == "closing"
    template = "flow at port {port}, before the run" if before else "flow at port {port}, after the run"
    return said(template, port=port)


def _still(flow_round: FlowRound, shown: list[float], meters: tuple[str, ...]) -> RoundFlow:
    """Return a round in which the meter stood still: kept as read, for no correction makes a flow of nothing."""
    mean = sum(shown) / len(shown)
    flow = reading(
        mean,
        "L/min",
        name=said("flow at port {port}, as read", port=flow_round.port),
        source=said(
            "{n} reading(s), one of 0 or less; first entry {entry}",
            n=len(shown),
            entry=flow_round.readings[0].entry_id,
        ),
    )
    spread = (max(shown) - min(shown)) / mean if mean > 0.0 else 0.0
    return RoundFlow(flow, spread, len(shown), meters, (said("a reading showed no flow; left as read"),))


def _read_on(read: FlowReading, meter: Meter) -> Said:
    return said(
        "{reading} {unit} on {meter} (entry {entry})",
        reading=read.reading,
        unit=read.unit,
        meter=meter.code,
        entry=read.entry_id,
    )


def _indicated_lpm(read: FlowReading) -> float:
    if read.reading:
        return canonical(read.reading, read.unit, "flow")
    return 60.0 * canonical(read.volume, read.volume_unit, "volume") / float(parsed_number(read.seconds))


def _indicated(read: FlowReading) -> Figure:
    source = ("entry {entry}, read on {meter}", read.entry_id, read.meter)
    if read.reading:
        return reading(canonical(read.reading, read.unit, "flow"), "L/min", name="flow reading", source=source)
    volume = reading(
        canonical(read.volume, read.volume_unit, "volume"), "L", name="volume between the marks", source=source
    )
    seconds = reading(float(parsed_number(read.seconds)), "s", name="time between the marks", source=source)
    return volume_time_flow(volume, seconds)
