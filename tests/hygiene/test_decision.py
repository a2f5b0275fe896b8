"""Decisions from a method's stated error, against closed forms and simulated measurements."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading, working
from lapel.hygiene import (
    additive_decision,
    consecutive_samples_decision,
    grab_samples_decision,
    many_grab_samples_decision,
    partial_period_decision,
    sampling_and_analytical_error,
    single_sample_decision,
)


def found(value, u=0.0, sense="exactly", unit="mg/m3"):
    return reading(value, unit, name="exposure", uncertainty=u, sense=sense)


shares = st.floats(0.01, 3.0)


@pytest.mark.parametrize(("analysis_cv", "sae"), [(0.05, 0.116), (0.08, 0.155), (0.0, 0.082)])
def test_the_error_of_a_pumped_sample(analysis_cv, sae):
    """Closed form: 1.645·√(0.05² + CV²)."""
    assert sampling_and_analytical_error(analysis_cv) == pytest.approx(sae, abs=0.0005)


@given(y=shares, cv=st.floats(0, 0.3))
def test_a_cv_is_an_sae_over_1645(y, cv):
    by_cv = single_sample_decision(y, 1.0, cv_total=cv)
    by_sae = single_sample_decision(y, 1.0, sae=1.6448536 * cv)
    assert by_cv.lcl == pytest.approx(by_sae.lcl, abs=1e-6)
    assert by_cv.ucl == pytest.approx(by_sae.ucl, abs=1e-6)


def test_the_confidence_limits_show_their_working_and_are_plain_numbers():
    decision = consecutive_samples_decision([found(0.7), found(1.4)], [240, 240], found(1.0), sae=0.2)
    assert decision.severity == pytest.approx(1.05)
    assert decision.severity.value == decision.severity
    assert decision.lcl < decision.severity < decision.ucl
    assert (decision.lcl.unit, decision.lcl.uncertainty) == ("1", 0.0)
    assert [step.name for step in working(decision.ucl.figure).steps] == [
        "standardized average",
        "upper confidence limit",
    ]
    assert decision.lcl.derivation.card.expression == "LCL = Y − w"


def test_a_figure_brings_its_own_uncertainty():
    decision = single_sample_decision(found(0.9, 0.09), found(1.0))
    assert decision.ucl == pytest.approx(0.9 + 1.6449 * 0.09, abs=1e-4)


@given(y=shares, sae=st.floats(0, 0.5))
def test_one_consecutive_sample_of_the_limit_period_scales_with_the_exposure(y, sae):
    """The consecutive formula takes the error at the exposure, the single one at the limit."""
    decision = consecutive_samples_decision([y], [480], 1.0, sae=sae)
    assert decision.half_width == pytest.approx(sae * y)


@given(y=shares, k=st.integers(1, 8), sae=st.floats(0.01, 0.5))
def test_equal_samples_shrink_the_error_by_the_root_of_their_number(y, k, sae):
    decision = consecutive_samples_decision([y] * k, [480 / k] * k, 1.0, sae=sae)
    assert decision.half_width == pytest.approx(sae * y / math.sqrt(k))


def test_the_consecutive_half_width_is_that_of_simulated_measurements():
    rng = np.random.default_rng(3)
    x, t, cv = np.array([0.7, 1.4, 0.9]), np.array([120.0, 90.0, 240.0]), 0.1
    measured = (x * (1 + cv * rng.standard_normal((200_000, 3))) * t).sum(axis=1) / t.sum()
    decision = consecutive_samples_decision(list(x), list(t), 1.0, cv_total=cv)
    assert decision.half_width == pytest.approx(1.6449 * measured.std(), rel=0.01)


@given(
    samples=st.lists(st.tuples(shares, st.floats(10, 100)), min_size=1, max_size=4),
    sae=st.floats(0, 0.5),
)
def test_partial_period_is_the_limit_factor_rule(samples, sae):
    """NIOSH 77-173, 4.2.3 (known): over when the LCL of the sampled average is above period / time sampled."""
    x, t = [s[0] for s in samples], [s[1] for s in samples]
    sampled = consecutive_samples_decision(x, t, 1.0, sae=sae)
    partial = partial_period_decision(x, t, 1.0, sae=sae)
    factor = 480 / sum(t)
    if abs(sampled.lcl - factor) > 1e-9:
        assert (partial.verdict == "over") == (sampled.lcl > factor)
    assert partial.verdict != "under"
    assert math.isinf(partial.ucl)


def test_a_partial_period_that_is_the_whole_period_decides_like_consecutive_samples():
    whole = partial_period_decision([0.5, 0.5], [240, 240], 1.0, sae=0.1)
    assert whole.verdict == "under"


@given(value=shares, sense=st.sampled_from(["at most", "at least", "unknown"]), sae=st.floats(0, 0.3))
def test_bounds_decide_only_on_their_own_side(value, sense, sae):
    decision = single_sample_decision(found(value, sense=sense), found(1.0), sae=sae)
    allowed = {"at most": ("under", "cannot tell"), "at least": ("over", "cannot tell"), "unknown": ("cannot tell",)}
    assert decision.verdict in allowed[sense]


def test_one_non_detect_among_consecutive_samples_cannot_show_over():
    decision = consecutive_samples_decision([found(3.0), found(2.0, sense="at most")], [240, 240], found(1.0), sae=0.1)
    assert decision.verdict == "cannot tell"


@given(y=shares, sae=st.floats(0, 0.5))
def test_a_mixture_of_one_is_a_single_sample(y, sae):
    mixture, single = additive_decision([(y, 1.0, sae)]), single_sample_decision(y, 1.0, sae=sae)
    assert (mixture.lcl, mixture.ucl) == pytest.approx((single.lcl, single.ucl))


def test_the_control_limit_of_a_mixture_by_hand():
    """Y = 0.6 and 0.6: Em = 1.2, R = 0.5 each, RS = √(2·(0.5·0.1)²) = 0.0707: over; SAE 0.3, 0.212: cannot tell."""
    tight = additive_decision([(0.6, 1.0, 0.1), (1.2, 2.0, 0.1)])
    assert tight.severity.value == pytest.approx(1.2)
    assert tight.half_width == pytest.approx(0.0707, abs=1e-4)
    assert tight.verdict == "over"
    assert additive_decision([(0.6, 1.0, 0.3), (1.2, 2.0, 0.3)]).verdict == "cannot tell"


def test_a_mixture_of_nothing_is_under():
    assert additive_decision([(0.0, 1.0, 0.1), (0.0, 2.0, 0.1)]).verdict == "under"


# ---- grab samples ----------------------------------------------------------------------------------------------------


def coverage(n, gsd, rounds=3000, seed=2):
    """Share of simulated shifts whose true average lies below the UCL, and above the LCL."""
    rng = np.random.default_rng(seed)
    below = above = 0
    mean = math.exp(0.5 * math.log(gsd) ** 2)
    for _ in range(rounds):
        decision = grab_samples_decision(list(rng.lognormal(0.0, math.log(gsd), n)), 1.0)
        below += mean <= decision.ucl
        above += mean >= decision.lcl
    return below / rounds, above / rounds


@pytest.mark.parametrize(("n", "gsd"), [(5, 2.0), (10, 3.0)])
def test_the_limits_of_the_lognormal_mean_hold_in_nineteen_of_twenty_shifts(n, gsd):
    """1000 simulated shifts: standard error 0.007."""
    below, above = coverage(n, gsd, rounds=1000)
    assert below == pytest.approx(0.95, abs=0.021)
    assert above == pytest.approx(0.95, abs=0.021)


@pytest.mark.parametrize(("s", "factor"), [(0.9, 2.902), (1.0, 3.103)])
def test_the_limits_agree_with_the_printed_table_of_factors(s, factor):
    """Known: Land (1975) as reprinted by Gilbert (1987), table A12: H(0.95) for n = 10."""
    z = np.linspace(-1.5, 1.5, 10)
    logs = s * (z - z.mean()) / z.std(ddof=1)
    decision = grab_samples_decision([float(x) for x in np.exp(logs)], 1.0)
    assert (math.log(decision.ucl) - s**2 / 2) * math.sqrt(9) / s == pytest.approx(factor, abs=0.001)


def test_the_conditional_density_is_that_of_simulated_samples():
    """Simulation: with k the true logarithm of the mean, the tail is uniform between 0 and 1."""
    from lapel.hygiene.grab_samples import _tail

    rng = np.random.default_rng(4)
    tails = [_tail(list(rng.normal(-0.5 * 0.8**2, 0.8, 6)), 0.0, upper=True) for _ in range(1500)]
    assert np.quantile(tails, [0.05, 0.5, 0.95]) == pytest.approx([0.05, 0.5, 0.95], abs=0.03)


def test_few_grab_samples_seldom_decide():
    assert grab_samples_decision([0.2, 0.4, 0.3, 0.25, 0.35], 1.0).verdict == "under"
    assert grab_samples_decision([0.2, 0.9, 0.3], 1.0).verdict == "cannot tell"
    assert grab_samples_decision([5.0, 9.0, 7.0], 1.0).verdict == "over"


def test_many_grab_samples_use_their_plain_average():
    rng = np.random.default_rng(1)
    exposures = list(rng.lognormal(-0.5, 0.3, 40))
    decision = many_grab_samples_decision(exposures, 1.0)
    half = 1.6449 * np.std(exposures, ddof=1) / math.sqrt(40)
    assert decision.ucl == pytest.approx(np.mean(exposures) + half, rel=1e-4)
    assert decision.verdict == "under"


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: single_sample_decision(1.0, 1.0), "give `cv_total` or `sae`, or an exposure figure"),
        (lambda: single_sample_decision(1.0, 1.0, cv_total=0.1, sae=0.1), "not both"),
        (lambda: single_sample_decision(1.0, 1.0, sae=-0.1), "`sae` must be finite and not below 0"),
        (lambda: single_sample_decision(1.0, 0.0, sae=0.1), "limit 1 must be finite and above 0"),
        (lambda: consecutive_samples_decision([1.0], [1.0, 2.0], 1.0, sae=0.1), "equally long"),
        (lambda: consecutive_samples_decision([], [], 1.0, sae=0.1), "not empty"),
        (lambda: consecutive_samples_decision([1.0], [0.0], 1.0, sae=0.1), "minutes 1 must be"),
        (lambda: partial_period_decision([1.0], [500.0], 1.0, sae=0.1), "not below the 500 min sampled"),
        (lambda: additive_decision([(1.0, 1.0, -0.1)]), "sae 1 must be"),
        (lambda: sampling_and_analytical_error(-0.1), "`analysis_cv` must be"),
        (lambda: grab_samples_decision([1.0, 2.0], 1.0), "at least 3 grab samples; found 2"),
        (lambda: grab_samples_decision([1.0, 2.0, 0.0], 1.0), "must be above 0 for a lognormal model"),
        (lambda: grab_samples_decision([1.0, 1.0, 1.0], 1.0), "must not all be equal"),
        (lambda: grab_samples_decision([found(1.0, sense="at most"), 1.0, 2.0], 1.0), "must be a measured value"),
        (lambda: many_grab_samples_decision([1.0, 2.0], 1.0), "at least 30 grab samples"),
    ],
)
def test_unusable_input_is_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
