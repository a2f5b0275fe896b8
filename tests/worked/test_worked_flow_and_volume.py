"""Published numbers for flow, time, volume and air. Each test names what was read, and where."""

import math

import pytest
from printed_figures import prints_as

from lapel.figures import reading
from lapel.hygiene import (
    NTP,
    Air,
    ambient_to_standard_flow,
    certificate_factor,
    clock_minutes,
    corrected_reading,
    molar_volume,
    replicate_flow,
    rotameter_flow,
    sample_volume,
    soap_film_vapour_correction,
    standard_to_ambient_flow,
    total_volume,
    volume_at,
    volume_time_flow,
    water_vapour_pressure,
)

MMHG = 101.325 / 760.0
PSI = 101.325 / 14.696


def test_two_hundred_millilitres_in_forty_seconds():
    """Public Lab research note 11949 (2015), soap film in a cylinder: 0.3 L/min is 200 mL in 40 s."""
    assert volume_time_flow(0.200, 40).value == pytest.approx(0.3, rel=1e-12)


def test_three_readings_that_differ_in_the_last_digit():
    """NIST StRD, Numerical-Accuracy-1: certified mean 10000002, s = 1, n = 3 (both exact)."""
    round_ = replicate_flow([10000001, 10000003, 10000002])
    assert round_.flow.value == 10000002
    assert round_.flow.uncertainty == pytest.approx(1 / math.sqrt(3), rel=1e-12)


def test_a_thousand_and_one_readings_that_differ_in_the_last_digit():
    """NIST StRD, Numerical-Accuracy-4: certified mean 10000000.2, s = 0.1, n = 1001 (both exact)."""
    round_ = replicate_flow([10000000.2] + [10000000.1, 10000000.3] * 500)
    assert round_.flow.value == pytest.approx(10000000.2, rel=1e-12)
    assert round_.flow.uncertainty == pytest.approx(0.1 / math.sqrt(1001), rel=1e-6)


def test_a_pump_of_five_percent_is_accurate_to_ten():
    """Baker et al., ACS Symposium Series 149 (1981), ch. 30: accuracy = 2·CV = 10 % for a pump's CV of 5 %."""
    flow = corrected_reading(2.0, factor=certificate_factor("pump", 0.05))
    assert flow.expanded() / flow.value == pytest.approx(0.10, rel=1e-9)


def test_a_clock_read_to_the_minute_at_both_ends():
    """DGUV IFA, measurement uncertainty, sampling time (EN 1076, B.2.4): half a minute at each end, triangular.

    A triangle from -1 to +1 min has a standard deviation of 1/√6 min (JCGM 100:2008, 4.3.9).
    """
    assert clock_minutes(120).uncertainty == pytest.approx(1 / math.sqrt(6), rel=1e-12)


def test_the_toluene_sample_of_the_agency():
    """OSHA method 111 (toluene), page 1: 50 mL/min for 240 min is 12 L."""
    assert sample_volume(0.050, 240).value == pytest.approx(12, rel=1e-12)


def test_the_carbon_disulfide_breakthrough_test():
    """NMAM 4th ed., method 1600, page 4: 162 min at 0.2 L/min is 32.4 L."""
    assert sample_volume(0.2, 162).value == pytest.approx(32.4, rel=1e-12)


def test_the_vinyl_chloride_sample_of_the_temperature_study():
    """Roh et al. (2000), effect of temperature on breakthrough: 100 min at 0.05 L/min is 5 L."""
    assert sample_volume(0.05, 100).value == pytest.approx(5, rel=1e-12)


def test_the_short_ethanol_sample():
    """OSHA method 100 (ethyl alcohol), 1.1.1, on NMAM 1400: 20 min at 0.05 L/min is 1 L."""
    assert sample_volume(0.05, 20).value == pytest.approx(1, rel=1e-12)


def test_the_volume_of_the_manuals_allyl_chloride_example():
    """NMAM, appendix B: 60 min at 1.00 L/min, and no correction since the pump has no rotameter: 60 L."""
    assert sample_volume(1.00, 60).value == 60


def test_normal_and_standard_litres():
    """“Standard litre per minute” (Wikipedia): 1 L/min at 20 °C, 14.696 psi is 0.94411 at 0 °C, 14.504 psi."""
    normal = Air(293.15, 14.696 * PSI)
    standard = Air(273.15, 14.504 * PSI)
    flow = ambient_to_standard_flow(1.0, ambient=normal, standard=standard)
    assert prints_as(flow.value, "0.94411")
    assert standard_to_ambient_flow(flow, standard=standard, ambient=normal).value == pytest.approx(1.0, rel=1e-12)


def test_the_manuals_rotameter_formula_on_its_own_conditions():
    """NMAM, chapter D, p. 12: V = Q·t·(Pc·Ts/(Ps·Tc))^0.5, with the conditions of the appendix B example.

    Set at 25 °C, 630 mm Hg; used at 20 °C, 660 mm Hg; 1.00 L/min for 60 min. By hand it stays in mm Hg.
    """
    by_hand = 1.00 * 60 * math.sqrt((630 * (20 + 273.15)) / (660 * (25 + 273.15)))
    flow = rotameter_flow(1.00, calibrated_at=Air(298.15, 630 * MMHG), used_at=Air(293.15, 660 * MMHG))
    assert sample_volume(flow, 60).value == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize(
    ("shown_scfm", "gauge_psi", "printed", "printed_u"),
    [(3.6, 12.5, 1.830272, 0.096431), (3.8, 14.0, 1.989867, 0.104839), (4.0, 15.0, 2.134271, 0.112448)],
)
def test_a_pressurised_rotameter_in_a_laboratory_at_altitude(shown_scfm, gauge_psi, printed, printed_u):
    """VSSUQ data set, appendix “flowrate calculation” (experiment of LaMarche et al. 2022, AIChE J., e17643).

    Scale made for 14.7 psi and 70 °F, read at 12.5 to 15 psi above a laboratory of 12.15 psi, at 20 °C; each input
    with its uncertainty; printed as velocity in a channel of 38.09 by 38.11 mm.
    """
    laboratory = Air(
        reading(293.15, "K", name="laboratory", uncertainty=5.0),
        reading(12.15 * PSI, "kPa", name="laboratory pressure", uncertainty=0.5 * PSI),
    )
    back = 12.15 * PSI + gauge_psi * PSI
    inside = Air(
        reading(293.15, "K", name="in the tube", uncertainty=10.0),
        reading(back, "kPa", name="pressure in the tube", uncertainty=0.02 * back),
    )
    scale = Air((70 - 32) * 5 / 9 + 273.15, 14.7 * PSI)
    litres = shown_scfm * (12 * 0.254) ** 3
    shown = reading(litres, "L/min", name="rotameter", uncertainty=0.02 * litres)
    in_the_tube = rotameter_flow(shown, calibrated_at=scale, used_at=inside)
    flow = standard_to_ambient_flow(in_the_tube, standard=inside, ambient=laboratory)
    area_m2 = 0.03809 * 0.03811
    assert flow.value / 60_000 / area_m2 == pytest.approx(printed, abs=5e-7)
    relative = math.sqrt(flow.relative_uncertainty**2 + (0.02 / 38.09) ** 2 + (0.02 / 38.11) ** 2)
    assert printed * relative == pytest.approx(printed_u, abs=1e-6)


@pytest.mark.parametrize(
    ("celsius", "kilopascal"),
    [(9.5, 1.186581), (20.0, 2.3371)],
)
def test_water_over_the_regulations_examples(celsius, kilopascal):
    """40 CFR 1065.645 (b) and (c): 1.186581 kPa at 9.5 °C and 2.3371 kPa at 20 °C (Goff's equation; ours is WMO's)."""
    assert water_vapour_pressure(celsius + 273.15).value == pytest.approx(kilopascal, rel=0.0025)


def test_the_share_of_water_in_half_humid_air():
    """40 CFR 1065.645 (c): 50.77 % at 20 °C and 99.980 kPa is 0.011868 mol/mol."""
    share = 0.5077 * water_vapour_pressure(293.15).value / 99.980
    assert share == pytest.approx(0.011868, rel=0.0025)


@pytest.mark.parametrize(
    ("celsius", "printed", "where"),
    [
        (25, 24.46, "NMAM, appendix B: 24.46 L at 25 °C and 760 mm Hg"),
        (25, 24.45, "WAC 296-62-07340: 24.45 L/mol at 25 °C and 760 mm Hg"),
        (0, 22.4, "volume of 1 mol at 0 °C and 1 atm in the derivation of 24.45, ppm conversion sheet: 22.4 L"),
    ],
    ids=lambda value: str(value)[:12],
)
def test_the_room_of_a_mole(celsius, printed, where):
    """Three printed molar volumes; older ones were made with a rounded gas constant, hence 0.1 %."""
    assert molar_volume(Air(celsius + 273.15, 101.325)).value == pytest.approx(printed, rel=1e-3), where


def test_the_gas_constant_in_millimetres_of_mercury():
    """CCOHS, converting exposure limits: R = 62.4 L·mm Hg/(mol·K)."""
    assert prints_as(molar_volume(Air(1.0, MMHG)).value, "62.4")


def test_the_ambient_methods_dry_standard_volume():
    """EPA compendium method TO-10A, 13.1.7: Vs = Va·(Pb − Pw)/760·298/ta.

    Air that left a wet burette saturated, corrected to dry gas and then to 25 °C and 760 mm Hg, is the same volume.
    """
    barometer, celsius, wet = 745.0, 22.0, 100.0
    water = water_vapour_pressure(celsius + 273.15).value / MMHG
    by_hand = wet * (barometer - water) / 760 * 298.15 / (celsius + 273.15)
    air = Air(celsius + 273.15, barometer * MMHG)
    dry = soap_film_vapour_correction(wet, air=air, relative_humidity=0.0)
    assert volume_at(dry.value, measured=air, reference=NTP).value == pytest.approx(by_hand, rel=1e-12)


def test_segments_between_flow_checks_add_up():
    """EPA compendium method TO-10A, 13.1.6: Va = Σ(Tᵢ·Fᵢ), each segment with its own average flow."""
    minutes, flows = [120, 240, 115], [0.100, 0.097, 0.094]
    volumes = [sample_volume(flow, time) for flow, time in zip(flows, minutes, strict=True)]
    assert total_volume(volumes).value == pytest.approx(0.100 * 120 + 0.097 * 240 + 0.094 * 115, rel=1e-12)


def test_a_rectangle_over_a_plant_certificate():
    """JCGM 100:2008, 4.3.7: bounds a± about the value, nothing else known: u = a/√3. Applied to ±5 % of 2 L/min."""
    flow = reading(2.0, "L/min", name="flow", uncertainty=0.05 * 2.0 / math.sqrt(3))
    assert flow.relative_uncertainty == pytest.approx(0.029, abs=0.0002)
