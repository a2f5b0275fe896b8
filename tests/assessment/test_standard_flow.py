"""Flows a meter states at its own standard condition: brought to the air of the place, or said that nobody can."""

from dataclasses import replace

import pytest

from lapel.assessment.inputs import Meter
from lapel.assessment.survey import assess
from lapel.hygiene import Air
from tests.assessment.one_worker import one_tube

AT_1600_M = Air(295.15, 83.4)
ZERO_CELSIUS = Air(273.15, 101.325)


def thermal(**more):
    return Meter("M-1", "thermal", certificate="C-1", relative_u=0.02, range_min_lpm=0.005, range_max_lpm=0.5, **more)


def the_sample(made, **changed):
    (sample,) = assess(replace(made.survey(), **changed)).samples
    return sample


def finding(sample):
    return sample.standing.of("standard-condition-unknown")


def test_a_standard_flow_is_brought_to_the_air_of_the_place():
    """99 mL/min at 0 °C and 101.325 kPa fill 99·(101.325/83.4)·(295.15/273.15) mL/min of the air at 1600 m."""
    made = one_tube(20.0, air=AT_1600_M, meter=thermal(reads="standard", calibrated_at=ZERO_CELSIUS))
    sample = the_sample(made)
    assert sample.volume.value == pytest.approx(480 * 0.099 * (101.325 / 83.4) * (295.15 / 273.15), rel=1e-6)
    assert finding(sample) is None


def test_a_standard_flow_at_a_condition_nobody_stated_is_a_finding():
    sample = the_sample(one_tube(20.0, air=AT_1600_M, meter=thermal(reads="standard")))
    assert sample.volume.value == pytest.approx(480 * 0.099, rel=1e-6)
    found = finding(sample)
    assert found.effect == "qualified"
    assert found.found.startswith(
        "at a standard condition that nobody stated, left as read: 100 mL/min on M-1 (entry e-"
    )
    assert sample.standing.level == "qualified"


@pytest.mark.parametrize(("basis", "said"), [("standard", True), ("actual", False)])
def test_what_was_written_beside_the_reading_goes_before_what_the_meter_usually_shows(basis, said):
    made = one_tube(20.0, meter=thermal(reads="actual" if basis == "standard" else "standard"))
    entries = tuple(
        replace(entry, fields=dict(entry.fields) | {"basis": basis}) if entry.kind == "flow_read" else entry
        for entry in made.entries()
    )
    assert (finding(the_sample(made, entries=entries)) is not None) is said
