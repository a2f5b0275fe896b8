"""One worker, worked by hand: averages, verdicts, what turns them and what would settle them."""

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.assessment.choices import Choices
from lapel.assessment.inputs import FindingOverride
from lapel.assessment.samples import Samples
from lapel.assessment.shift import ShiftJudge
from lapel.assessment.survey import assess
from lapel.exchange.assessment_json import assessment_as_data
from lapel.fieldlog.day import fold
from lapel.hygiene import Air
from lapel.reference import rule_book
from tests.assessment.one_worker import BENZENE_MASS, OneWorker, Tube, one_tube

FLOW_LPM = 0.099  # mean of 100 and 98 mL/min
VOLUME_L = FLOW_LPM * 480


def only_verdict(made):
    result = assess(made.survey())
    (shift,) = result.shifts
    (verdict,) = shift.verdicts
    return verdict, shift, result


def test_the_log_of_these_tests_is_usable():
    day = fold(OneWorker([Tube("L-1", 0, 240, 10.0), Tube("L-2", 242, 480, 10.0)]).entries())
    assert day.unusable == ()
    assert day.conflicts == ()


def test_one_tube_over_the_shift_by_hand():
    verdict, shift, _ = only_verdict(one_tube(20.0))
    (sample,) = shift.samples
    assert sample.volume.value == pytest.approx(VOLUME_L, rel=1e-12)
    assert sample.concentration.value == pytest.approx(20.0 / VOLUME_L, rel=1e-12)
    assert verdict.average.upper.value == pytest.approx(20.0 / VOLUME_L, rel=1e-12)
    assert verdict.comparison.ratio_high == pytest.approx(20.0 / VOLUME_L / 1.0, rel=1e-12)
    assert verdict.comparison.verdict == "under"
    assert verdict.robust
    assert verdict.settles == ""


def test_the_uncertainty_of_one_tube_by_hand():
    """Relative variances add: certificate, repeatability (1 %/√3 for readings that agree), drift, clock, analysis."""
    _, shift, _ = only_verdict(one_tube(20.0))
    mean, drift = 0.099, (0.100 - 0.098) / (2 * math.sqrt(3))
    repeat = math.hypot(0.01 * 0.100 / math.sqrt(3) / 2, 0.01 * 0.098 / math.sqrt(3) / 2)
    clock = 1 / math.sqrt(6)
    expected = math.sqrt(0.01**2 + (repeat / mean) ** 2 + (drift / mean) ** 2 + (clock / 480) ** 2 + 0.05**2)
    blank = (0.1 / math.sqrt(3)) / 20.0  # blanks below 0.1 µg: not subtracted, carried
    found = shift.samples[0].concentration.relative_uncertainty
    assert found == pytest.approx(math.hypot(expected, blank), rel=2e-3)


@pytest.mark.parametrize(("front_ug", "expected"), [(20.0, "under"), (47.0, "cannot tell"), (80.0, "over")])
def test_under_over_and_open(front_ug, expected):
    verdict, *_ = only_verdict(one_tube(front_ug))
    assert verdict.comparison.verdict == expected


def test_an_open_verdict_names_the_analysis_when_that_would_settle_it():
    """A coarse analysis, everything else fine: knowing it exactly would decide."""
    verdict, *_ = only_verdict(one_tube(44.0, analysis_cv=0.12))
    assert verdict.comparison.verdict == "cannot tell"
    assert verdict.drives == "laboratory analysis"
    assert verdict.settles.startswith("the analysis")


def test_a_verdict_another_flow_would_turn_is_not_robust():
    """40 µg: 0.84 of the limit at the mean flow of 100 and 90; the lower flow is not clearly under any more."""
    verdict, *_ = only_verdict(one_tube(40.0, after=(90.0, 90.0, 90.0), analysis_cv=0.02))
    assert verdict.comparison.verdict == "under"
    by_words = {other.words: other for other in verdict.others}
    assert by_words["the lower flow, before or after"].verdict == "cannot tell"
    assert by_words["the lower flow, before or after"].ratio_high == pytest.approx(40 / (0.090 * 480), rel=1e-12)
    assert by_words["the higher flow, before or after"].ratio_high == pytest.approx(40 / (0.100 * 480), rel=1e-12)
    assert not verdict.robust
    assert verdict.settles.startswith("the flow in the course of the run")


def test_unsampled_time_without_a_reason_leaves_the_average_open():
    """300 of 480 min sampled at 0.5 mg/m3: the rest would have to average (480 - 150)/180 = 1.833 mg/m3."""
    mass = 0.5 * FLOW_LPM * 300
    verdict, *_ = only_verdict(one_tube(mass, stop_min=300, unsampled="zero"))
    assert verdict.comparison.verdict == "cannot tell"
    assert math.isinf(verdict.comparison.ucl)
    assert verdict.settles.startswith("what was breathed in the 180 min without a sample")
    assert "1.8 mg/m³" in verdict.settles


def test_unsampled_time_with_a_reason_counts_as_none():
    mass = 0.5 * FLOW_LPM * 300
    verdict, *_ = only_verdict(one_tube(mass, stop_min=300, unsampled="zero", unsampled_reason="sent home"))
    assert verdict.comparison.verdict == "under"
    assert verdict.comparison.ratio_high == pytest.approx(0.5 * 300 / 480, rel=1e-9)


def test_a_tube_change_of_two_minutes_does_not_open_the_average():
    tubes = [Tube("L-1", 0, 240, 10.0), Tube("L-2", 242, 480, 12.0)]
    verdict, shift, _ = only_verdict(OneWorker(tubes, unsampled="zero"))
    assert verdict.comparison.verdict == "under"
    assert "too small to matter" in verdict.average.treatment
    c1, c2 = 10.0 / (FLOW_LPM * 240), 12.0 / (FLOW_LPM * 238)
    assert verdict.average.upper.value == pytest.approx((c1 * 240 + c2 * 238) / 478, rel=1e-9)
    assert len(shift.samples) == 2


def test_what_two_tubes_share_is_counted_once():
    """Both tubes stand on one meter: its 1 % stays 1 % of the average, and does not shrink by √2."""
    tubes = [Tube("L-1", 0, 240, 10.0), Tube("L-2", 240, 480, 10.0)]
    verdict, *_ = only_verdict(OneWorker(tubes))
    causes = {row.cause: row.uncertainty for row in verdict.average.upper.budget()}
    assert causes["certificate of meter M-1"] / verdict.average.upper.value == pytest.approx(0.01, rel=1e-6)
    assert causes["laboratory analysis"] / verdict.average.upper.value == pytest.approx(0.05 / math.sqrt(2), rel=1e-6)


def test_a_non_detect_is_an_upper_bound_to_the_end():
    verdict, shift, _ = only_verdict(one_tube(0.1, front_below=True, back_ug=None))
    assert shift.samples[0].concentration.sense == "at most"
    assert verdict.average.lower.value == 0.0
    assert verdict.average.upper.value == pytest.approx(0.1 / VOLUME_L, rel=1e-12)
    assert verdict.comparison.verdict == "under"


def test_a_non_detect_above_the_limit_cannot_tell_and_asks_for_more_air():
    verdict, *_ = only_verdict(one_tube(0.1, front_below=True, back_ug=None, limit=0.001))
    assert verdict.comparison.verdict == "cannot tell"
    assert "lower reporting limit or more air on L-1" in verdict.settles


def test_breakthrough_makes_a_least_value_that_can_only_show_over():
    under, shift, _ = only_verdict(one_tube(20.0, back_ug=8.0))
    assert shift.samples[0].standing.bound == "at least"
    assert shift.samples[0].concentration.sense == "at least"
    assert under.comparison.verdict == "cannot tell"
    over, *_ = only_verdict(one_tube(80.0, back_ug=30.0))
    assert over.comparison.verdict == "over"


@pytest.mark.parametrize(("corrected_by", "expected_ug"), [("nobody", 20.0 - 2.0), ("laboratory", 20.0)])
def test_the_blank_is_taken_off_once_by_whoever_has_not(corrected_by, expected_ug):
    made = one_tube(20.0, blank_ug=(2.0, 2.0), blanks_below=False, blank_corrected_by=corrected_by)
    _, shift, _ = only_verdict(made)
    assert shift.samples[0].mass.value == pytest.approx(expected_ug, rel=1e-12)
    assert shift.samples[0].facts.blank_corrections == 1


@pytest.mark.parametrize(("corrected_by", "expected_ug"), [("nobody", 20.0 / 0.8), ("laboratory", 20.0)])
def test_the_recovery_is_divided_by_once(corrected_by, expected_ug):
    _, shift, _ = only_verdict(one_tube(20.0, recovery=0.8, recovery_corrected_by=corrected_by))
    assert shift.samples[0].mass.value == pytest.approx(expected_ug, rel=1e-12)


def test_without_a_reading_afterwards_no_sample_may_be_used():
    result = assess(one_tube(20.0, after=None).survey())
    (sample,) = result.samples
    assert sample.standing.level == "void"
    assert result.shifts[0].verdicts == ()
    assert "no sample may be used (L-1 void)" in result.shifts[0].note


def test_an_override_with_a_person_and_a_reason_brings_a_sample_back():
    made = one_tube(20.0, after=None)
    first = assess(made.survey())
    voids = [f.rule for f in first.samples[0].standing.findings if f.effect == "void"]
    overrides = tuple(FindingOverride("L-1", rule, "HB", "checked in mid-shift") for rule in voids)
    again = assess(made.survey(overrides=overrides))
    assert again.samples[0].usable
    assert any(f.overridden_by == "HB" for f in again.samples[0].standing.findings)


def test_a_drift_beyond_ten_percent_is_void_and_counted_only_as_another_choice():
    tubes = [Tube("L-1", 0, 480, 20.0)]
    result = assess(OneWorker(tubes, after=(85.0, 85.0, 85.0)).survey())
    assert result.samples[0].standing.level == "void"
    assert result.samples[0].facts.flow_pairs[0].post_lpm == pytest.approx(0.085)


def test_a_mole_ratio_does_not_depend_on_the_air_it_is_taken_in():
    """The same ppm at sea level and at 83 kPa, 5 °C, leaves less mass in a litre; the comparison is the same."""
    ratios = []
    for air in (Air(293.15, 101.325), Air(278.15, 83.0)):
        mg_m3 = 0.5 * BENZENE_MASS * air.pressure_kpa / (8.314462618 * air.temperature_k)
        verdict, *_ = only_verdict(one_tube(mg_m3 * VOLUME_L, unit="ppm", limit=1.0, air=air))
        ratios.append(verdict.comparison.ratio_high)
    assert ratios == pytest.approx([0.5, 0.5], rel=1e-6)


def test_a_ten_hour_shift_is_held_against_eight_hours():
    """EN 689 and HSE: 0.9 mg/m3 over 600 min is 1.125 over 480."""
    mass = 0.9 * FLOW_LPM * 600
    made = one_tube(mass, stop_min=600, shift_min=600, rule_book="en-iso")
    verdict, *_ = only_verdict(made)
    assert verdict.comparison.ratio_high == pytest.approx(1.125, rel=1e-9)
    assert verdict.comparison.verdict == "over"


def test_a_short_sample_of_seventeen_minutes_cannot_show_a_fifteen_minute_limit_was_kept_or_not():
    made = one_tube(1.1 * FLOW_LPM * 17, stop_min=17, purpose="short term", averaging_min=15, kind="STEL", limit=1.0)
    result = assess(made.survey())
    (short,) = result.short_terms
    (verdict,) = short.verdicts
    assert verdict.comparison.verdict == "cannot tell"
    assert verdict.comparison.ratio_low == pytest.approx(1.1 * 17 / 30, rel=1e-9)
    assert verdict.comparison.ratio_high == pytest.approx(1.1 * 17 / 15, rel=1e-9)
    assert verdict.settles == "another sample, of exactly 15 min; no single fact on file would"


def test_a_sample_of_exactly_fifteen_minutes_is_asked_for_where_it_would_settle():
    """0.85 of the limit over 17 min leaves 0.48 to 0.96, too near to 1; over 15 min it would be under."""
    made = one_tube(0.85 * FLOW_LPM * 17, stop_min=17, purpose="short term", averaging_min=15, kind="STEL", limit=1.0)
    ((verdict,),) = (short.verdicts for short in assess(made.survey()).short_terms)
    assert verdict.comparison.verdict == "cannot tell"
    assert verdict.settles == "a sample of exactly 15 min"


def test_a_second_result_for_one_sampler_is_said_and_the_later_report_counts():
    made = one_tube(20.0).survey()
    later = replace(made.reports["R-1"], code="R-2", received_on=made.reports["R-1"].received_on.replace(day=28))
    second = replace(made.results[0], report="R-2", front_ug=30.0)
    result = assess(replace(made, reports={**made.reports, "R-2": later}, results=(*made.results, second)))
    assert result.samples[0].mass.value == pytest.approx(30.0)
    assert result.samples[0].facts.duplicate_result


def test_a_sampler_the_log_does_not_know_is_void_and_does_not_stop_the_rest():
    made = one_tube(20.0).survey()
    ghost = replace(made.orders["L-1"], sampler="L-9")
    result = assess(replace(made, orders={**made.orders, "L-9": ghost}))
    found = {sample.sampler: sample for sample in result.samples}
    assert found["L-9"].run is None
    assert found["L-9"].concentration is None
    assert result.shifts[0].verdicts[0].comparison.verdict == "under"


def test_a_port_that_drew_nothing_afterwards_is_kept_as_read():
    result = assess(one_tube(20.0, after=(0.0, 0.0)).survey())
    (sample,) = result.samples
    assert sample.facts.flow_pairs[0].post_lpm == 0.0
    assert sample.standing.level == "void"
    assert sample.segments[0].change == -1.0


@pytest.mark.parametrize("seed", range(5))
def test_the_order_of_the_entries_changes_nothing(seed):
    made = one_tube(20.0).survey()
    shuffled = list(made.entries)
    random.Random(seed).shuffle(shuffled)
    assert assessment_as_data(assess(replace(made, entries=tuple(shuffled)))) == assessment_as_data(assess(made))


@settings(max_examples=40, deadline=None)
@given(
    mass=st.floats(1.0, 120.0),
    after=st.floats(91.0, 109.0),
    cv=st.floats(0.01, 0.15),
)
def test_the_short_cut_far_from_the_limit_says_what_the_full_working_says(mass, after, cv):
    made = one_tube(mass, after=(after, after, after), analysis_cv=cv).survey()
    day, book = fold(made.entries), rule_book("practice")
    samples = Samples(made, day, book, ())
    (result,) = samples.results_of(made.orders["L-1"])
    judge = ShiftJudge(samples, book)
    (verdict,) = judge.shift_result(made.shifts["S-1"], [result], made.limits).verdicts
    asked = judge._asked(made.shifts["S-1"], [result], made.limits[0], {})
    for other in verdict.others:
        if "flow" in other.words:
            rule = "lower" if "lower" in other.words else "higher"
            full = judge._average(asked, Choices(rule))
            from lapel.hygiene.limits import compare

            compared = compare(full.lower, full.upper, asked.compared.value)
            assert other.ratio_high == pytest.approx(compared.ratio_high, rel=1e-9)
            assert other.verdict == compared.verdict
