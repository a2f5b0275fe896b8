"""The import paths and meanings others rely on (docs/decisions/0001-the-house.md): small calls, one a name."""

import math

import pytest

import lapel.hygiene as hygiene
import lapel.planning as planning
import lapel.statistics as statistics
from lapel.figures import Figure

FLOW = {"calibrated_at": hygiene.Air(293.15, 101.325), "used_at": hygiene.Air(293.15, 83.0)}


@pytest.mark.parametrize(
    ("made", "unit", "expected"),
    [
        (lambda: hygiene.rotameter_flow(0.1, **FLOW, exponent=0.5), "L/min", 0.1 * math.sqrt(101.325 / 83.0)),
        (
            lambda: hygiene.standard_to_ambient_flow(
                0.1, standard=hygiene.Air(273.15, 101.325), ambient=hygiene.Air(298.15, 101.325)
            ),
            "L/min",
            0.1 * 298.15 / 273.15,
        ),
        (lambda: hygiene.volume_time_flow(0.1, 60.0), "L/min", 0.1),
        (lambda: hygiene.sample_flow(0.100, 0.096), "L/min", 0.098),
        (lambda: hygiene.sample_volume(0.1, 480.0), "L", 48.0),
        (
            lambda: hygiene.volume_at(
                10.0, measured=hygiene.Air(298.15, 101.325), reference=hygiene.Air(273.15, 101.325)
            ),
            "L",
            10.0 * 273.15 / 298.15,
        ),
        (lambda: hygiene.concentration(10.0, 5.0, blank_ug=1.0, recovery=0.9), "mg/m3", 2.0),
        (lambda: hygiene.to_ppm(3.77, 92.14, air=hygiene.NTP), "ppm", 1.0),
        (lambda: hygiene.to_mg_m3(1.0, 92.14, air=hygiene.NTP), "mg/m3", 3.77),
        (lambda: hygiene.extended_shift_limit(100.0, hours_per_day=12, model="brief-scala-day"), "mg/m3", 50.0),
        (lambda: hygiene.additive_index([(50.0, 100.0), (5.0, 20.0)]), "1", 0.75),
    ],
)
def test_figures(made, unit, expected):
    figure = made()
    assert isinstance(figure, Figure)
    assert figure.unit == unit
    assert figure.value == pytest.approx(expected, rel=2e-3)
    assert figure.derivation is not None


def test_the_change_and_drift_of_a_sample_flow():
    flow = hygiene.sample_flow(0.100, 0.086, basis="pre")
    assert flow.change == pytest.approx(-0.14)
    assert flow.uncertainty == pytest.approx(0.014 / (2 * math.sqrt(3)))


def test_a_time_weighted_average_has_two_ends():
    average = hygiene.time_weighted_average([(1.0, 240), (2.0, 240)], reference_min=480)
    assert (average.lower.value, average.upper.value) == (1.5, 1.5)
    assert hygiene.time_weighted_average([(1.0, 240)], unsampled="highest").upper.value == pytest.approx(1.0)


def test_decisions_have_severity_and_limits():
    for decision in (
        hygiene.single_sample_decision(1.2, 1.0, cv_total=0.07),
        hygiene.consecutive_samples_decision([1.2, 1.1], [240, 240], 1.0, sae=0.12),
        hygiene.additive_decision([(0.6, 1.0, 0.1), (0.3, 1.0, 0.1)]),
    ):
        assert decision.lcl < decision.severity.value < decision.ucl
        assert decision.verdict in ("under", "over", "cannot tell")


def test_statistics():
    rows = statistics.observed([0.1, 0.3, 0.2], lower=None, upper=None)
    fitted = statistics.fit(rows)
    assert fitted.gm.estimate == pytest.approx((0.1 * 0.3 * 0.2) ** (1 / 3))
    assert fitted.p95.lower < fitted.p95.estimate < fitted.p95.upper
    after = statistics.posterior(
        [rows, statistics.observed(lower=[0.0, 0.1], upper=[0.5, 0.1])],
        limit=1.0,
        prior=statistics.SpreadPrior(math.log(0.9), 0.5),
        error_cv=0.1,
    )
    for what in ("gm", "gsd", "mean", "p95", "exceedance"):
        assert after.quantiles(what, (0.05, 0.5, 0.95)).shape == (2, 3)
    assert after.band_probabilities((0.01, 0.1, 0.5, 1.0)).sum(axis=1) == pytest.approx([1.0, 1.0])
    assert 0 < float(after.probability_above("p95", 1.0)[0]) < 1
    flat = statistics.posterior(rows, limit=1.0, prior=statistics.FlatPrior(gsd_low=1.05, gsd_high=10))
    assert flat.quantiles("gsd", (0.5,)).shape == (1, 1)
    workers = statistics.workers_posterior(statistics.observed([0.1, 0.3, 0.2, 0.4]), ["a", "a", "b", "b"], limit=1.0)
    assert 0 <= workers.probability_worker_above("p95") <= 1
    assert workers.between_share().shape == (3,)
    assert float(statistics.tolerance_factor(6, coverage=0.95, confidence=0.70)) == pytest.approx(2.187, abs=5e-4)
    assert statistics.upper_tolerance_limit([0.1, 0.3, 0.2], coverage=0.95, confidence=0.95) > 0.3
    interval = statistics.exceedance_interval([0.1, 0.3, 0.2], 1.0, confidence=0.9)
    assert interval.lower <= interval.estimate <= interval.upper
    assert statistics.mean_upper_limit([0.1, 0.3, 0.2], method="land", confidence=0.95) > 0.2
    assert statistics.compliance_test([0.01, 0.02, 0.03], 1.0).outcome == "shown"


def test_planning():
    assert planning.required_volume(2.0, 1.0, fraction=0.1).value == pytest.approx(20.0)
    assert planning.workers_to_draw(20, top=0.10, confidence=0.90).published == 13
    assert callable(planning.port_window)
    assert callable(planning.design_campaign)
