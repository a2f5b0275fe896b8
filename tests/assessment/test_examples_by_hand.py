"""The example surveys recomputed from what stands in their files, with a few lines of arithmetic of our own."""

import csv
from datetime import timedelta
from pathlib import Path

import pytest

from lapel.assessment.survey import assess
from lapel.exchange.survey_folder import read_survey

EXAMPLES = Path(__file__).parents[2] / "examples"
R = 8.314462618


@pytest.fixture(scope="module")
def small():
    return assess(read_survey(EXAMPLES / "small"))


@pytest.fixture(scope="module")
def hard():
    return assess(read_survey(EXAMPLES / "hard"))


def sample_of(assessment, sampler, agent):
    return next(s for s in assessment.samples if s.sampler == sampler and s.agent.key == agent)


def verdicts_of(assessment, worker, agent, authority, kind="TWA"):
    (shift,) = [s for s in assessment.shifts if s.shift.worker == worker and s.agent.key == agent]
    return next(v for v in shift.verdicts if v.limit.authority == authority and v.limit.kind == kind)


def readings(train, port, phase):
    with (EXAMPLES / "small" / "log" / "flow_read.csv").open(encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if (r["train"], r["port"], r["phase"]) == (train, port, phase)]
    return [float(row["reading"]) for row in rows]


@pytest.mark.parametrize(
    ("sampler", "agent", "train", "port", "minutes", "mass_ug", "molar_mass"),
    [
        ("L-101", "styrene", "T-1", "A", 231, 1520.0, 104.152),
        ("L-102", "styrene", "T-2", "A", 230, 808.0, 104.152),
        ("L-103", "acetone", "T-2", "B", 230, 422.0, 58.08),
    ],
)
def test_every_sample_of_the_small_example(small, sampler, agent, train, port, minutes, mass_ug, molar_mass):
    """Mean of three before, mean of three after, their mean, times minutes; mass over volume; ideal gas."""
    before, after = (readings(train, port, phase) for phase in ("closing", "post"))
    assert len(before) == len(after) == 3
    volume = (sum(before) / 3 + sum(after) / 3) / 2 / 1000 * minutes
    found = sample_of(small, sampler, agent)
    assert found.run.clock_min == minutes
    assert found.volume.value == pytest.approx(volume, rel=1e-12)
    assert found.mass.value == mass_ug
    assert found.concentration.value == pytest.approx(mass_ug / volume, rel=1e-12)
    # 21.5 °C at 07:10 and 22.4 °C at 10:45: each for the minutes of the run on its side of 08:57:30
    first, second = {"T-1": (116.5, 114.5), "T-2": (112.5, 117.5)}[train]
    kelvin = 273.15 + (first * 21.5 + second * 22.4) / minutes
    assert found.ppm.value == pytest.approx(mass_ug / volume * R * kelvin / (101.0 * molar_mass), rel=1e-12)
    assert found.standing.level == "sound"


def test_every_comparison_of_the_small_example_is_under_and_robust(small):
    verdicts = [v for shift in small.shifts for v in shift.verdicts]
    assert verdicts
    assert {v.comparison.verdict for v in verdicts} == {"under"}
    assert all(v.robust for v in verdicts)


def test_the_port_that_drifted_is_void_and_leaves_no_average(hard):
    found = sample_of(hard, "G-107", "formaldehyde")
    assert found.standing.level == "void"
    assert found.segments[0].change == pytest.approx((26.1 - 30.8) / 30.8, abs=0.01)
    (shift,) = [s for s in hard.shifts if s.shift.worker == "W-02" and s.agent.key == "formaldehyde"]
    assert shift.verdicts == ()
    assert [s.sampler for s in shift.left_out] == ["G-107"]


def test_the_hold_makes_two_segments_and_is_not_counted(hard):
    found = sample_of(hard, "G-106", "toluene")
    first, second = (part.segment for part in found.segments)
    assert second.start - first.stop == timedelta(minutes=32)
    assert found.run.clock_min == first.minutes + second.minutes


def test_the_pump_that_stopped_by_itself_ran_as_long_as_its_counter_says(hard):
    found = sample_of(hard, "G-108", "toluene")
    assert found.run.clock_min == pytest.approx(197)
    assert found.segments[0].segment.stop_from_counter
    assert found.standing.partial


def test_the_correction_counts_and_the_first_account_stays(hard):
    (amendment,) = [a for a in hard.day.amendments.values() if "81.9" in a.recorded.fields.values()]
    assert amendment.counts.fields["reading"] != "81.9"


def test_breakthrough_can_only_be_a_least_value(hard):
    found = sample_of(hard, "G-116", "n-hexane")
    assert found.concentration.sense == "at least"
    assert verdicts_of(hard, "W-06", "n-hexane", "US-OSHA").comparison.verdict == "cannot tell"
    assert verdicts_of(hard, "W-06", "n-hexane", "US-NIOSH").comparison.verdict == "cannot tell"


def test_the_contaminated_blank_is_taken_off_once_and_said(hard):
    found = sample_of(hard, "G-111", "toluene")
    assert found.standing.level == "qualified"
    assert found.facts.blank_corrections == 1
    assert found.mass.value < found.result.front_ug


def test_the_night_with_a_clock_change_lasted_nine_hours(hard):
    night = next(s.shift for s in hard.shifts if s.shift.worker == "W-08")
    assert night.end - night.start == timedelta(hours=9)
    assert night.end.astimezone().utcoffset() is not None
    found = sample_of(hard, "G-121", "toluene")
    assert found.run.clock_min == pytest.approx(539)


def test_the_rotameter_is_corrected_for_altitude_with_its_doubt(hard):
    """Scale made at 101.3 kPa, read at about 83: between 1 and √(101.3/83) of the reading."""
    found = sample_of(hard, "G-119", "toluene")
    meter = hard.survey.meters["R-5"]
    read = found.run.segments[0].before.readings[0]
    ratio = found.segments[0].before.value / (float(read.reading) / 1000)
    upper = (meter.calibrated_at.pressure_kpa / 82.0) ** 0.5
    assert 1.0 < ratio < upper * 1.05
    causes = {row.cause for row in found.segments[0].before.budget()}
    assert any("exponent" in cause for cause in causes)
    assert found.facts.rotameter_corrected


def test_a_non_detect_of_the_hard_example_stays_a_bound(hard):
    found = sample_of(hard, "G-124", "formaldehyde")
    assert found.concentration.sense == "at most"
    average = verdicts_of(hard, "W-08", "formaldehyde", "US-OSHA").average
    assert average.is_interval


def test_seventeen_minutes_are_not_fifteen(hard):
    (short,) = hard.short_terms
    stel = next(v for v in short.verdicts if v.limit.kind == "STEL")
    concentration = short.sample.ppm.value
    assert stel.comparison.ratio_low == pytest.approx(concentration * 17 / 30 / 2, rel=1e-9)
    assert stel.comparison.ratio_high == pytest.approx(concentration * 17 / 15 / 2, rel=1e-9)
    assert stel.comparison.verdict == "cannot tell"


def test_the_override_stays_visible(hard):
    found = sample_of(hard, "G-120", "mek")
    overridden = [f for f in found.standing.findings if f.overridden_by]
    assert overridden
    assert all(f.override_reason for f in overridden)
