"""How a train was prepared: what its closing round measured at every port, and what is missing, in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

from lapel.assessment import inputs
from lapel.assessment.bench import FlowBench, RoundFlow
from lapel.assessment.field_days import TrainDay, train_days
from lapel.assessment.live_day import limit_of, measurable
from lapel.assessment.place_air import PlaceAir
from lapel.fieldlog import Day, FlowRound, PortPrepared
from lapel.figures import UnitProblem, at_decimals, canonical, significant
from lapel.hygiene.rulebook import RuleBook


@dataclass(frozen=True, slots=True)
class FlowWindow:
    """The flows all methods allow that are wanted of a port; an end no method states is None. [L/min]"""

    methods: tuple[str, ...]
    low_lpm: float | None
    high_lpm: float | None


@dataclass(frozen=True, slots=True)
class PortReady:
    """
    One port as prepared.

    Attributes
    ----------
    prepared
        The calibration tube and the flow wanted; None where nobody recorded one.
    closing
        The last closing round's part of this port; None where it was not read.
    flow
        What that round measured, as flow of ambient air; None where its meter is not in the register.
    """

    port: str
    prepared: PortPrepared | None
    closing: FlowRound | None
    flow: RoundFlow | None
    window: FlowWindow | None
    leak_checked: bool | None
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrainReady:
    """One train as prepared; `leak_checked` speaks of all inlets at once, `missing` of the train as a whole."""

    prepared: TrainDay
    ports: tuple[PortReady, ...]
    leak_checked: bool | None
    missing: tuple[str, ...]

    @property
    def is_ready(self) -> bool:
        """Whether nothing is missing, on the train or on a port."""
        return not self.missing and not any(port.missing for port in self.ports)


def preparedness(
    survey: inputs.Survey, day: Day, book: RuleBook, trains: Iterable[TrainDay] | None = None
) -> list[TrainReady]:
    """
    Say how the trains of a survey were prepared.

    Parameters
    ----------
    survey, day : Survey, Day
        What is on record, and what its log amounts to.
    book : RuleBook
        What it wants of readings, warm-up, charge and leak checks.
    trains : iterable of TrainDay, optional
        Which of them; all, if left out.
    """
    wanted = train_days(day, ZoneInfo(survey.site.zone)) if trains is None else trains
    judge = _Preparedness(survey, day, book)
    return [judge.train(one) for one in wanted]


class _Preparedness:
    def __init__(self, survey: inputs.Survey, day: Day, book: RuleBook) -> None:
        self._survey = survey
        self._bench = FlowBench(survey.meters, PlaceAir(survey.site, day.conditions))
        self._meters = frozenset(survey.meters)
        self._book = book

    def train(self, one: TrainDay) -> TrainReady:
        preparation = one.preparation
        splitter = self._survey.splitters.get(preparation.splitter)
        read = {port for closing in preparation.closing_rounds for port in closing.ports}
        letters = dict.fromkeys(
            (*(splitter.ports if splitter else ()), *preparation.ports, *read, *(run.port for run in one.runs))
        )
        ports = tuple(self._port(one, port) for port in sorted(letters))
        passed = [check.passed for check in preparation.leak_checks if not check.port]
        return TrainReady(one, ports, passed[-1] if passed else None, tuple(self._of_the_train(one, ports)))

    def _port(self, one: TrainDay, port: str) -> PortReady:
        preparation = one.preparation
        closing = next((r.ports[port] for r in reversed(preparation.closing_rounds) if port in r.ports), None)
        flow = self._bench.round_flow(closing) if closing and measurable(closing, self._meters) else None
        checks = [check.passed for check in preparation.leak_checks if check.port == port]
        window = self._window(one, port)
        prepared = preparation.ports.get(port)
        in_use = prepared is not None or any(run.port == port for run in one.runs) or closing is not None
        missing = tuple(self._of_a_port(prepared, closing, flow, window)) if in_use else ()
        return PortReady(port, prepared, closing, flow, window, checks[-1] if checks else None, missing)

    def _window(self, one: TrainDay, port: str) -> FlowWindow | None:
        """Find the window of the methods ordered of this port's samplers, else of those for its medium."""
        orders = [self._survey.orders.get(run.sampler) for run in one.runs if run.port == port]
        codes = dict.fromkeys(code for order in orders if order for code in order.methods)
        methods = [self._survey.methods[code] for code in codes if code in self._survey.methods]
        prepared = one.preparation.ports.get(port)
        if not methods and prepared and prepared.medium:
            methods = [method for method in self._survey.methods.values() if method.medium == prepared.medium]
        if not methods:
            return None
        lows = [method.flow_min_lpm for method in methods if method.flow_min_lpm is not None]
        highs = [method.flow_max_lpm for method in methods if method.flow_max_lpm is not None]
        return FlowWindow(tuple(method.code for method in methods), max(lows, default=None), min(highs, default=None))

    def _of_a_port(
        self,
        prepared: PortPrepared | None,
        closing: FlowRound | None,
        flow: RoundFlow | None,
        window: FlowWindow | None,
    ) -> Iterator[str]:
        if prepared is None:
            yield "No calibration tube is recorded. Flow must be set with the same kind of tube in place."
        elif not prepared.target:
            yield "No wanted flow is recorded."
        if closing is None or not closing.readings:
            yield "Not read in a closing round. Read every port once more, with no valve touched."
            return
        unknown = sorted({read.meter for read in closing.readings} - self._meters)
        for meter in unknown:
            yield f"Read with meter {meter}, which is not in the register. Enter it, or correct the reading."
        if flow is not None:
            yield from self._of_the_flow(prepared, flow, window)
        certified = {
            read.meter: (self._bench.meter_of(read).due_on, self._bench.day_of(read))
            for read in closing.readings
            if read.meter in self._meters
        }
        for meter, (due, day) in sorted(certified.items()):
            if due is None:
                yield f"Meter {meter} has no certificate date."
            elif due < day:
                yield f"The certificate of meter {meter} ran out on {due}."

    def _of_the_flow(self, prepared: PortPrepared | None, flow: RoundFlow, window: FlowWindow | None) -> Iterator[str]:
        fewest = limit_of(self._book, "replicate_count")
        if fewest is not None and flow.n < fewest:
            yield f"{flow.n} reading; at least {at_decimals(fewest, 0)} are wanted."
        widest = limit_of(self._book, "replicate_spread")
        if widest is not None and 100.0 * flow.spread > widest:
            yield (
                f"The readings differ by {at_decimals(100.0 * flow.spread, 1)} % of their mean; no more than "
                f"{widest:g} % is wanted. Read again."
            )
        lpm = flow.flow.value
        if window and window.low_lpm is not None and lpm < window.low_lpm:
            yield f"{_ml(lpm)} is below the method's {_ml(window.low_lpm)}."
        if window and window.high_lpm is not None and lpm > window.high_lpm:
            yield f"{_ml(lpm)} is above the method's {_ml(window.high_lpm)}."
        if prepared and prepared.target:
            try:
                wanted = canonical(prepared.target, prepared.target_unit, "flow")
            except (UnitProblem, ValueError):
                return
            if abs(lpm - wanted) > 0.1 * wanted:
                yield f"{_ml(lpm)} is more than a tenth away from the {_ml(wanted)} wanted."

    def _of_the_train(self, one: TrainDay, ports: Sequence[PortReady]) -> Iterator[str]:
        preparation, survey = one.preparation, self._survey
        if not preparation.entry_id:
            yield "Nobody recorded how this train was put together."
            return
        if preparation.pump not in survey.pumps:
            yield f"Pump {preparation.pump} is not in the register. Enter it under Equipment, or correct the entry."
        splitter = survey.splitters.get(preparation.splitter)
        if preparation.splitter and splitter is None:
            yield f"Splitter {preparation.splitter} is not in the register."
        warm_up = limit_of(self._book, "warm_up")
        if preparation.warm_up_min is None:
            yield "Warm-up is not recorded."
        elif warm_up is not None and preparation.warm_up_min < warm_up:
            yield f"Warm-up of {preparation.warm_up_min:g} min; at least {warm_up:g} min is wanted."
        yield from self._of_the_battery(one)
        if not preparation.leak_checks:
            yield "No leak check is recorded."
        elif failed := [check for check in preparation.leak_checks if not check.passed]:
            again = any(
                c.passed and c.at > failed[-1].at and c.port in ("", failed[-1].port) for c in preparation.leak_checks
            )
            if not again:
                yield "A leak check failed, and none passed after it."
        if not preparation.closing_rounds:
            yield "No closing round is recorded: the flow before the run is not proven."
        elif preparation.closing_rounds[-1].valve_touched:
            yield "A valve was touched during the last closing round. Read all ports again."
        flows = [port.flow.flow.value for port in ports if port.flow and port.flow.flow.value > 0.0]
        if splitter and splitter.total_max_lpm and sum(flows) > splitter.total_max_lpm:
            most = _ml(splitter.total_max_lpm)
            yield f"The ports draw {_ml(sum(flows))} together; splitter {splitter.code} takes {most}."
        ratio = limit_of(self._book, "port_flow_ratio")
        if ratio is not None and len(flows) > 1 and max(flows) > ratio * min(flows):
            yield (
                f"The largest port flow is {significant(max(flows) / min(flows), 2)} times the smallest; "
                f"no more than {ratio:g} times is wanted."
            )

    def _of_the_battery(self, one: TrainDay) -> Iterator[str]:
        preparation = one.preparation
        longest = limit_of(self._book, "hours_since_charge")
        if preparation.charged_at is None:
            yield "The last full charge is not recorded."
        elif longest is not None and preparation.at is not None:
            hours = (preparation.at - preparation.charged_at) / timedelta(hours=1)
            if hours > longest:
                yield f"Charged {at_decimals(hours, 0)} h before; no more than {longest:g} h is wanted."


def _ml(lpm: float) -> str:
    return f"{significant(1000.0 * lpm, 3)} mL/min" if lpm < 1.0 else f"{significant(lpm, 3)} L/min"
