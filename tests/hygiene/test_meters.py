"""Flow meters: closed forms, properties, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import UnitMismatch, reading
from lapel.hygiene import (
    NTP,
    Air,
    ambient_to_standard_flow,
    certificate_factor,
    corrected_reading,
    curve_flow,
    full_scale_offset,
    rotameter_flow,
    soap_film_vapour_correction,
    standard_pressure,
    standard_to_ambient_flow,
    unknown_float_exponent,
    volume_time_flow,
    water_vapour_pressure,
)

airs = st.builds(Air, st.floats(250, 320), st.floats(60, 105))
flows = st.floats(0.01, 5.0)


@given(flows, airs)
def test_a_rotameter_read_in_its_own_air_is_right(flow, air):
    assert rotameter_flow(flow, calibrated_at=air, used_at=air).value == pytest.approx(flow, rel=1e-12)


@given(flows, airs, airs, airs)
def test_rotameter_corrections_chain(flow, one, two, three):
    there = rotameter_flow(flow, calibrated_at=one, used_at=two)
    on = rotameter_flow(there, calibrated_at=two, used_at=three)
    assert on.value == pytest.approx(rotameter_flow(flow, calibrated_at=one, used_at=three).value, rel=1e-9)


@given(flows, airs, airs)
def test_a_density_float_lies_between_the_volumetric_and_the_standard_reading(flow, made, used):
    """Q_ambient · Q_standard = Q_indicated²: the root sits halfway between the two gas-law extremes."""
    ambient = rotameter_flow(flow, calibrated_at=made, used_at=used).value
    standard = ambient_to_standard_flow(ambient, ambient=used, standard=made).value
    assert ambient * standard == pytest.approx(flow**2, rel=1e-9)


@pytest.mark.parametrize("metres", [300, 1600, 3000])
def test_true_flow_at_altitude_is_above_the_reading_by_the_root_of_the_pressures(metres):
    thin = Air(298.15, standard_pressure(metres).value)
    expected = math.sqrt(101.325 / thin.pressure_kpa)
    assert expected > 1
    assert rotameter_flow(1.0, calibrated_at=NTP, used_at=thin).value == pytest.approx(expected, rel=1e-12)


def test_a_viscous_float_is_not_corrected_at_all():
    thin = Air(280.0, 75.0)
    assert rotameter_flow(0.05, calibrated_at=NTP, used_at=thin, exponent=0.0).value == 0.05


def test_an_unknown_float_covers_both_ends_at_altitude():
    """At 1600 m the ends are 0 and +10 %; the middle carries u of about 2.8 %, and ±√3·u reaches both ends."""
    high = Air(298.15, standard_pressure(1600).value)
    found = rotameter_flow(0.05, calibrated_at=NTP, used_at=high, exponent=unknown_float_exponent("R-2"))
    low = rotameter_flow(0.05, calibrated_at=NTP, used_at=high, exponent=0.0).value
    top = rotameter_flow(0.05, calibrated_at=NTP, used_at=high, exponent=0.5).value
    assert low < found.value < top
    assert found.value - math.sqrt(3) * found.uncertainty == pytest.approx(low, rel=0.002)
    assert found.value + math.sqrt(3) * found.uncertainty == pytest.approx(top, rel=0.002)
    assert [row.cause for row in found.budget()] == ["float exponent of R-2 unknown"]


def test_an_unknown_float_adds_nothing_where_its_scale_was_made():
    assert rotameter_flow(0.05, calibrated_at=NTP, used_at=NTP, exponent=unknown_float_exponent()).uncertainty == 0.0


def test_one_float_behind_two_readings_is_one_cause():
    used = Air(285.0, 80.0)
    float_ = unknown_float_exponent("R-2")
    one = rotameter_flow(0.05, calibrated_at=NTP, used_at=used, exponent=float_)
    two = rotameter_flow(0.10, calibrated_at=NTP, used_at=used, exponent=float_)
    ratio = two.amount / one.amount
    assert ratio.std_dev == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("exponent", [-0.1, 0.6, 1.0])
def test_an_exponent_no_float_has_is_refused(exponent):
    with pytest.raises(ValueError, match=r"`exponent` of “flow from a rotameter” must be between 0"):
        rotameter_flow(1.0, calibrated_at=NTP, used_at=NTP, exponent=exponent)


@given(flows, airs, airs)
def test_thermal_flow_there_and_back(flow, standard, ambient):
    out = standard_to_ambient_flow(flow, standard=standard, ambient=ambient)
    assert ambient_to_standard_flow(out, ambient=ambient, standard=standard).value == pytest.approx(flow, rel=1e-12)


def test_thin_warm_air_takes_more_room_than_the_thermal_meter_shows():
    assert standard_to_ambient_flow(1.0, standard=NTP, ambient=Air(308.15, 83.5)).value > 1.2


def test_dry_gas_through_a_wet_burette_gains_the_waters_share():
    """Closed form: dry and saturated at P, (P - p_w)/P; 2.3 % at 20 °C and sea level."""
    air = Air(293.15, 101.325)
    found = soap_film_vapour_correction(1.0, air=air, relative_humidity=0.0).value
    assert found == pytest.approx(1 - water_vapour_pressure(293.15).value / 101.325, rel=1e-12)
    assert 1 - found == pytest.approx(0.023, abs=0.0005)


@given(flows, st.floats(275, 320), st.floats(60, 105), st.floats(0, 1))
def test_humid_air_needs_less_vapour_correction_and_saturated_air_none(flow, kelvin, kilopascal, humidity):
    air = Air(kelvin, kilopascal)
    found = soap_film_vapour_correction(flow, air=air, relative_humidity=humidity).value
    assert soap_film_vapour_correction(flow, air=air, relative_humidity=0.0).value <= found * (1 + 1e-12)
    assert found <= flow * (1 + 1e-12)
    assert soap_film_vapour_correction(flow, air=air, relative_humidity=1.0).value == pytest.approx(flow, rel=1e-12)


def test_a_humidity_in_percent_is_refused():
    with pytest.raises(ValueError, match=r"`relative_humidity` .* must be between 0 and 1; found 45"):
        soap_film_vapour_correction(1.0, air=NTP, relative_humidity=45)


def test_film_humidity_nobody_measured_can_be_carried_as_doubt():
    half = reading(0.75, "1", name="humidity at the film", uncertainty=0.25 / 3**0.5)
    found = soap_film_vapour_correction(1.0, air=NTP, relative_humidity=0.5, leaving_humidity=half)
    assert found.budget()[0].cause == "humidity at the film"
    assert 0.003 < found.relative_uncertainty < 0.006


def test_one_certificate_behind_two_meters_readings_stays_one():
    factor = certificate_factor("M-1", 0.01)
    a, b = corrected_reading(0.1, factor=factor), corrected_reading(0.2, factor=factor)
    assert (a.amount + b.amount).std_dev == pytest.approx(0.003, rel=1e-9)
    assert [row.cause for row in a.budget()] == ["certificate of meter M-1"]


def test_percent_of_full_scale_weighs_more_low_on_the_scale():
    factor, offset = certificate_factor("R-1", 0.0), full_scale_offset("R-1", 0.015 / 3**0.5)
    low = corrected_reading(0.1, factor=factor, offset_lpm=offset)
    high = corrected_reading(0.5, factor=factor, offset_lpm=offset)
    assert low.uncertainty == pytest.approx(0.015 / 3**0.5, rel=1e-12)
    assert low.uncertainty == pytest.approx(high.uncertainty)
    assert low.relative_uncertainty == pytest.approx(5 * high.relative_uncertainty)


def test_a_certificate_in_percent_is_refused():
    with pytest.raises(ValueError, match=r"`relative_u` of meter M-1 must be between 0 and 0.5 \(a fraction"):
        certificate_factor("M-1", 1.0)


def test_a_curve_is_exact_at_its_points_and_straight_between():
    curve = [(1.0, 0.98), (2.0, 2.02), (4.0, 4.1)]
    for shown, true in curve:
        assert curve_flow(shown, curve=curve).value == pytest.approx(true, rel=1e-12)
    assert curve_flow(3.0, curve=curve).value == pytest.approx((2.02 + 4.1) / 2, rel=1e-12)


@given(st.floats(0.02, 1.99))
def test_a_curve_matches_linear_interpolation(shown):
    curve = [(0.01, 0.011), (0.1, 0.104), (0.5, 0.49), (2.0, 2.05)]
    expected = np.interp(shown, [x for x, _ in curve], [y for _, y in curve])
    assert curve_flow(shown, curve=curve).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("shown", [0.9, 4.1])
def test_nothing_is_read_beyond_the_curve(shown):
    with pytest.raises(ValueError, match=r"`indicated_lpm` must lie on the curve of M-1, 1 to 4; found"):
        curve_flow(shown, curve=[(1.0, 0.98), (4.0, 4.1)], meter="M-1")


def test_a_curve_that_turns_back_is_refused():
    with pytest.raises(ValueError, match=r"must rise; true flow falls or stays from point 2 \(2\) to point 3 \(2\)"):
        curve_flow(1.5, curve=[(1, 1), (2, 2), (3, 2)])


def test_a_curve_of_one_point_is_refused():
    with pytest.raises(ValueError, match=r"must have 2 points or more; found 1"):
        curve_flow(1.0, curve=[(1, 1)])


@given(st.floats(0.001, 1.0), st.floats(1.0, 600.0))
def test_burette_flow_times_time_is_the_volume(volume, seconds):
    assert volume_time_flow(volume, seconds).value * seconds / 60 == pytest.approx(volume, rel=1e-12)


def test_a_stop_watch_carries_its_share():
    seconds = reading(60.0, "s", name="stop-watch", uncertainty=0.2)
    assert volume_time_flow(0.5, seconds).relative_uncertainty == pytest.approx(0.2 / 60, rel=1e-9)


def test_a_flow_of_zero_is_refused_with_its_name():
    with pytest.raises(ValueError, match=r"`indicated_lpm` of “flow from a rotameter” must be finite and above 0"):
        rotameter_flow(0.0, calibrated_at=NTP, used_at=NTP)


def test_millilitres_cannot_slip_in_as_litres():
    with pytest.raises(UnitMismatch, match=r"must be in L; “volume” is in min"):
        volume_time_flow(reading(1.0, "min", name="volume"), 60)
