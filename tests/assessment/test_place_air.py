"""The air of a run: every record made during it counts, each for its own minutes, and their spread is a doubt."""

from datetime import UTC, datetime, timedelta
from math import hypot, sqrt

import pytest

from lapel.assessment.inputs import Site
from lapel.assessment.place_air import PlaceAir
from lapel.fieldlog.state import Conditions
from lapel.hygiene import mean_over_run

START = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)


def record(minute, celsius="", kpa=""):
    return Conditions(
        f"c{minute}", START + timedelta(minutes=minute), "hall", celsius, "°C" if celsius else "", kpa,
        "kPa" if kpa else "", "",
    )  # fmt: skip


def air_of(records, stop_min=480.0):
    notes: list[str] = []
    found = PlaceAir(Site("a hall", "UTC"), records)
    return found.between(START, START + timedelta(minutes=stop_min), notes), notes


def test_several_records_of_a_run_count_each_for_the_minutes_nearest_to_it():
    """At 60, 120 and 400 min: 0 to 90, 90 to 260, 260 to 480."""
    air, notes = air_of([record(60, "10", "100"), record(120, "20", "100"), record(400, "26", "98")])
    kelvin = 273.15 + (90 * 10 + 170 * 20 + 220 * 26) / 480
    assert air.temperature_k.value == pytest.approx(kelvin, rel=1e-12)
    assert air.pressure_kpa.value == pytest.approx((90 * 100 + 170 * 100 + 220 * 98) / 480, rel=1e-12)
    assert notes == []


def test_half_the_range_of_the_records_is_a_rectangular_doubt_beside_the_thermometers_own():
    air, _ = air_of([record(60, "10", "100"), record(400, "26", "100")])
    # 0 to 230 min and 230 to 480; two temperatures that differ have a doubt of 0.5 K each
    own = 0.5 * hypot(230 / 480, 250 / 480)
    assert air.temperature_k.uncertainty == pytest.approx(hypot(own, 16 / (2 * sqrt(3))), rel=1e-9)
    causes = {row.cause for row in air.temperature_k.budget()}
    assert causes == {"air temperature and pressure", "air temperature between its records"}


def test_very_many_records_give_the_mean_and_doubt_of_the_same_rule_in_one_figure():
    """Every 7 minutes for 8 hours and beyond on both sides, worked here minute by minute."""
    minutes = list(range(-70, 560, 7))
    celsius = {minute: 15 + (minute * 37 % 100) / 10 for minute in minutes}
    air, _ = air_of([record(minute, f"{celsius[minute]:.1f}", "100") for minute in minutes])
    inside = [minute for minute in minutes if 0 <= minute <= 480]
    fine = [(k + 0.5) / 100 for k in range(48_000)]
    expected = sum(celsius[min(inside, key=lambda at: abs(at - t))] for t in fine) / len(fine)
    assert air.temperature_k.value - 273.15 == pytest.approx(expected, abs=2e-3)
    warmest, coldest = max(celsius[m] for m in inside), min(celsius[m] for m in inside)
    assert air.temperature_k.uncertainty == pytest.approx(hypot(0.5, (warmest - coldest) / (2 * sqrt(3))), rel=1e-9)
    assert f"{len(inside)} records, entries c0 to c476" in air.temperature_k.source


def test_a_quantity_recorded_once_stands_alone_and_one_recorded_never_is_assumed():
    air, notes = air_of([record(60, "10"), record(120, "20", "95")])
    assert air.pressure_kpa.value == pytest.approx(95)
    air, notes = air_of([record(60, "10"), record(120, "20")])
    assert air.pressure_kpa.value == pytest.approx(101.325)
    assert "assumed" in air.pressure_kpa.source
    assert notes


def test_records_outside_the_run_do_not_count_where_there_are_some_in_it():
    inside = [record(60, "10", "100"), record(120, "20", "100")]
    air, _ = air_of([record(-30, "40", "90"), *inside, record(500, "40", "90")])
    assert air.temperature_k.value == pytest.approx(air_of(inside)[0].temperature_k.value, rel=1e-15)


def test_the_mean_of_records_alike_is_that_record():
    air, _ = air_of([record(60, "21", "100"), record(300, "21", "100")])
    assert air.temperature_k.value == pytest.approx(294.15, rel=1e-15)
    assert air.temperature_k.uncertainty == pytest.approx(0.5, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "minutes", "match"),
    [([], [], "of one length"), ([290.0], [1.0, 2.0], "of one length"), ([290.0], [0.0], "not all 0")],
)
def test_what_is_no_mean_is_refused(values, minutes, match):
    with pytest.raises(ValueError, match=match):
        mean_over_run(values, minutes, unit="K")
