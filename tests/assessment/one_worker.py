"""A survey of one worker and one port after another, made by number, for tests."""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

from lapel.assessment.inputs import (
    Agent,
    Group,
    LaboratoryReport,
    LaboratoryResult,
    LimitChoice,
    MediaLot,
    Meter,
    Method,
    Pump,
    SampleOrder,
    Shift,
    Site,
    Survey,
    Worker,
)
from lapel.fieldlog.entries import Entry
from lapel.hygiene import Air

DAY = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)
BENZENE_MASS = 78.114


@dataclass
class Tube:
    """One sampler on port A, run from one minute of the shift to another."""

    code: str
    start_min: float
    stop_min: float
    front_ug: float
    front_below: bool = False
    back_ug: float | None = 0.0
    back_below: bool = False
    purpose: str = "full shift"
    averaging_min: float | None = None


@dataclass
class OneWorker:
    """Makes a survey: flows in mL/min before and after, tubes, blanks, one limit."""

    tubes: list[Tube]
    before: tuple[float, ...] = (100.0, 100.0, 100.0)
    after: tuple[float, ...] | None = (98.0, 98.0, 98.0)
    limit: float = 1.0
    unit: str = "mg/m3"
    kind: str = "TWA"
    shift_min: float = 480.0
    unsampled: str = "mean"
    unsampled_reason: str = ""
    blank_ug: tuple[float, ...] = (0.1, 0.1)
    blanks_below: bool = True
    blank_corrected_by: str = "nobody"
    recovery: float | None = None
    recovery_corrected_by: str = "laboratory"
    rule_book: str = "practice"
    air: Air = field(default_factory=lambda: Air(293.15, 101.325))
    meter: Meter = field(
        default_factory=lambda: Meter(
            "M-1",
            "piston",
            certificate="C-77",
            certified_on=date(2026, 1, 5),
            due_on=date(2027, 1, 5),
            range_min_lpm=0.005,
            range_max_lpm=0.5,
            relative_u=0.01,
        )
    )
    analysis_cv: float = 0.05

    def entries(self) -> list[Entry]:
        """The day's log, as written."""
        acts: list[tuple[float, str, dict[str, str]]] = []

        def at(minute: float, kind: str, **fields: str) -> None:
            acts.append((minute, kind, fields))

        def read(minute: float, phase: str, values: tuple[float, ...]) -> None:
            for value in values:
                at(
                    minute,
                    "flow_read",
                    train="T-1",
                    port="A",
                    phase=phase,
                    meter="M-1",
                    reading=f"{value:g}",
                    unit="mL/min",
                )

        at(-60, "train_prepared", train="T-1", pump="P-1", splitter="", warm_up_min="10")
        at(-59, "port_prepared", train="T-1", port="A", tube="cal-1", medium="charcoal", lot="LOT-1")
        at(-58, "leak_checked", train="T-1", port="A", passed="yes")
        read(-40, "closing", self.before)
        at(-39, "closing_round", train="T-1", ports="A", valve_touched="no")
        at(-5, "train_hung", train="T-1", worker="W-1")
        at(
            -4,
            "conditions",
            place="hall",
            temperature=f"{self.air.temperature_k - 273.15:.2f}",
            temperature_unit="°C",
            pressure=f"{self.air.pressure_kpa:g}",
            pressure_unit="kPa",
            humidity_percent="40",
        )
        running = False
        for number, tube in enumerate(self.tubes):
            at(
                tube.start_min - 0.0,
                "sampler_fitted",
                train="T-1",
                port="A",
                sampler=tube.code,
                medium="charcoal",
                lot="LOT-1",
            )
            if not running:
                at(
                    tube.start_min,
                    "pump_started",
                    train="T-1",
                    counter_min="0" if number == 0 else f"{tube.start_min:g}",
                )
                running = True
            for look in range(int(tube.start_min) + 25, int(tube.stop_min), 110):
                at(look, "pump_checked", train="T-1", running="yes")
            following = self.tubes[number + 1] if number + 1 < len(self.tubes) else None
            if following is None or following.start_min > tube.stop_min:
                why = "shift end" if following is None else "tube change"
                at(tube.stop_min, "pump_stopped", train="T-1", counter_min=f"{tube.stop_min:g}", why=why)
                running = False
            at(tube.stop_min, "sampler_removed", train="T-1", port="A", sampler=tube.code, why="its time was up")
        end = self.tubes[-1].stop_min
        for number in range(len(self.blank_ug)):
            at(1, "blank_opened", blank=f"B-{number + 1}", use="field", medium="charcoal", lot="LOT-1")
            at(2, "blank_closed", blank=f"B-{number + 1}")
        if self.after is not None:
            read(end + 20, "post", self.after)
            at(
                end + 21,
                "post_round",
                train="T-1",
                valve_touched="no",
                recharged="no",
                battery_changed="no",
                same_tubes="yes",
            )
        acts.sort(key=lambda act: act[0])  # as a person writes them: in the order of time
        return [
            Entry(f"e-{number}", kind, DAY + timedelta(minutes=minute), "sheet-1", number, "HB", fields)
            for number, (minute, kind, fields) in enumerate(acts, start=1)
        ]

    def survey(self, **changed: object) -> Survey:
        """The survey as an assessment needs it."""
        report = LaboratoryReport(
            "R-1",
            "a laboratory",
            date(2026, 3, 20),
            "r1.csv",
            "0" * 64,
            samples_received_on=date(2026, 3, 12),
            recovery_corrected_by=self.recovery_corrected_by,
            blank_corrected_by=self.blank_corrected_by,
        )
        results = [
            LaboratoryResult(
                "R-1",
                tube.code,
                "benzene",
                tube.front_ug,
                tube.front_below,
                tube.back_ug,
                tube.back_below,
                reporting_limit_ug=0.1,
                recovery=self.recovery,
                analysed_on=date(2026, 3, 14),
                origin=f"row {row}",
            )
            for row, tube in enumerate(self.tubes, start=2)
        ]
        results += [
            LaboratoryResult("R-1", f"B-{number}", "benzene", mass, self.blanks_below, reporting_limit_ug=0.1)
            for number, mass in enumerate(self.blank_ug, start=1)
        ]
        made = Survey(
            title="One worker",
            site=Site("A hall", "UTC", self.air),
            rule_book=self.rule_book,
            compared_rule_books=(),
            assessed_on=date(2026, 4, 1),
            purpose="a test",
            prepared_by="HB",
            groups={"G": Group("G", "group")},
            workers={"W-1": Worker("W-1", "G")},
            shifts={
                "S-1": Shift(
                    "S-1",
                    "W-1",
                    DAY,
                    DAY + timedelta(minutes=self.shift_min),
                    unsampled=self.unsampled,
                    unsampled_reason=self.unsampled_reason,
                )
            },
            agents={"benzene": Agent("benzene", "Benzene", "71-43-2", BENZENE_MASS)},
            limits=(
                LimitChoice(
                    "benzene", "House", self.kind, self.limit, self.unit, None, "house rule 1", date(2026, 1, 1)
                ),
            ),
            methods={
                "M": Method(
                    "M",
                    "benzene",
                    "charcoal",
                    0.01,
                    0.2,
                    1.0,
                    60.0,
                    reporting_limit_ug=0.1,
                    analysis_cv=self.analysis_cv,
                    holding_days=30,
                    blanks_min=2,
                )
            },
            media_lots={"LOT-1": MediaLot("LOT-1", "charcoal", date(2028, 1, 1), "charcoal")},
            pumps={"P-1": Pump("P-1")},
            splitters={},
            meters={"M-1": self.meter},
            orders={
                tube.code: SampleOrder(tube.code, "S-1", tube.purpose, ("M",), tube.averaging_min)
                for tube in self.tubes
            },
            reports={"R-1": report},
            results=tuple(results),
            entries=tuple(self.entries()),
        )
        return replace(made, **changed)


def one_tube(front_ug: float, **options: object) -> OneWorker:
    """A worker with one tube over the whole shift."""
    names = {"front_below", "back_ug", "back_below", "purpose", "averaging_min"}
    tube = Tube("L-1", 0, options.pop("stop_min", 480), front_ug, **{k: options.pop(k) for k in names & set(options)})
    return OneWorker([tube], **options)
