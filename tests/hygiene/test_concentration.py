"""Concentration: closed forms, properties, conditions, bounds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import UnitMismatch, reading
from lapel.hygiene import (
    NTP,
    Air,
    concentration,
    concentration_at,
    molar_volume,
    sample_volume,
    to_mg_m3,
    to_ppm,
    volume_at,
)

airs = st.builds(Air, st.floats(250, 320), st.floats(60, 105))
levels = st.floats(1e-4, 1e4)
molar = st.floats(16.0, 400.0)


@given(st.floats(1.0, 1e5), st.floats(0.1, 2000), st.floats(0.0, 1.0), st.floats(0.05, 1.2))
def test_micrograms_a_litre_are_milligrams_a_cubic_metre(mass, volume, blank, recovery):
    found = concentration(mass, volume, blank_ug=blank, recovery=recovery)
    milligrams, cubic_metres = (mass - blank) / recovery / 1000, volume / 1000
    assert found.value == pytest.approx(milligrams / cubic_metres, rel=1e-12)
    assert found.unit == "mg/m3"


@given(levels, molar, airs)
def test_ppm_there_and_back(ppm, molar_mass, air):
    assert to_ppm(to_mg_m3(ppm, molar_mass, air=air), molar_mass, air=air).value == pytest.approx(ppm, rel=1e-12)


@given(levels, molar, airs)
def test_ppm_is_mass_over_molar_mass_times_the_molar_volume(mg_m3, molar_mass, air):
    expected = mg_m3 / molar_mass * molar_volume(air).value
    assert to_ppm(mg_m3, molar_mass, air=air).value == pytest.approx(expected, rel=1e-12)


@given(levels, molar, airs, airs)
def test_a_mole_ratio_does_not_care_where_the_air_is_taken_to(mg_m3, molar_mass, one, two):
    moved = concentration_at(mg_m3, measured=one, reference=two)
    assert to_ppm(moved, molar_mass, air=two).value == pytest.approx(to_ppm(mg_m3, molar_mass, air=one).value, rel=1e-9)


@given(st.floats(0.1, 1e4), st.floats(0.1, 1000), airs, airs)
def test_two_roads_to_the_reference_condition_meet(mass, volume, one, two):
    """The volume converted first, or the concentration converted last."""
    first = concentration(mass, volume_at(volume, measured=one, reference=two))
    last = concentration_at(concentration(mass, volume), measured=one, reference=two)
    assert first.value == pytest.approx(last.value, rel=1e-12)


def test_the_sea_level_factor_at_altitude_is_wrong_by_the_pressure():
    """1600 m and 8 °C: 24.45 would understate the ppm by 12.6 % against the molar volume of that air, 27.98 L."""
    high = Air(281.15, 83.5)
    assert molar_volume(high).value == pytest.approx(27.98, abs=0.02)
    assert to_ppm(10, 92.14).value / to_ppm(10, 92.14, air=high).value == pytest.approx(24.45 / 27.98, rel=1e-3)


def test_the_same_ppm_is_fewer_milligrams_in_thin_air():
    assert to_mg_m3(50, 92.14, air=Air(298.15, 83.5)).value < to_mg_m3(50, 92.14).value


def test_a_non_detect_stays_an_upper_bound_all_the_way():
    mass = reading(0.5, "ug", name="toluene", sense="at most")
    found = concentration(mass, sample_volume(0.1, 120))
    for figure in (found, to_ppm(found, 92.14), concentration_at(found, measured=NTP, reference=Air(293.15, 101.325))):
        assert figure.sense == "at most"
    assert to_mg_m3(to_ppm(found, 92.14), 92.14).value == pytest.approx(0.5 / 12, rel=1e-12)


def test_a_volume_known_as_a_minimum_makes_the_concentration_a_maximum():
    volume = reading(12.0, "L", name="volume", sense="at least")
    assert concentration(5.0, volume).sense == "at most"
    assert concentration(5.0, 12.0, blank_ug=reading(1.0, "ug", name="blank", sense="at most")).sense == "at least"
    both = concentration(reading(5.0, "ug", name="m", sense="at most"), reading(12.0, "L", name="v", sense="at most"))
    assert both.sense == "unknown"


def test_relative_doubts_add_as_squares():
    mass = reading(50.0, "ug", name="mass", uncertainty=50 * 0.05)
    volume = reading(24.0, "L", name="volume", uncertainty=24 * 0.03)
    recovery = reading(0.9, "1", name="recovery", uncertainty=0.9 * 0.04)
    found = concentration(mass, volume, recovery=recovery)
    assert found.relative_uncertainty == pytest.approx(math.sqrt(0.05**2 + 0.03**2 + 0.04**2), rel=1e-9)
    assert [row.cause for row in found.budget()] == ["mass", "recovery", "volume"]


def test_temperature_and_pressure_that_are_uncertain_reach_the_ppm():
    air = Air(
        reading(291.0, "K", name="temperature", uncertainty=1.5),
        reading(83.5, "kPa", name="pressure", uncertainty=1.2),
    )
    found = to_ppm(10.0, 92.14, air=air)
    assert found.relative_uncertainty == pytest.approx(math.hypot(1.5 / 291.0, 1.2 / 83.5), rel=1e-9)


@pytest.mark.parametrize("volume", [0.0, -1.0, math.nan])
def test_no_volume_no_concentration(volume):
    with pytest.raises(ValueError, match=r"`volume_l` of “concentration in air” must be finite and above 0"):
        concentration(1.0, volume)


def test_a_negative_concentration_is_never_made():
    with pytest.raises(ValueError, match=r"found a blank of 2 ug on a mass of 1 ug"):
        concentration(1.0, 10.0, blank_ug=2.0)


def test_a_recovery_in_percent_is_refused():
    with pytest.raises(ValueError, match=r"`recovery` .* \(a fraction: 0.95, not 95"):
        concentration(1.0, 10.0, recovery=95)


def test_milligrams_cannot_stand_in_for_ppm():
    found = concentration(1.0, 10.0)
    with pytest.raises(UnitMismatch, match=r"`ppm` of “mass concentration” must be in ppm"):
        to_mg_m3(found, 92.14)


def test_a_molar_mass_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"`molar_mass` of “mole ratio” must be finite and above 0"):
        to_ppm(1.0, 0.0)


def test_bare_formulas_give_arrays_what_single_calls_give():
    rng = np.random.default_rng(41)
    mass, volume = rng.uniform(1, 100, size=(2, 50))
    bulk = concentration.raw(mass, volume, blank_ug=0.3, recovery=0.93)
    single = [
        concentration(m, v, blank_ug=0.3, recovery=0.93).value
        for m, v in zip(mass.tolist(), volume.tolist(), strict=True)
    ]
    assert bulk.tolist() == pytest.approx(single, rel=1e-15)
