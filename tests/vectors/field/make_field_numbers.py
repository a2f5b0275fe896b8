"""
Numbers the field page shows, as the kernel computes them: read by Python tests and by tests in a real browser.

Run this file after the kernel or a rule book has changed; a test computes all of it anew and compares.
"""

from __future__ import annotations

import itertools
import json
import random
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from lapel.assessment import inputs
from lapel.assessment.bench import FlowBench
from lapel.assessment.live_day import live_day
from lapel.assessment.place_air import PlaceAir
from lapel.fieldlog import UNITS, Entry, FlowReading, FlowRound, entry_record, fold, instant_in, plain
from lapel.figures import canonical
from lapel.hygiene import Air, SampleFacts, flow_by_rule, judge
from lapel.hygiene.facts import FlowPair
from lapel.hygiene.flow import flow_change
from lapel.planning import port_pattern, required_volume
from lapel.reference import rule_book

FOLDER = Path(__file__).parent
BOOKS = ("practice", "us-osha", "niosh", "en-iso", "uk")
WORKS = inputs.Site("Works", "Europe/Berlin", Air(289.15, 83.5))
METERS = {
    "piston": inputs.Meter(code="piston", kind="piston", relative_u=0.005),
    "switched": inputs.Meter(code="switched", kind="piston", calibrated_at=Air(294.25, 101.325)),
    "rotameter": inputs.Meter(code="rotameter", kind="rotameter", calibrated_at=Air(293.15, 101.325), exponent=0.5),
    "small-float": inputs.Meter(code="small-float", kind="rotameter", calibrated_at=Air(293.15, 101.325)),
    "bare-float": inputs.Meter(code="bare-float", kind="rotameter"),
    "thermal": inputs.Meter(code="thermal", kind="thermal", reads="standard", calibrated_at=Air(273.15, 101.325)),
    "thermal-bare": inputs.Meter(code="thermal-bare", kind="thermal", reads="standard"),
    "curved": inputs.Meter(code="curved", kind="piston", curve=((0.05, 0.052), (0.1, 0.101), (0.2, 0.198))),
    "burette": inputs.Meter(code="burette", kind="burette"),
}


def units() -> list[dict[str, Any]]:
    """Every unit an entry may state, with numbers as people type them."""
    typed = ("102.1", "0.1", "3", ".25", "1e-1", "+7.", "21.7", "-4", "0.30000000000000004")
    return [
        {"text": text, "unit": unit, "kind": kind, "canonical": canonical(text, unit, kind)}
        for kind, spelled in UNITS.items()
        for unit in (*spelled, *(one.upper() for one in spelled))
        for text in typed
    ]


def rounds() -> list[dict[str, Any]]:
    """Rounds of readings on every kind of meter, in recorded, nearby, usual and unknown air."""
    chance = random.Random(31)
    made = []
    for meter, air, n in itertools.product(
        (*METERS, "not-registered"), ("recorded", "half", "nearby", "usual"), (1, 3)
    ):
        site = WORKS if air != "half" else replace(WORKS, air=None)
        read = tuple(_reading(chance, meter, air, place) for place in range(n))
        conditions = fold([_conditions()]).conditions if air == "nearby" else ()
        flows = FlowBench(METERS, PlaceAir(site, conditions)).round_flow(
            FlowRound("closing", "A", read[-1].at, read, True)
        )
        made.append(
            {
                "readings": plain(read),
                "site": _site(site),
                "conditions": plain(conditions),
                "mean_lpm": flows.flow.value,
                "spread": flows.spread,
                "n": flows.n,
                "assumptions": [words for words in flows.assumptions if "certificate uncertainty" not in words],
            }
        )
    return made


def changes() -> list[dict[str, Any]]:
    """Change from before to after on each basis, and the flow each rule takes."""
    flows = ((0.1, 0.086), (0.1, 0.1), (0.104, 0.0935), (0.05, 0.062), (0.2, 0.19))
    return [
        {
            "pre_lpm": pre,
            "post_lpm": post,
            "change": {basis: flow_change(pre, post, basis=basis) for basis in ("pre", "post", "mean")},
            "flow_lpm": {
                rule: flow_by_rule(pre, post, rule=rule).value for rule in ("mean", "lower", "higher", "pre", "post")
            },
        }
        for pre, post in flows
    ]


def tiers() -> list[dict[str, Any]]:
    """What every packaged rule book says of changes and spreads, at, below and beyond every edge."""
    percent = (0.0, 1.9, 2.0, 2.0000001, 4.9, 5.0, 5.0001, 7.5, 10.0, 10.0001, 14.0, 20.0, 25.0, 60.0)
    made = []
    for key, value, sign in itertools.product(BOOKS, percent, (1, -1)):
        book = rule_book(key)
        pair = _pair(0.1, 0.1 * (1 + sign * value / 100))
        spread = _pair(0.1, 0.1, spread=value / 100)
        measured = flow_change(pair.pre_lpm, pair.post_lpm, basis=book.change_basis)
        for measure, given, one in (("flow_change", measured, pair), ("replicate_spread", value / 100, spread)):
            rule = next((rule for rule in book.rules if rule.measure == measure), None)
            if rule is None:
                continue
            found = judge(SampleFacts(sampler="S", agent="toluene", flow_pairs=(one,)), book).of(rule.id)
            said = {name: getattr(found, name) if found else "" for name in ("effect", "remedy", "certainty")}
            made.append({"book": key, "measure": measure, "value": given, **said})
    return made


def patterns() -> list[dict[str, Any]]:
    """Patterns across ports, with and without the pump's own flow."""
    chance = random.Random(8)
    shares = (1.0, 1.0, 0.97, 0.9, 0.86, 1.1, 0.0, 0.05, 1.3)
    made = []
    for _ in range(150):
        names = "ABC"[: chance.randint(1, 3)]
        before = {name: chance.choice((0.05, 0.1, 0.1, 0.2)) for name in names}
        after = {name: flow * chance.choice(shares) for name, flow in before.items()}
        if chance.random() < 0.15 and len(names) > 1:
            after = dict(zip(names, reversed(list(before.values())), strict=True))
        if chance.random() < 0.2:
            after = {name: 0.9 * flow for name, flow in before.items()}
        pump = chance.choice(((None, None), (1.5, 1.5), (1.5, 1.0)))
        found = port_pattern(before, after, pump_before_lpm=pump[0], pump_after_lpm=pump[1])
        made.append(
            {
                "before": before,
                "after": after,
                "pump_before": pump[0],
                "pump_after": pump[1],
                "found": [{"pattern": one.kind, "ports": list(one.ports), "words": one.words} for one in found],
            }
        )
    return made


def volumes() -> list[dict[str, Any]]:
    """Least volumes in which a share of a limit still gives a mass the laboratory reports."""
    return [
        {
            "loq_ug": loq,
            "limit_mg_m3": limit,
            "fraction": share,
            "litres": required_volume(loq, limit, fraction=share).value,
        }
        for loq, limit, share in itertools.product((0.5, 2.0, 10.0), (0.3, 3.19, 753.2), (0.1, 0.5))
    ]


def days() -> list[dict[str, Any]]:
    """Days that go on, at several instants: what drew for how long, how many litres, and when somebody must look."""
    made = []
    book = rule_book("practice")
    for seed in range(12):
        entries = _running_day(seed)
        for minutes in (1, 29, 31, 95, 240, 700):
            now = instant_in("2026-05-14T06:00+02:00") + timedelta(minutes=minutes)
            known = [entry for entry in entries if entry.at <= now]
            day = fold(known)
            survey = replace(_NOTHING, meters=METERS)
            made.append(
                {
                    "now": plain(now),
                    "entries": [entry_record(entry) for entry in known],
                    "trains": {
                        train.prepared.preparation.train: {
                            "running": train.is_running,
                            "due_at": plain(train.due_at),
                            "due_in_min": train.due_in_min,
                            "ports": {
                                port.run.sampler: {
                                    "drawing": port.state == "running",
                                    "minutes": port.minutes,
                                    "litres": port.litres.value if port.litres else None,
                                }
                                for port in train.ports
                            },
                        }
                        for train in live_day(survey, day, book, now)
                    },
                }
            )
    return made


_NOTHING = inputs.Survey(
    title="x",
    site=WORKS,
    rule_book="practice",
    compared_rule_books=(),
    assessed_on=date(2026, 5, 14),
    purpose="",
    prepared_by="",
    limits=(),
    results=(),
    entries=(),
    **{name: {} for name in ("groups", "workers", "shifts", "agents", "methods", "media_lots", "pumps")},
    **{name: {} for name in ("splitters", "meters", "orders", "reports")},
)

VECTORS = {
    "units": units,
    "rounds": rounds,
    "changes": changes,
    "tiers": tiers,
    "patterns": patterns,
    "volumes": volumes,
    "days": days,
}


def meters_as_packed() -> list[dict[str, Any]]:
    """The meters above as the day pack gives them."""
    from lapel.field.day_pack import _meter

    return [_meter(meter).model_dump() for meter in METERS.values()]


def _site(site: inputs.Site) -> dict[str, float | None]:
    air = site.air
    known = (None, None) if air is None else (round(float(air.temperature_k) - 273.15, 6), float(air.pressure_kpa))
    return {"temperature_c": known[0], "pressure_kpa": known[1]}


def _reading(chance: random.Random, meter: str, air: str, place: int) -> FlowReading:
    timed = meter == "burette"
    warm = {"recorded": ("21.5", "°C"), "half": ("70", "F")}.get(air, ("", ""))
    thin = ("842", "hPa") if air == "recorded" else ("", "")
    return FlowReading(
        entry_id=f"r{place}",
        at=instant_in("2026-05-14T05:30+02:00"),
        train="T1",
        port="A",
        phase="closing",
        meter=meter,
        reading="" if timed else f"{chance.randrange(95, 106)}.{place}",
        unit="" if timed else "mL/min",
        volume="10" if timed else "",
        volume_unit="mL" if timed else "",
        seconds=f"{chance.randrange(55, 65)}.2" if timed else "",
        basis="standard" if meter == "switched" and place == 0 else "",
        temperature=warm[0],
        temperature_unit=warm[1],
        pressure=thin[0],
        pressure_unit=thin[1],
        humidity_percent="",
        author="RK",
    )


def _conditions() -> Entry:
    fields = {"temperature": "9", "temperature_unit": "C", "pressure": "636", "pressure_unit": "mmHg", "place": "hall"}
    return Entry("w1", "conditions", instant_in("2026-05-14T09:00+02:00"), "phone-1", 1, "RK", fields)


def _pair(pre: float, post: float, spread: float = 0.0) -> FlowPair:
    return FlowPair(port="A", pre_lpm=pre, post_lpm=post, pre_spread=spread, post_spread=0.0, pre_n=3, post_n=3)


def _running_day(seed: int) -> list[Entry]:
    """One train of two ports: prepared, started, looked at, held, changed, stopped; what happens is up to chance."""
    chance = random.Random(seed)
    start = instant_in("2026-05-14T06:00+02:00")
    made: list[Entry] = []

    def act(minute: float, kind: str, **fields: str) -> None:
        number = len(made) + 1
        at = start + timedelta(minutes=minute)
        given = {name.rstrip("_"): value for name, value in fields.items()}
        made.append(Entry(f"e{number:03}", kind, at, "phone-1", number, "RK", {"train": "T1", **given}))

    act(-60, "train_prepared", pump="P-1", splitter="H-1")
    meter = chance.choice(list(METERS))
    for port, n in itertools.product("AB", range(3)):
        read = {"volume": "10", "volume_unit": "mL", "seconds": "6"} if meter == "burette" else {
            "reading": str(100 + n + (40 if port == "B" else 0)), "unit": "mL/min"
        }  # fmt: skip
        act(-30 + n, "flow_read", port=port, phase="closing", meter=meter, **read)
    act(-20, "closing_round", ports="A B", valve_touched="no")
    act(-5, "sampler_fitted", port="A", sampler="S-1")
    act(-5, "sampler_fitted", port="B", sampler="S-2")
    act(0, "pump_started", counter_min="0")
    if chance.random() < 0.6:
        act(30, "pump_checked", running="yes", counter_min="30")
    if chance.random() < 0.5:
        act(60, "pump_held", why="break", ports=chance.choice(("", "A")))
        act(90, "pump_resumed")
    if chance.random() < 0.3:
        act(110, "valve_touched", port="A")
    if chance.random() < 0.4:
        act(120, "sampler_removed", port="A", sampler="S-1", why="full")
        act(121, "sampler_fitted", port="A", sampler="S-3")
    if chance.random() < 0.7:
        act(480, "pump_stopped", why="shift end", counter_min="450")
    return made


def main() -> None:
    """Write the files."""
    for name, make in VECTORS.items():
        lines = ",\n".join(json.dumps(one, ensure_ascii=False) for one in make())
        (FOLDER / f"{name}.json").write_text(f"[\n{lines}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
