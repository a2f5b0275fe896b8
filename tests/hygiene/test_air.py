"""Air: what it refuses, and its formulas against brute force and closed forms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading
from lapel.hygiene import NTP, Air, expected_pressure, molar_volume, standard_pressure, water_vapour_pressure


@pytest.mark.parametrize("celsius", [0.0, -5.0, math.nan, math.inf])
def test_a_temperature_that_cannot_be_kelvin_is_refused(celsius):
    with pytest.raises(ValueError, match=r"`temperature_k` must be finite and above 0; found"):
        Air(celsius, 101.325)


def test_a_pressure_of_nothing_is_refused():
    with pytest.raises(ValueError, match=r"`pressure_kpa` must be finite and above 0; found 0"):
        Air(298.15, 0)


@given(st.floats(230, 330), st.floats(50, 110))
def test_a_mole_takes_room_with_temperature_and_gives_it_with_pressure(kelvin, kilopascal):
    one = molar_volume(Air(kelvin, kilopascal)).value
    assert molar_volume(Air(2 * kelvin, kilopascal)).value == pytest.approx(2 * one, rel=1e-12)
    assert molar_volume(Air(kelvin, 2 * kilopascal)).value == pytest.approx(one / 2, rel=1e-12)


def test_the_standard_atmosphere_balances_its_own_weight():
    """dP/dh = -g·M·P/(R·T) with T = 288.15 K - 6.5 K/km (ISO 2533), summed in steps of one metre from the sea."""
    gravity, molar_mass, gas_constant = 9.80665, 0.0289644, 8.31432
    heights = np.arange(0, 3000) + 0.5
    log_fall = np.cumsum(gravity * molar_mass / (gas_constant * (288.15 - 0.0065 * heights)))
    for metres in (300, 1000, 1600, 3000):
        brute = 101.325 * math.exp(-log_fall[metres - 1])
        assert standard_pressure(metres).value == pytest.approx(brute, rel=2e-5)


def test_pressure_outside_the_troposphere_is_refused():
    with pytest.raises(ValueError, match=r"`altitude_m` .* must be between -430 and 11000 m; found 12000"):
        standard_pressure(12_000)


def test_pressure_taken_from_altitude_says_the_weather_is_in_it():
    pressure = expected_pressure(1600)
    assert pressure.value == pytest.approx(standard_pressure(1600).value)
    assert pressure.uncertainty == pytest.approx(1.2)
    assert pressure.budget()[0].cause == "air pressure not read, taken from altitude"


def test_water_boils_off_faster_when_warm_and_follows_its_heat_of_evaporation():
    """Clausius and Clapeyron: d ln p/dT = L/(R·T²), L = 44.0 kJ/mol at 25 °C (CODATA-style rounded value)."""
    slope = math.log(water_vapour_pressure(299.15).value / water_vapour_pressure(297.15).value) / 2.0
    assert slope * 8.314 * 298.15**2 == pytest.approx(44_000, rel=0.01)


def test_ice_and_steam_are_outside_the_water_equation():
    with pytest.raises(ValueError, match=r"`temperature_k` .* must be between 228.15 and 333.15 K"):
        water_vapour_pressure(373.15)


def test_formulas_of_air_take_arrays_and_uncertain_numbers():
    kelvins = np.array([273.15, 293.15])
    assert water_vapour_pressure.raw(kelvins).shape == (2,)
    warm = reading(293.15, "K", name="t", uncertainty=1.0)
    step = water_vapour_pressure(294.15).value - water_vapour_pressure(292.15).value
    assert water_vapour_pressure(warm).uncertainty == pytest.approx(step / 2, rel=0.01)
    assert molar_volume(Air(warm, 101.325)).relative_uncertainty == pytest.approx(1 / 293.15, rel=1e-9)
    assert molar_volume(NTP).uncertainty == 0.0
