"""
The whole chain from readings to concentration, linear propagation against Monte Carlo (JCGM 101).

The simulation is written out apart from the code under test: every cause is drawn once from its own
distribution and the concentration calculated from the draws. Seeded; tolerances follow from 400 000 draws and from the
second-order terms a linear budget leaves out (about a percent at these sizes).
"""

import numpy as np
import pytest

from lapel.figures import reading
from lapel.hygiene import (
    NTP,
    Air,
    certificate_factor,
    clock_minutes,
    concentration,
    corrected_reading,
    laboratory_mass,
    replicate_flow,
    rotameter_flow,
    sample_flow,
    sample_volume,
    to_ppm,
    total_volume,
    unknown_float_exponent,
)

DRAWS = 400_000


def chain(factor, pre, post, minutes, front, recovery, blank):
    before = replicate_flow(pre, certificate=factor, cause="readings before").flow
    after = replicate_flow(post, certificate=factor, cause="readings after").flow
    volume = sample_volume(sample_flow(before, after), clock_minutes(minutes))
    mass = laboratory_mass(
        reading(front, "ug", name="mass", uncertainty=0.04 * front),
        blank_ug=blank,
        recovery=recovery,
        blank_corrected_by="nobody",
        recovery_corrected_by="nobody",
    )
    return concentration(mass, volume)


def simulated(rng, cert, rec, blank, pre, post, minutes, front, u_pre, u_post):
    """One port's concentration over all draws; `cert`, `rec` and `blank` are shared with the other port."""
    low, high = min(pre, post), max(pre, post)
    mean = (pre + post) / 2
    drift = rng.uniform(low, high, DRAWS) - mean
    flow = mean + (rng.normal(0, u_pre, DRAWS) + rng.normal(0, u_post, DRAWS)) / 2
    flow = cert * flow + drift
    time = minutes + rng.uniform(-0.5, 0.5, DRAWS) - rng.uniform(-0.5, 0.5, DRAWS)
    mass = front * (1 + rng.normal(0, 0.04, DRAWS))
    return (mass - blank) / rec / (flow * time)


@pytest.fixture(scope="module")
def two_ports():
    factor = certificate_factor("M-1", 0.01)
    recovery = reading(0.93, "1", name="recovery", uncertainty=0.02)
    blank = reading(1.5, "ug", name="blank", uncertainty=0.4, cause="blank")
    pre_a, post_a = [0.1012, 0.1018, 0.1015], [0.0951, 0.0958, 0.0953]
    pre_b, post_b = [0.2031, 0.2020, 0.2025], [0.1949, 0.1960, 0.1951]
    a = chain(factor, pre_a, post_a, 235, 61.0, recovery, blank)
    b = chain(factor, pre_b, post_b, 235, 118.0, recovery, blank)

    rng = np.random.default_rng(20260101)
    cert, rec = rng.normal(1, 0.01, DRAWS), rng.normal(0.93, 0.02, DRAWS)
    field_blank = rng.normal(1.5, 0.4, DRAWS)
    ports = []
    for pre, post, front in ((pre_a, post_a, 61.0), (pre_b, post_b, 118.0)):
        spread = [np.std(x, ddof=1) / np.sqrt(3) for x in (pre, post)]
        ports.append(simulated(rng, cert, rec, field_blank, np.mean(pre), np.mean(post), 235, front, *spread))
    return a, b, ports[0], ports[1]


def test_value_and_uncertainty_of_one_port_are_those_of_the_simulation(two_ports):
    a, b, sim_a, sim_b = two_ports
    for figure, sim in ((a, sim_a), (b, sim_b)):
        assert figure.value == pytest.approx(np.mean(sim), rel=0.003)
        assert figure.uncertainty == pytest.approx(np.std(sim), rel=0.015)


def test_about_95_percent_of_the_simulation_lies_within_twice_the_uncertainty(two_ports):
    a, _, sim_a, _ = two_ports
    inside = np.mean(np.abs(sim_a - a.value) < a.expanded(2.0))
    assert inside == pytest.approx(0.9545, abs=0.006)


def test_what_two_ports_share_is_neither_lost_nor_counted_twice(two_ports):
    """One meter, one recovery and one blank behind both: sum, difference and ratio spread as simulated."""
    a, b, sim_a, sim_b = two_ports
    assert (a.amount + b.amount).std_dev == pytest.approx(np.std(sim_a + sim_b), rel=0.015)
    assert (a.amount - b.amount).std_dev == pytest.approx(np.std(sim_a - sim_b), rel=0.015)
    assert (a.amount / b.amount).std_dev == pytest.approx(np.std(sim_a / sim_b), rel=0.015)
    independent = np.hypot(a.uncertainty, b.uncertainty)
    assert (a.amount + b.amount).std_dev > 1.05 * independent


def test_the_budget_names_every_cause_and_adds_up(two_ports):
    a, *_ = two_ports
    rows = a.budget()
    assert {row.cause for row in rows} == {
        "certificate of meter M-1",
        "readings before",
        "readings after",
        "flow drift",
        "reading of the clock",
        "mass",
        "blank",
        "recovery",
    }
    assert sum(row.share for row in rows) == pytest.approx(1.0)
    assert sum(row.uncertainty**2 for row in rows) == pytest.approx(a.uncertainty**2, rel=1e-9)


def test_a_rotameter_at_altitude_with_an_unknown_float_in_two_segments():
    """The exponent is one number for both segments; weather and thermometer reach the ppm twice over, once each."""
    temperature = reading(286.0, "K", name="temperature", uncertainty=1.0)
    pressure = reading(83.5, "kPa", name="pressure", uncertainty=0.3)
    air = Air(temperature, pressure)
    factor, exponent = certificate_factor("R-7", 0.025), unknown_float_exponent("R-7")
    volumes = [
        sample_volume(
            rotameter_flow(corrected_reading(shown, factor=factor), calibrated_at=NTP, used_at=air, exponent=exponent),
            minutes,
        )
        for shown, minutes in ((0.050, 120.0), (0.048, 95.0))
    ]
    found = to_ppm(
        concentration(reading(40.0, "ug", name="mass", uncertainty=1.6), total_volume(volumes)), 92.14, air=air
    )

    rng = np.random.default_rng(20260102)
    kelvin, kilopascal = rng.normal(286.0, 1.0, DRAWS), rng.normal(83.5, 0.3, DRAWS)
    power, cert = rng.uniform(0, 0.5, DRAWS), rng.normal(1, 0.025, DRAWS)
    ratio = (101.325 * kelvin / (kilopascal * 298.15)) ** power
    volume = cert * ratio * (0.050 * 120 + 0.048 * 95)
    sim = rng.normal(40.0, 1.6, DRAWS) / volume / 92.14 * 8.314462618 * kelvin / kilopascal
    assert found.value == pytest.approx(np.mean(sim), rel=0.003)
    assert found.uncertainty == pytest.approx(np.std(sim), rel=0.015)
