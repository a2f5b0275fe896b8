"""
The hard example worked by hand: plain arithmetic on what stands in its files, none of our formulas.

R is the gas constant fixed by the SI; every reading, mass and time below is copied from the folder's log and reports.
"""

from math import hypot, log, sqrt
from pathlib import Path

import pytest

from lapel.assessment.survey import assess
from lapel.documents.compose import limit_cell
from lapel.exchange.survey_folder import read_survey
from lapel.figures import working

R = 8.314462618
Z = 1.6448536269514722  # one-sided 95 % of the normal distribution
HARD = Path(__file__).parents[2] / "examples" / "hard"


@pytest.fixture(scope="module")
def hard():
    return assess(read_survey(HARD))


def sample(assessment, sampler, agent):
    return next(s for s in assessment.samples if s.sampler == sampler and s.agent.key == agent)


def verdict(assessment, worker, agent, authority="US-OSHA", kind="TWA"):
    (shift,) = [s for s in assessment.shifts if s.shift.worker == worker and s.agent.key == agent]
    return next(v for v in shift.verdicts if v.limit.authority == authority and v.limit.kind == kind)


def ppm(mg_m3, molar_mass, celsius, kpa):
    return mg_m3 * R * (celsius + 273.15) / (kpa * molar_mass)


def test_a_rotameter_sample_at_altitude_from_reading_to_mole_ratio(hard):
    """
    G-119 on R-5: scale for 20 °C and 101.325 kPa, read at 83.4 kPa and 21 °C before, 23 °C after.

    The float's exponent is not known: 0 to 0.5, so 0.25 in the middle. 476 min; the laboratory found 1600 µg, of which
    a mean blank of 15 µg comes off: blanks of 43 and twice less than 2 (1 in the middle), (43 + 1 + 1)/3.
    """
    before = (15.5 + 15.5 + 15.6) / 3 * ((101.325 / 83.4) * ((21 + 273.15) / 293.15)) ** 0.25
    after = 15.3 * ((101.325 / 83.4) * ((23 + 273.15) / 293.15)) ** 0.25
    volume = (before + after) / 2 / 1000 * 476
    mass = 1600 - (43 + 1 + 1) / 3
    found = sample(hard, "G-119", "toluene")
    assert found.segments[0].before.value * 1000 == pytest.approx(before, rel=1e-12)
    assert found.segments[0].after.value * 1000 == pytest.approx(after, rel=1e-12)
    assert found.volume.value == pytest.approx(volume, rel=1e-12)
    assert found.mass.value == pytest.approx(mass, rel=1e-12)
    assert found.concentration.value == pytest.approx(mass / volume, rel=1e-12)
    # conditions of 30 October within the run (06:30): 22.0 °C, 83.4 kPa
    assert found.ppm.value == pytest.approx(ppm(mass / volume, 92.141, 22.0, 83.4), rel=1e-12)


def test_the_unknown_exponent_of_the_float_is_its_share_of_the_uncertainty(hard):
    """d ln Q = ln(ratio)·de with e rectangular over 0 to 0.5: u(e) = 0.25/√3, about 2.8 % at 83 kPa."""
    found = sample(hard, "G-119", "toluene")
    (u,) = [row.uncertainty for row in found.volume.budget() if "exponent" in row.cause]
    before, after = found.segments[0].before.value, found.segments[0].after.value
    slope_before = before * abs(log((101.325 / 83.4) * (294.15 / 293.15)))
    slope_after = after * abs(log((101.325 / 83.4) * (296.15 / 293.15)))
    assert u == pytest.approx((slope_before + slope_after) / 2 * 476 * 0.25 / sqrt(3), rel=1e-9)


def test_the_air_of_a_reading_names_the_entry_it_stands_in(hard):
    """The first closing reading of T-204 stands in row 84, with its own 21.0 °C; a like record elsewhere is another."""
    steps = [step for step in working(sample(hard, "G-119", "toluene").volume).steps if "rotameter" in step.name]
    origins = [term.origin for step in steps for term in step.terms if term.label == "T_use"]
    rows = [84, 85, 86, 90, 91, 92]
    assert all(words.endswith(f"flow_read-row-{row}") for words, row in zip(origins, rows, strict=True)), origins


def test_a_sample_in_two_segments_around_a_hold(hard):
    """T-102 ran 06:03 to 10:00 and 10:32 to 13:58; one flow before and after, 806 µg of toluene on G-106."""
    flow = ((15.6 + 15.6 + 15.5) / 3 + (15.3 + 15.4 + 15.4) / 3) / 2 / 1000
    first, second = 3 * 60 + 57, 3 * 60 + 26
    found = sample(hard, "G-106", "toluene")
    assert [part.volume.value for part in found.segments] == pytest.approx([flow * first, flow * second], rel=1e-12)
    assert found.concentration.value == pytest.approx(806 / (flow * (first + second)), rel=1e-12)


def test_a_blank_is_taken_off_and_leaves_its_spread(hard):
    """
    G-111: 336 µg less 15 µg. Spread of 43, 1 and 1 about 15: s = √((28² + 14² + 14²)/2) = 24.25; the sample's own
    blank is one more draw, s·√(1 + 1/3) = 28.0; half of the interval from the two limits of 2 adds (4/3)/2/√3.
    """
    s = sqrt((28**2 + 14**2 + 14**2) / 2)
    blank_u = hypot(s * sqrt(4 / 3), (2 + 2) / 3 / 2 / sqrt(3))
    found = sample(hard, "G-111", "toluene")
    assert found.mass.value == pytest.approx(336 - 15, rel=1e-12)
    (u,) = [row.uncertainty for row in found.mass.budget() if row.cause == "blank"]
    assert u == pytest.approx(blank_u, rel=1e-9)


def test_recovery_is_divided_out_once_of_milligrams_with_a_decimal_comma(hard):
    """GA-4822: 0,593 mg on G-102, recovery 0,88 not applied by the laboratory; 06:01 to 10:05."""
    flow = ((35.4 + 35.4 + 35.3) / 3 + (34.8 + 34.9 + 34.8) / 3) / 2 / 1000
    found = sample(hard, "G-102", "mek")
    assert found.mass.value == pytest.approx(593 / 0.88, rel=1e-12)
    assert found.concentration.value == pytest.approx(593 / 0.88 / (flow * 244), rel=1e-12)


def test_a_shift_average_with_a_non_detect_lies_between_two_ends(hard):
    """
    W-08, nine hours for the clock change, 10 h average by NIOSH over the 540 min worked: 284 min of G-123 and 252 min
    of G-124, which lies between nothing and its limit. The 4 min at the tubes' change count like the sampled time.
    """
    a, b = (sample(hard, code, "formaldehyde") for code in ("G-123", "G-124"))
    assert (a.run.clock_min, b.run.clock_min) == (284, 252)
    low = (a.ppm.value * 284 + 0.0) / 536
    high = (a.ppm.value * 284 + b.ppm.value * 252) / 536
    found = verdict(hard, "W-08", "formaldehyde", "US-NIOSH")
    assert found.average.lower.value == pytest.approx(low, rel=1e-12)
    assert found.average.upper.value == pytest.approx(high, rel=1e-12)
    assert found.comparison.ratio_low == pytest.approx(low / 0.016, rel=1e-12)
    assert found.comparison.ratio_high == pytest.approx(high / 0.016, rel=1e-12)


def test_the_worst_eight_of_ten_hours(hard):
    """
    W-05, 05:30 to 15:30: 302 min of G-113 at 8.20 µg, 292 min of G-114 at 3.35 µg, 6 min with neither counted like
    the rest. The worst 480 min are all of G-113, then those 6 (their mean is higher than G-114), then 172 of G-114.
    """
    flow = ((30.7 * 3) / 3 + (30.3 + 30.3 + 30.4) / 3) / 2 / 1000
    a = ppm(8.20 / (flow * 302), 30.026, 22.0, 83.4)
    found = verdict(hard, "W-05", "formaldehyde")
    b = sample(hard, "G-114", "formaldehyde").ppm.value
    assert sample(hard, "G-113", "formaldehyde").ppm.value == pytest.approx(a, rel=1e-12)
    between = (a * 302 + b * 292) / 594
    expected = (a * 302 + between * 6 + b * 172) / 480
    assert found.average.upper.value == pytest.approx(expected, rel=1e-12)
    assert found.comparison.ratio_high == pytest.approx(expected / 0.75, rel=1e-12)


def test_the_decision_by_sampling_and_analytical_error_of_the_same_worker(hard):
    """
    SAE = 1.645·√(0.05² + 0.057²) = 0.1247; three parts of the worst eight hours, half-width SAE·√Σ(TᵢXᵢ)²/(L·ΣTᵢ).
    """
    a, b = (sample(hard, code, "formaldehyde").ppm.value for code in ("G-113", "G-114"))
    between = (a * 302 + b * 292) / 594
    doses = [a * 302, between * 6, b * 172]
    severity = sum(doses) / 480 / 0.75
    half = Z * hypot(0.05, 0.057) * hypot(*doses) / (480 * 0.75)
    found = verdict(hard, "W-05", "formaldehyde")
    (other,) = [o for o in found.others if "sampling and analytical error" in o.words]
    assert other.ratio_high == pytest.approx(severity, rel=1e-9)
    expected = "under" if severity + half <= 1 else "over" if severity - half > 1 else "cannot tell"
    assert other.verdict == expected
    assert severity == pytest.approx(found.comparison.ratio_high, rel=1e-12)


def test_the_limit_shortened_for_a_ten_hour_day(hard):
    """Brief and Scala: (8/10)·(24 - 10)/16 = 0.7 of 150 ppm; what is compared is the average over the ten hours."""
    found = verdict(hard, "W-05", "mek", "House")
    assert found.limit_value.value == pytest.approx(150 * 8 / 10 * (24 - 10) / 16, rel=1e-12)
    # 596 of 600 min sampled: the rest like the sampled time, so that the average is the sample's
    assert found.comparison.ratio_high == pytest.approx(sample(hard, "G-112", "mek").ppm.value / 105, rel=1e-12)
    assert found.note == "House TWA 150 ppm, shortened to 105 ppm for a 10 h shift (Brief and Scala, by the day)"
    assert limit_cell(found) == "105 ppm (House TWA 150 ppm, shortened for 10 h)"


def test_a_limit_stated_for_ten_hours_is_not_shortened_for_ten_whatever_the_survey_asks(hard):
    """NIOSH Pocket Guide: up to 10 h a day in a week of 40 h. The week of 50 h is another choice, (40/50)·(118/128)."""
    found = verdict(hard, "W-05", "toluene", "US-NIOSH")
    assert found.limit.extended_shift_model == "brief-scala-day"
    assert found.limit_value.value == 100.0
    assert found.comparison.ratio_high == pytest.approx(sample(hard, "G-111", "toluene").ppm.value / 100, rel=1e-12)
    assert "would protect twice and was not done" in found.note
    (week,) = [other for other in found.others if "week of 50 h" in other.words]
    assert week.ratio_high == pytest.approx(found.comparison.ratio_high / (0.8 * 118 / 128), rel=1e-12)
    assert limit_cell(found) == "100 ppm (US-NIOSH TWA)"


def test_the_additive_index_of_the_joiner(hard):
    """W-07: toluene of 200, n-hexane of 500 and MEK of 200 ppm, all on the nervous system; gaps of 4 min in 480."""
    shares = [
        sample(hard, sampler, agent).ppm.value / limit
        for sampler, agent, limit in (("G-119", "toluene", 200), ("G-119", "n-hexane", 500), ("G-120", "mek", 200))
    ]
    (found,) = [m for m in hard.mixtures if m.shift.worker == "W-07" and m.authority == "US-OSHA"]
    assert found.upper.value == pytest.approx(sum(shares), rel=1e-12)
    assert found.missing == ()
    assert list(found.shares.values()) == pytest.approx([share / sum(shares) for share in shares], rel=1e-12)


def test_the_confidence_limits_of_one_verdict_from_its_budget(hard):
    """W-07, n-hexane of 50 ppm: Y ± 1.645·u(Y), u from the root of the squares of the budget's rows."""
    found = verdict(hard, "W-07", "n-hexane", "US-NIOSH")
    u = sqrt(sum(row.uncertainty**2 for row in found.average.upper.budget())) / 50
    y = sample(hard, "G-119", "n-hexane").ppm.value / 50
    assert found.comparison.lcl == pytest.approx(y - Z * u, rel=1e-6)
    assert found.comparison.ucl == pytest.approx(y + Z * u, rel=1e-6)


def test_the_share_of_a_limit_in_ppm_at_83_kilopascal(hard):
    """
    W-09: 1.55 µg in 285 min and 1.21 µg in 249 min, in air of 19.0 °C and 83.6 kPa as the phone noted it. A litre
    holds less air there: the same µg is more ppm than at sea level, by 101.325/83.6.
    """
    a, b = (sample(hard, code, "formaldehyde") for code in ("G-125", "G-126"))
    assert a.ppm.value == pytest.approx(ppm(a.concentration.value, 30.026, 19.0, 83.6), rel=1e-12)
    at_sea_level = ppm(a.concentration.value, 30.026, 19.0, 101.325)
    assert a.ppm.value / at_sea_level == pytest.approx(101.325 / 83.6, rel=1e-12)
    average = (a.ppm.value * 285 + b.ppm.value * 249) / 534
    # nine hours in eight, as the worst 480 of 540 min: 285 of the first, 6 of neither, 189 of the second
    expected = (a.ppm.value * 285 + average * 6 + b.ppm.value * 189) / 480
    found = verdict(hard, "W-09", "formaldehyde")
    assert found.comparison.ratio_high == pytest.approx(expected / 0.75, rel=1e-12)


def test_what_the_time_without_a_sample_would_have_had_to_hold(hard):
    """W-03: 197 of 480 min at the sample's level; 100 ppm over 480 min leaves (100·480 - C·197)/283 for the rest."""
    c = sample(hard, "G-108", "toluene").ppm.value
    needed = (100 * 480 - c * 197) / 283
    assert 115.0 < needed < 125.0  # 120 to two figures
    found = verdict(hard, "W-03", "toluene", "US-NIOSH")
    assert "283 min without a sample" in found.settles
    assert "averaged 120 ppm" in found.settles


def test_seventeen_minutes_against_a_ceiling_over_fifteen(hard):
    """G-115: C·17/30 at least and C·17/15 at most in the worst 15 min of the 17; at least 9 times 0.1 ppm."""
    (short,) = hard.short_terms
    found = next(v for v in short.verdicts if v.limit.kind == "ceiling")
    c = ppm(16.4 / ((499.9 + 0.0) / 1000 * 17), 30.026, 22.0, 83.4)
    assert short.sample.ppm.value == pytest.approx(c, rel=1e-3)
    assert found.comparison.ratio_low == pytest.approx(short.sample.ppm.value * 17 / 30 / 0.1, rel=1e-12)
    assert found.comparison.ratio_high == pytest.approx(short.sample.ppm.value * 17 / 15 / 0.1, rel=1e-12)
