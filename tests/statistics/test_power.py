"""The chance of each outcome: closed forms against repetition, simulations against closed forms."""

import math

import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import log_ndtr

from lapel.statistics import (
    PUBLISHED_SPREAD,
    NoEstimate,
    action_level_chances,
    exceedance_fraction,
    geometric_mean,
    geometric_standard_deviation,
    gm_for_percentile,
    next_result,
    next_result_with_non_detects,
    observed,
    percentile,
    preliminary_test,
    preliminary_test_chances,
    results_needed,
    simulate_group_test_with_workers,
    simulate_individual_worker_test,
    simulate_route,
    simulate_statistical_test,
    statistical_test,
    statistical_test_power,
    tolerance_factor,
    true_chance_of_a_worker_above,
    unit_spread,
)


@pytest.mark.parametrize("n", [6, 9, 30, 200])
@pytest.mark.parametrize("gsd", [1.2, 2.5, 6.0])
def test_at_the_limit_the_test_is_met_in_30_percent_by_construction(n, gsd):
    power = statistical_test_power(n, gm_to_limit=gm_for_percentile(1.0, gsd=gsd), gsd=gsd)
    assert float(power) == pytest.approx(0.30, abs=1e-12)


def test_at_half_the_limit_six_results_show_it_as_often_as_is_known():
    """Percentile at half the limit, n = 6: about 94, 77, 67, 61, 55 % at GSD 1.5, 2, 2.5, 3, 4."""
    gsd = [1.5, 2.0, 2.5, 3.0, 4.0]
    power = statistical_test_power(6, gm_to_limit=gm_for_percentile(0.5, gsd=gsd), gsd=gsd)
    assert 100 * power == pytest.approx([94, 77, 67, 61, 55], abs=0.5)


@pytest.mark.parametrize(("n", "ratio", "gsd"), [(6, 0.1, 2.0), (9, 0.05, 3.0), (2, 0.2, 2.5)])
def test_the_power_is_right_to_nine_digits(n, ratio, gsd):
    """P(U_R >= U_T) as a mean over the chi distribution of s, by adaptive quadrature."""
    k = float(tolerance_factor(n, coverage=0.95, confidence=0.70))
    with mpmath.workdps(30):
        nu, root = mpmath.mpf(n - 1), mpmath.sqrt(n)
        d = -root * mpmath.log(mpmath.mpf(ratio)) / mpmath.log(mpmath.mpf(gsd))
        log_constant = (1 - nu / 2) * mpmath.log(2) - mpmath.loggamma(nu / 2)

        def integrand(x):
            density = mpmath.exp(log_constant + (nu - 1) * mpmath.log(x) - x * x / 2)
            return density * mpmath.ncdf(d - k * root * x / mpmath.sqrt(nu))

        exact = mpmath.quad(integrand, [mpmath.mpf(10) ** -30, 1, 2, 3, 5, 8, 20])
    assert float(statistical_test_power(n, gm_to_limit=ratio, gsd=gsd)) == pytest.approx(float(exact), abs=1e-9)


def test_the_power_is_the_share_of_simulated_groups_that_meet_the_test():
    y = math.log(0.12) + math.log(2.5) * np.random.default_rng(3).standard_normal((200_000, 8))
    k = float(tolerance_factor(8, coverage=0.95, confidence=0.70))
    simulated = np.mean(-y.mean(axis=1) >= k * y.std(axis=1, ddof=1))
    assert float(statistical_test_power(8, gm_to_limit=0.12, gsd=2.5)) == pytest.approx(simulated, abs=0.0045)


def test_the_number_needed_is_the_smallest():
    n = results_needed(gm_to_limit=0.08, gsd=2.5, power=0.8)
    power = statistical_test_power([n - 1, n], gm_to_limit=0.08, gsd=2.5)
    assert power[0] < 0.8 <= power[1]
    assert results_needed(gm_to_limit=0.5, gsd=2.5) is None
    assert results_needed(gm_to_limit=1e-4, gsd=1.5) == 6


def test_outcomes_of_the_preliminary_test_are_those_of_simulated_groups():
    y = math.log(0.06) + math.log(3.0) * np.random.default_rng(4).standard_normal((200_000, 4))
    chances = preliminary_test_chances(4, gm_to_limit=0.06, gsd=3.0)
    top = y.max(axis=1)
    assert float(chances.shown) == pytest.approx(np.mean(top < math.log(0.15)), abs=0.0045)
    assert float(chances.above) == pytest.approx(np.mean(top > 0.0), abs=0.0045)
    assert float(chances.shown + chances.more_results + chances.above) == pytest.approx(1.0)


@pytest.mark.parametrize("part", [0.0, 0.5, 0.97])
@pytest.mark.parametrize("reporting", [0.0, 0.05, 0.15, 0.4, 1.5])
def test_outcomes_of_the_preliminary_test_with_non_detects_of_one_worker_are_those_of_the_test(part, reporting):
    random = np.random.default_rng(8)
    own, day = random.standard_normal((3000, 1)), random.standard_normal((3000, 4))
    groups = np.exp(math.log(0.09) + math.log(3.0) * (math.sqrt(part) * own + math.sqrt(1 - part) * day))
    outcomes = [
        preliminary_test(observed(lower=np.where(x < reporting, 0.0, x), upper=np.maximum(x, reporting)), 1.0).outcome
        for x in groups
    ]
    chances = preliminary_test_chances(
        4, gm_to_limit=0.09, gsd=3.0, reporting_limit_to_limit=reporting, between_share=part
    )
    for name, p in (("shown", chances.shown), ("above", chances.above), ("more results", chances.more_results)):
        seen = outcomes.count(name) / 3000
        assert seen == pytest.approx(float(p), abs=4 * math.sqrt(max(seen * (1 - seen), 1e-9) / 3000) + 1e-12), name


@pytest.mark.parametrize("part", [0.1, 0.9, 0.99])
def test_the_preliminary_test_of_one_worker_is_right_to_nine_digits(part):
    chances = preliminary_test_chances(5, gm_to_limit=0.06, gsd=3.0, between_share=part)
    narrow = math.sqrt((1 - part) / part)
    with mpmath.workdps(25):
        for z, found in ((math.log(0.2 / 0.06), chances.shown), (math.log(1 / 0.06), 1.0 - chances.above)):
            z = mpmath.mpf(z) / mpmath.log(3)
            bend = z / mpmath.sqrt(part)

            def integrand(x, z=z):
                return mpmath.ncdf((z - mpmath.sqrt(part) * x) / mpmath.sqrt(1 - mpmath.mpf(part))) ** 5 * mpmath.npdf(
                    x
                )

            places = sorted({-12, 12, *(min(12, max(-12, bend + k * narrow)) for k in (-8, -3, 0, 3, 8))})
            assert float(found) == pytest.approx(float(mpmath.quad(integrand, places)), abs=1e-9)


def test_a_reporting_limit_at_the_action_level_shows_nothing():
    measured = action_level_chances(gm_to_limit=0.3, gsd=2.2)
    fine = action_level_chances(gm_to_limit=0.3, gsd=2.2, reporting_limit_to_limit=0.49)
    coarse = action_level_chances(gm_to_limit=0.3, gsd=2.2, reporting_limit_to_limit=0.5)
    blind = action_level_chances(gm_to_limit=0.3, gsd=2.2, reporting_limit_to_limit=2.0)
    assert float(fine.shown) == float(measured.shown) > 0.7
    assert float(coarse.shown) == 0.0
    assert float(coarse.above) == float(measured.above)
    assert float(blind.above) == pytest.approx(float(exceedance_fraction(2.0, gm=0.3, gsd=2.2)))


def test_non_detects_and_workers_together_are_those_of_the_test_itself():
    args = {"gm_to_limit": 0.15, "gsd": 2.5, "between_share": 0.5}
    hidden = simulate_group_test_with_workers(3, 3, reporting_limit_to_limit=0.08, groups=400, **args)
    plain = simulate_group_test_with_workers(3, 3, groups=400, **args)
    random = np.random.default_rng(hidden.seed).standard_normal((400, 12))
    y = math.sqrt(0.5) * random[:, :3, None] + math.sqrt(0.5) * random[:, 3:].reshape(400, 3, 3)
    many = np.mean((y < math.log(0.08 / 0.15) / math.log(2.5)).reshape(400, 9).mean(axis=1) > 0.5)
    assert many > 0.01
    assert many <= hidden.chances["no verdict"] < many + 0.05  # and the shape check of the fully measured
    assert sum(hidden.chances.values()) == pytest.approx(1.0)
    assert hidden.chances["shown"] == pytest.approx(plain.chances["shown"], abs=hidden.chances["no verdict"] + 0.05)


def test_the_individual_test_gives_no_verdict_where_a_result_is_not_measured():
    args = {"gm_to_limit": 0.1, "gsd": 2.5, "between_share": 0.0}
    hidden = simulate_individual_worker_test(3, 3, reporting_limit_to_limit=0.03, groups=20_000, **args)
    every = float(exceedance_fraction(0.03, gm=0.1, gsd=2.5)) ** 9
    assert hidden.chances["no verdict"] == pytest.approx(1 - every, abs=4 * hidden.errors["no verdict"])
    assert sum(hidden.chances.values()) == pytest.approx(1.0)


def test_outcomes_at_the_action_level_are_those_of_simulated_shifts():
    y = math.log(0.3) + math.log(2.2) * np.random.default_rng(5).standard_normal((200_000, 2))
    chances = action_level_chances(gm_to_limit=0.3, gsd=2.2, results=2)
    assert float(chances.shown) == pytest.approx(np.mean((y < math.log(0.5)).all(axis=1)), abs=0.0045)
    assert float(chances.above) == pytest.approx(np.mean(y[:, 1] > 0.0), abs=0.0045)


def test_the_route_agrees_with_its_closed_form_parts():
    simulated = simulate_route(gm_to_limit=0.08, gsd=2.5, groups=100_000)
    closed = preliminary_test_chances(3, gm_to_limit=0.08, gsd=2.5)
    for name, p in (("shown by the preliminary test", closed.shown), ("above in the preliminary test", closed.above)):
        assert simulated.chances[name] == pytest.approx(float(p), abs=4 * simulated.errors[name])
    assert sum(simulated.chances.values()) == pytest.approx(1.0)
    assert simulated.seed
    assert simulated.groups == 100_000


def test_without_differences_between_workers_the_workers_do_not_matter():
    gm = float(gm_for_percentile(1.0, gsd=2.5))
    alike = simulate_group_test_with_workers(3, 3, gm_to_limit=gm, gsd=2.5, between_share=0.0)
    assert alike.chances["shown"] == pytest.approx(0.30, abs=4 * alike.errors["shown"])
    different = simulate_group_test_with_workers(3, 3, gm_to_limit=gm, gsd=2.5, between_share=0.5)
    assert different.chances["shown"] > 0.35  # repeats of one worker are not independent: the test is too lenient


def test_the_individual_test_gets_it_right_with_many_workers():
    args = {"gm_to_limit": 0.1, "gsd": 2.5, "between_share": 0.4}
    assert true_chance_of_a_worker_above(**args) < 0.20
    many = simulate_individual_worker_test(200, 5, groups=300, **args)
    assert many.chances["shown"] > 0.99
    args["gm_to_limit"] = 0.3
    assert true_chance_of_a_worker_above(**args) > 0.20
    assert simulate_individual_worker_test(200, 5, groups=300, **args).chances["shown"] < 0.01


def test_the_true_chance_of_a_worker_above_is_that_of_simulated_workers():
    args = {"gm_to_limit": 0.2, "gsd": 2.5, "between_share": 0.3}
    sigma = math.log(2.5)
    own = math.log(0.2) + math.sqrt(0.3) * sigma * np.random.default_rng(6).standard_normal(200_000)
    share_above = exceedance_fraction(1.0, gm=np.exp(own), gsd=math.exp(math.sqrt(0.7) * sigma))
    assert true_chance_of_a_worker_above(**args) == pytest.approx(np.mean(share_above > 0.05), abs=0.0045)
    assert true_chance_of_a_worker_above(gm_to_limit=0.2, gsd=2.5, between_share=0.0) == 0.0


def test_a_reporting_limit_nobody_meets_leaves_the_power_as_it_was():
    simulated = simulate_statistical_test(8, gm_to_limit=0.1, gsd=2.5, reporting_limit_to_limit=1e-9, groups=500)
    refused = simulated.chances["no verdict"]  # the shape check
    assert refused == pytest.approx(0.01, abs=4 * math.sqrt(0.01 / 500))
    closed = float(statistical_test_power(8, gm_to_limit=0.1, gsd=2.5))
    assert simulated.chances["shown"] == pytest.approx(closed, abs=refused + 4 * simulated.errors["shown"])


SIX = [0.10, 0.20, 0.15, 0.40, 0.30, 0.12]


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 10_000),
    st.integers(5, 12),
    st.floats(0.5, 20.0),
    st.floats(-4.0, 4.0),
    st.sampled_from([(0.95, 0.70), (0.5, 0.55), (0.95, 0.95)]),
)
def test_the_interval_for_the_next_result_is_where_the_test_is_met(seed, n, limit, z, levels):
    coverage, confidence = levels
    values = np.random.default_rng(seed).lognormal(0.0, 0.7, n)
    answer = next_result(values, limit, coverage=coverage, confidence=confidence)
    new = float(np.exp(np.log(values).mean() + 2 * z))
    y = np.log(np.append(values, new))
    k = float(tolerance_factor(n + 1, coverage=coverage, confidence=confidence))
    met = (math.log(limit) - y.mean()) >= k * y.std(ddof=1)
    inside = not math.isnan(answer.shown_to) and answer.shown_from <= new <= answer.shown_to
    assert met == inside


def test_the_chance_of_a_change_is_that_of_predictive_draws():
    answer = next_result(SIX, 0.55)
    random = np.random.default_rng(7)
    y = np.log(SIX)
    draws = y.mean() + y.std(ddof=1) * math.sqrt(7 / 6) * random.standard_t(5, 100_000)
    k = float(tolerance_factor(7, coverage=0.95, confidence=0.70))
    every = np.column_stack([np.tile(y, (100_000, 1)), draws])
    met = np.mean(math.log(0.55) - every.mean(axis=1) >= k * every.std(axis=1, ddof=1))
    assert statistical_test(SIX, 0.55).outcome == "not shown"
    assert answer.shown_now is False
    assert answer.chance_of_change == pytest.approx(met, abs=0.0065)
    assert "would show it" in answer.in_words()


def test_what_is_shown_may_be_undone_and_the_words_say_by_what():
    answer = next_result(SIX, 1.0)
    assert answer.shown_now
    assert answer.chance_of_change == pytest.approx(1 - answer.chance_shown)
    assert answer.in_words().startswith("At present it is shown; a result above 0.704 would undo it")
    large = next_result(np.multiply(SIX, 1e5), 1e5)  # the same question in a smaller unit, as fibres or micrograms are
    assert "a result above 70400 would undo it" in large.in_words()
    assert "no single result could show it" in next_result(SIX, 0.1).in_words()
    assert isinstance(next_result([1.0], 2.0), NoEstimate)
    assert isinstance(next_result([1.0, 1.0], 2.0), NoEstimate)


CENSORED = observed([0.31, 0.22, 0.55, 0.18, 0.12, np.nan, np.nan], upper=[np.nan] * 5 + [0.1, 0.1])


def met_after(rows, value, limit):
    added = observed(upper=[0.1]) if value < 0.1 else observed([value])
    return statistical_test(rows.followed_by(added), limit).outcome == "shown"


@pytest.mark.parametrize("limit", [0.5, 0.9, 0.98, 1.2])
def test_with_non_detects_the_interval_for_the_next_result_is_where_the_test_is_met(limit):
    answer = next_result_with_non_detects(CENSORED, limit)
    assert answer.shown_now == (statistical_test(CENSORED, limit).outcome == "shown")
    for value in (0.03, 0.11, 0.15, 0.2, 0.25, 0.3, 0.4, 0.55, 0.8, 1.2, 2.5):
        inside = not math.isnan(answer.shown_to) and answer.shown_from <= value <= answer.shown_to
        assert met_after(CENSORED, value, limit) == inside, value
    for end in (answer.shown_from, answer.shown_to):
        if 0.1 < end < math.inf:
            assert met_after(CENSORED, end * 1.001, limit) != met_after(CENSORED, end / 1.001, limit)


def test_with_non_detects_the_chance_of_a_change_is_that_of_predictive_draws():
    """The posterior drawn by brute force on a grid, then a next shift from each draw."""
    limit = 1.2
    answer = next_result_with_non_detects(CENSORED, limit)
    mu, u = np.meshgrid(np.linspace(math.log(limit) - 7, math.log(limit) + 4, 1200), np.linspace(-2.5, 1.8, 500))
    sigma = np.exp(u)
    log_density = -0.5 * ((u - PUBLISHED_SPREAD.mean_ln_sigma) / PUBLISHED_SPREAD.sd_ln_sigma) ** 2
    for value in np.log(CENSORED.lower[:5]):
        log_density = log_density - 0.5 * ((value - mu) / sigma) ** 2 - u
    log_density = log_density + 2 * log_ndtr((math.log(0.1) - mu) / sigma)
    weight = np.exp(log_density - log_density.max()).ravel()
    random = np.random.default_rng(4)
    drawn = random.choice(weight.size, 200_000, p=weight / weight.sum())
    shift = np.exp(mu.ravel()[drawn] + sigma.ravel()[drawn] * random.standard_normal(drawn.size))
    met = np.mean((shift >= answer.shown_from) & (shift <= answer.shown_to))
    assert answer.chance_shown == pytest.approx(met, abs=0.005)
    assert np.mean(shift < answer.likely_low) == pytest.approx(0.1, abs=0.003)
    assert answer.in_words().endswith("judged from these results and the prior of the spread.")


def test_without_a_test_now_there_is_no_next_result_and_the_reason_is_said():
    few = next_result_with_non_detects(observed([0.2, 0.3, np.nan], upper=[np.nan, np.nan, 0.1]), 1.0)
    assert isinstance(few, NoEstimate)
    assert "wants at least six" in few.reason
    far = next_result_with_non_detects(CENSORED, 20.0)
    assert far.shown_now
    assert far.chance_of_change < 1e-3
    above = next_result_with_non_detects(CENSORED, 0.2)
    assert not above.shown_now
    assert "no single result could show it" in above.in_words()


def test_the_trades_rules_of_thumb():
    """95th percentile about 2, 3, 4.5, 6, 10 times the median at GSD 1.5, 2, 2.5, 3, 4; half the limit, GSD 2: 16 %."""
    assert percentile(0.95, gm=1.0, gsd=[1.5, 2, 2.5, 3, 4]) == pytest.approx([2, 3, 4.5, 6, 10], rel=0.05)
    assert exceedance_fraction(1.0, gm=0.5, gsd=[1.5, 2.0, 2.5, 3.0]) == pytest.approx(
        [0.04, 0.16, 0.23, 0.26], abs=0.006
    )
    assert float(unit_spread(1.0, gm=0.25, gsd=2.0)) == pytest.approx(2.0)


def test_matches_the_share_of_simulated_shifts_above_the_limit():
    shifts = np.random.default_rng(7).lognormal(np.log(0.2), np.log(2.5), size=400_000)
    assert float(exceedance_fraction(1.0, gm=0.2, gsd=2.5)) == pytest.approx(np.mean(shifts > 1.0), abs=0.0015)
    assert geometric_mean(shifts) == pytest.approx(0.2, rel=0.01)
    assert geometric_standard_deviation(shifts) == pytest.approx(2.5, rel=0.01)


def test_bad_arguments_are_named():
    with pytest.raises(ValueError, match="`n` must be 3, 4 or 5; it is 6"):
        preliminary_test_chances(6, gm_to_limit=0.1, gsd=2.0)
    with pytest.raises(ValueError, match="`between_share` must be at least 0 and below 1; it is 1"):
        true_chance_of_a_worker_above(gm_to_limit=0.1, gsd=2.0, between_share=1.0)
    with pytest.raises(ValueError, match="`gsd` must be finite and above 1; item 2 is 1"):
        exceedance_fraction(1.0, gm=0.5, gsd=[2.0, 1.0])
    with pytest.raises(ValueError, match="at least 2 results to have a spread"):
        geometric_standard_deviation([1.0])
