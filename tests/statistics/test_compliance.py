"""Each test against a limit: its criterion, its refusals, and words that claim no more than was shown."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.statistics import (
    action_level_decision,
    compliance_test,
    exceedance_upper_limit,
    individual_worker_test,
    observed,
    preliminary_leak,
    preliminary_test,
    statistical_test,
    upper_tolerance_limit,
    variance_components,
)

SIX = [0.10, 0.20, 0.15, 0.40, 0.30, 0.12]
NAN = math.nan


@pytest.mark.parametrize(
    ("values", "outcome"),
    [
        ([0.05, 0.02, 0.099], "shown"),
        ([0.05, 0.02, 0.100], "more results"),
        ([0.05, 0.02, 0.1, 0.149], "shown"),
        ([0.05, 0.02, 0.1, 0.15], "more results"),
        ([0.05, 0.02, 0.1, 0.1, 0.199], "shown"),
        ([0.05, 0.02, 0.1, 0.1, 0.2], "more results"),
        ([0.05, 0.02, 1.0], "more results"),
        ([0.05, 0.02, 1.001], "above"),
        ([0.05, 0.02], "no verdict"),
        ([0.05], "no verdict"),
    ],
)
def test_the_preliminary_test_has_its_three_fractions(values, outcome):
    """EN 689:2018, 5.5.2 (as quoted): 3, 4, 5 results all below 0.1, 0.15, 0.2 of the limit; one above fails."""
    verdict = compliance_test(values, 1.0)
    assert verdict.outcome == outcome
    assert verdict.edition == "EN 689:2018+AC:2019"
    assert verdict.source_read is False


def test_a_non_detect_helps_only_as_far_as_its_reporting_limit():
    assert preliminary_test(observed(upper=[0.05, 0.05, 0.05]), 1.0).outcome == "shown"
    assert preliminary_test(observed(upper=[0.2, 0.2, 0.2]), 1.0).outcome == "more results"
    blind = preliminary_test(observed([0.05, 0.02, NAN], upper=2.0), 1.0)
    assert blind.outcome == "more results"
    assert any("may lie above the limit for all that is known" in r for r in blind.remarks)


def test_the_preliminary_test_leaks_as_much_as_a_simulation_says():
    """About 0.7, 3.5 and 12 % at GSD 2.5, 3 and 4 for three results of a group with exactly 5 % above."""
    random = np.random.default_rng(12)
    for gsd, expected in ((2.5, 0.007), (3.0, 0.035), (4.0, 0.12)):
        logs = -1.6448536269514722 * math.log(gsd) + math.log(gsd) * random.standard_normal((200_000, 3))
        simulated = np.mean((logs < math.log(0.1)).all(axis=1))
        assert preliminary_leak(3, gsd=gsd) == pytest.approx(simulated, abs=4 * math.sqrt(simulated / 200_000))
        assert preliminary_leak(3, gsd=gsd) == pytest.approx(expected, rel=0.05)


def test_the_words_are_those_of_what_was_shown():
    assert str(compliance_test(SIX, 1.0)) == (
        "These six results show with 70 % confidence that fewer than 5 % of shifts exceed the limit."
    )
    assert str(compliance_test(SIX, 0.5)) == (
        "These six results do not show with 70 % confidence that fewer than 5 % of shifts exceed the limit."
    )


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(0.02, 5.0), min_size=1, max_size=20),
    st.lists(st.booleans(), min_size=20, max_size=20),
)
def test_no_verdict_ever_says_compliant_and_none_is_an_exception(values, hidden):
    rows = observed(lower=np.where(hidden[: len(values)], 0.0, values), upper=values)
    verdict = compliance_test(rows, 1.0)
    assert "complian" not in verdict.words.lower()
    assert verdict.words.endswith(".")
    assert all(not math.isnan(x) for x in verdict.numbers.values())


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(6, 15), st.floats(0.3, 30.0))
def test_the_criterion_is_one_statement_in_three_dresses(seed, n, limit):
    """U_R >= U_T, upper limit of the percentile <= limit, and upper limit of the share above <= 5 % say the same."""
    values = np.random.default_rng(seed).lognormal(0.0, 0.8, n)
    verdict = statistical_test(values, limit)
    if verdict.outcome == "no verdict":
        assert "clearly not normal" in verdict.words
        return
    shown = verdict.outcome == "shown"
    assert shown == (verdict.numbers["u_r"] >= verdict.numbers["u_t"])
    assert shown == (upper_tolerance_limit(values, confidence=0.70) <= limit)
    assert shown == (exceedance_upper_limit(values, limit, confidence=0.70) <= 0.05)


@settings(deadline=None)
@given(st.floats(1e-3, 1e3))
def test_another_unit_changes_no_verdict(factor):
    scaled = compliance_test([v * factor for v in SIX], 0.7 * factor)
    assert scaled.outcome == "shown"
    assert scaled.words == compliance_test(SIX, 0.7).words


def test_a_result_above_the_limit_is_pointed_at_even_when_the_test_is_met():
    values = [*([0.11, 0.13, 0.15, 0.17, 0.2, 0.22, 0.25, 0.3, 0.33, 0.4] * 3), 1.05]
    verdict = statistical_test(values, 1.0)
    assert verdict.outcome == "shown"
    assert verdict.remarks[0] == "One result of 31 is above the limit: find out why, whatever the test says"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (observed([0.1] * 6), "All six results are the same number, so nothing is known about the spread"),
        (observed(upper=[0.5] * 6), "All six results are below the reporting limit"),
        (observed([0.2, 0.3, NAN, NAN, NAN, NAN], upper=0.2), "4 of 6 results are below the reporting limit"),
        (observed([0.001, 0.1, 0.1, 0.101, 0.1, 0.1002]), "The logs of these six results are clearly not normal"),
        (observed([0.1, 0.2, 0.3]), "There are three results; the statistical test wants at least six"),
    ],
)
def test_where_a_condition_fails_the_test_refuses_with_the_reason(rows, words):
    verdict = statistical_test(rows, 1.0)
    assert verdict.outcome == "no verdict"
    assert verdict.words.startswith(words)


def test_six_non_detects_far_below_the_limit_meet_the_preliminary_test_and_say_why_not_the_other():
    verdict = compliance_test(observed(upper=[0.05] * 6), 1.0)
    assert verdict.outcome == "shown"
    assert "preliminary test" in verdict.rule
    assert "The statistical test could not be made: all six results are below the reporting limit" in verdict.words


def test_non_detects_are_stated_and_a_disagreement_of_methods_is_too():
    rows = observed([0.1, 0.2, 0.15, NAN, 0.3, NAN], upper=0.1)
    verdict = statistical_test(rows, 1.0)
    assert verdict.outcome == "shown"
    assert verdict.remarks[0].startswith("6 results: 4 measured, 2 below the reporting limit. Nothing was substituted")
    between = math.sqrt(
        verdict.numbers["percentile_upper_limit"]
        * math.exp(math.log(1.0) - (verdict.numbers["u_r_by_order_statistics"] - verdict.numbers["u_t"]) * 0.8)
    )
    contested = statistical_test(rows, between)
    by_ros = contested.numbers["u_r_by_order_statistics"] >= contested.numbers["u_t"]
    assert by_ros != (contested.outcome == "shown")
    assert any("says the opposite" in r for r in contested.remarks)


def test_bounds_are_used_as_they_are():
    wide = statistical_test(observed(lower=SIX, upper=[v * 3 for v in SIX]), 1.0)
    narrow = statistical_test(observed(lower=SIX, upper=[v * 1.0001 for v in SIX]), 1.0)
    exact = statistical_test(SIX, 1.0)
    assert narrow.numbers["percentile_upper_limit"] == pytest.approx(exact.numbers["percentile_upper_limit"], rel=1e-3)
    assert wide.numbers["percentile_upper_limit"] > exact.numbers["percentile_upper_limit"]


def test_a_limit_far_away_and_a_thousand_results_are_no_trouble():
    assert compliance_test(SIX, 1e12).outcome == "shown"
    assert compliance_test(SIX, 1e-12).outcome == "not shown"
    assert compliance_test(np.random.default_rng(0).lognormal(0, 1, 1000), 100.0).outcome == "shown"


def test_variance_components_of_a_balanced_design_by_hand():
    """Logs (0, 2), (4, 6), (8, 10): MSB = 32, MSW = 2, so within 2 and between (32 - 2)/2 = 15."""
    parts = variance_components(np.exp([0.0, 2.0, 4.0, 6.0, 8.0, 10.0]), list("aabbcc"))
    assert (parts.within, parts.between) == (pytest.approx(2.0), pytest.approx(15.0))
    assert parts.f_ratio == pytest.approx(16.0)
    # F(2, 3) has the upper tail (1 + 2F/3)^(-3/2)
    assert parts.p_value == pytest.approx((1 + 2 * 16 / 3) ** -1.5, rel=1e-9)
    assert parts.between_share == pytest.approx(15 / 17)


def test_variance_components_are_unbiased_in_an_unbalanced_design():
    random = np.random.default_rng(5)
    worker = np.repeat(np.arange(6), [1, 1, 1, 2, 2, 13])  # a typical 2.2 results a worker, where the average is 3.3
    found = []
    for _ in range(3000):
        own = random.normal(0.0, 1.2, 6)
        parts = variance_components(np.exp(own[worker] + random.normal(0.0, 0.7, 20)), worker.tolist())
        # undo the truncation at zero, which is what makes the reported one biased
        found.append(((parts.f_ratio - 1) * parts.within / parts.typical_repeats, parts.within))
    assert parts.typical_repeats == pytest.approx((20 - (3 * 1 + 2 * 4 + 169) / 20) / 5)
    between, within = np.mean(found, axis=0)
    errors = np.std(found, axis=0) / math.sqrt(3000)
    assert between == pytest.approx(1.44, abs=4 * errors[0])
    assert within == pytest.approx(0.49, abs=4 * errors[1])


NINE = [0.10, 0.20, 0.15, 0.30, 0.40, 0.25, 0.05, 0.08, 0.06]


def test_the_individual_test_is_its_formula():
    worker = list("aaabbbccc")
    verdict = individual_worker_test(NINE, worker, 1.0)
    y = np.log(NINE).reshape(3, 3)
    within = y.var(axis=1, ddof=1).mean()
    between = y.mean(axis=1).var(ddof=1) - within / 3
    from scipy.special import ndtr

    expected = ndtr((y.mean() + 1.6448536269514722 * math.sqrt(within)) / math.sqrt(between))
    assert verdict.numbers["chance"] == pytest.approx(expected, rel=1e-9)
    assert verdict.outcome == "shown"
    assert individual_worker_test(NINE, worker, 0.4).outcome == "not shown"
    assert verdict.words.startswith("Taking the estimates as true, the chance that a worker")


def test_workers_who_are_alike_make_the_chance_nought_or_one():
    values = [0.1, 0.2, 0.3] * 3
    worker = list("aaabbbccc")
    assert individual_worker_test(values, worker, 1.0).numbers["chance"] == 0.0
    assert individual_worker_test(values, worker, 0.2).numbers["chance"] == 1.0


@pytest.mark.parametrize(
    ("values", "worker", "words"),
    [
        ([0.1] * 4, list("aabb"), "Four results, two workers with two or more"),
        (NINE, list("aaaaaaaaa"), "Nine results, one worker with two or more"),
        ([0.1] * 9, list("aaabbbccc"), "No verdict: all results are the same"),
        (observed([0.1] * 8 + [NAN], upper=0.1), list("aaabbbccc"), "9 results: 8 measured, 1 below"),
    ],
)
def test_the_individual_test_refuses_with_the_reason(values, worker, words):
    verdict = individual_worker_test(values, worker, 1.0)
    assert verdict.outcome == "no verdict"
    assert verdict.words.startswith(words)


@pytest.mark.parametrize(
    ("values", "days", "outcome"),
    [
        ([0.1], None, "shown"),
        ([0.6], None, "more results"),
        ([0.5], None, "more results"),
        ([1.0], None, "more results"),
        ([1.1], None, "above"),
        ([0.6, 0.3], [0, 10], "more results"),
        ([0.6, 0.3, 0.4], [0, 10, 16], "more results"),
        ([0.6, 0.3, 0.4], [0, 10, 17], "shown"),
        ([0.6, 0.3, 0.4, 0.2], [0, 10, 12, 17], "shown"),
        ([0.6, 0.3, 0.4], None, "no verdict"),
        ([1.2, 0.3, 0.4], [0, 10, 20], "shown"),
        ([0.3, 0.4, 0.6], [0, 10, 20], "more results"),
        ([], None, "no verdict"),
    ],
)
def test_the_action_level_decides_on_the_latest_results(values, days, outcome):
    """NIOSH 77-173, figure 1.1 (as quoted): at the action level keep on; above the limit act; two below may stop."""
    assert action_level_decision(values, 1.0, days=days).outcome == outcome


def test_a_reporting_limit_above_the_action_level_decides_nothing():
    verdict = action_level_decision(observed(upper=[0.7]), 1.0)
    assert verdict.outcome == "no verdict"
    assert "Ask for a lower reporting limit" in verdict.words
    assert action_level_decision(observed(upper=[0.7]), 1.0, action_level=0.75).outcome == "shown"


def test_bad_arguments_are_named():
    with pytest.raises(ValueError, match="`limit` must be finite and above 0; it is 0"):
        compliance_test(SIX, 0.0)
    with pytest.raises(ValueError, match="`worker` must hold one label a result, 9; it holds 2"):
        individual_worker_test(NINE, ["a", "b"], 1.0)
    with pytest.raises(ValueError, match="`action_level` must not be above the limit, 1; it is 2"):
        action_level_decision([0.1], 1.0, action_level=2.0)
    with pytest.raises(ValueError, match="`days` must rise; item 2 is 3 after 5"):
        action_level_decision([0.1, 0.2], 1.0, days=[5, 3])
