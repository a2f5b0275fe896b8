"""The posterior of a group against answers that share no code with it, and against what must hold of any posterior."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad
from scipy.special import ndtri
from scipy.stats import norm
from scipy.stats import t as student

from lapel.statistics import posterior_lines, posterior_marginal
from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, FlatPrior, SpreadPrior

REFERENCE = json.loads((Path(__file__).parent.parent / "vectors" / "group_posteriors.json").read_text())
PROBABILITIES = REFERENCE["probabilities"]
QUANTITIES = ("gm", "gsd", "mean", "p95", "exceedance")
WITH_BANDS = [entry for entry in REFERENCE["groups"] if "bands" in entry["answers"]]
NAMES = [entry["name"] for entry in REFERENCE["groups"]]


def answer_to(entry):
    upper = [math.inf if u is None else u for u in entry["upper"]]
    prior = FlatPrior(*entry["prior"]["flat"]) if "flat" in entry["prior"] else SpreadPrior(*entry["prior"]["spread"])
    cv = entry["error_cv"]
    cv = tuple(cv["range"]) if isinstance(cv, dict) else cv
    return posterior(observed(lower=entry["lower"], upper=upper), limit=1.0, prior=prior, error_cv=cv)


def test_there_are_twenty_reference_groups_and_every_kind_of_row_among_them():
    assert len(NAMES) >= 20
    rows = [(low, high) for e in REFERENCE["groups"] for low, high in zip(e["lower"], e["upper"], strict=True)]
    assert any(low == high for low, high in rows)
    assert any(low == 0 for low, _ in rows)
    assert any(high is None for _, high in rows)
    assert any(high is not None and 0 < low < high for low, high in rows)


@pytest.mark.parametrize("entry", REFERENCE["groups"], ids=NAMES)
def test_quantiles_are_those_of_converged_adaptive_quadrature(entry):
    """tests/vectors/make_group_posteriors.py; relative error 1e-5 (1e-4 with measurement error), probits 5e-5."""
    close = 1e-5 if entry["error_cv"] is None else 1e-4
    answer = answer_to(entry)
    for what in QUANTITIES:
        if what not in entry["answers"]:
            continue
        expected = np.array(entry["answers"][what])
        if what == "exceedance":
            assert answer.exceedance_probits(PROBABILITIES)[0] == pytest.approx(expected, abs=5e-5)
            continue
        value = np.exp(np.exp(expected)) if what == "gsd" else np.exp(expected)
        assert answer.quantiles(what, PROBABILITIES)[0] == pytest.approx(value, rel=close)


@pytest.mark.parametrize("entry", WITH_BANDS, ids=[entry["name"] for entry in WITH_BANDS])
def test_band_probabilities_are_those_of_converged_adaptive_quadrature(entry):
    bands = answer_to(entry).band_probabilities(REFERENCE["band_edges"])[0]
    assert bands == pytest.approx(entry["answers"]["bands"], abs=1e-6)


def invented_groups(count, seed):
    """Of 3 to 12 results, spreads 1.2 to 5; half of the groups with non-detects, one in twenty nothing else."""
    random = np.random.default_rng(seed)
    for k in range(count):
        n = int(random.integers(3, 13))
        x = np.sort(np.exp(random.normal(-2.0, 1.0) + max(0.2, random.normal(0.85, 0.25)) * random.standard_normal(n)))
        hidden = 0 if k % 2 else n if k % 20 == 0 else int(random.integers(1, n))
        cut = x[hidden - 1] if hidden else 0.0
        yield observed(lower=np.where(x <= cut, 0.0, x), upper=np.maximum(x, cut))


def test_hundreds_of_groups_agree_with_a_far_finer_rule(monkeypatch):
    """Not only the reference groups: any shape, quadrature with 60 points along a line and 16 across a panel."""
    groups = list(invented_groups(600, 17))
    shares = [0.05, 0.3, 0.5, 0.7, 0.95]

    def answers():
        after = posterior(groups, limit=1.0)
        logs = [np.log(after.quantiles(what, shares)) for what in ("gm", "gsd", "mean", "p95")]
        return np.array(logs), after.exceedance_probits(shares), after.band_probabilities()

    logs, probits, bands = answers()
    x, w = np.polynomial.legendre.leggauss(60)
    for name, finer in (("_X_ALONG", x), ("_W_ALONG", w), ("ALONG", 60)):
        monkeypatch.setattr(posterior_lines, name, finer)
    x, w = np.polynomial.legendre.leggauss(16)
    to_legendre = w[:, None] * np.polynomial.legendre.legvander(x, 15) * (2 * np.arange(16) + 1) / 2.0
    for name, finer in (("PANEL", 16), ("_X_PANEL", x), ("_W_PANEL", w), ("_TO_LEGENDRE", to_legendre)):
        monkeypatch.setattr(posterior_marginal, name, finer)
    finer_logs, finer_probits, finer_bands = answers()
    assert np.abs(logs - finer_logs).max() > 0.0  # the finer rule was used
    assert np.abs(logs - finer_logs).max() < 1e-5
    assert np.abs(probits - finer_probits).max() < 1e-4
    assert np.abs(bands - finer_bands).max() < 5e-7


def test_a_live_double_integral_agrees():
    """Three results, one of them a non-detect, by scipy.integrate.dblquad over the whole plane."""
    lower, upper = np.log([0.21, 0.4]), math.log(0.1)
    mean, sd = PUBLISHED_SPREAD.mean_ln_sigma, PUBLISHED_SPREAD.sd_ln_sigma

    def joint(mu, u):
        s = math.exp(u)
        rows = -0.5 * np.sum(((lower - mu) / s) ** 2) - 2 * u + norm.logcdf((upper - mu) / s)
        return math.exp(rows - 0.5 * ((u - mean) / sd) ** 2)

    total, _ = dblquad(joint, -4, 3, -7, 4, epsabs=1e-9, epsrel=1e-8)
    above, _ = dblquad(
        joint, -4, 3, lambda u: min(4, max(-7, -float(ndtri(0.95)) * math.exp(u))), 4, epsabs=1e-9, epsrel=1e-8
    )
    answer = posterior(observed([0.21, 0.4, np.nan], upper=[np.nan, np.nan, 0.1]), limit=1.0)
    assert answer.probability_above("p95", 1.0)[0] == pytest.approx(above / total, abs=2e-6)


def test_with_a_prior_flat_in_ln_sigma_and_wide_open_the_geometric_mean_is_students_t():
    """The closed form for the reference prior, Gelman et al., Bayesian Data Analysis 3.2."""
    x = np.array([0.05, 0.08, 0.06, 0.11, 0.09, 0.07, 0.1, 0.066])
    y = np.log(x)
    answer = posterior(x, limit=1.0, prior=FlatPrior(1.0001, 1e6))
    p = np.array([0.05, 0.3, 0.5, 0.8, 0.95])
    expected = np.exp(y.mean() + student.ppf(p, len(y) - 1) * y.std(ddof=1) / math.sqrt(len(y)))
    # mu's own range is cut at limit x e^-7 and e^4, which n = 8 feels only in the seventh figure.
    assert answer.quantiles("gm", p)[0] == pytest.approx(expected, rel=1e-6)


def test_the_95th_percentile_bound_is_the_tolerance_limit_under_the_same_prior():
    """The posterior of mu + z sigma under the reference prior has noncentral t quantiles; the same closed form."""
    from scipy.stats import nct

    y = np.log([0.05, 0.08, 0.06, 0.11, 0.09, 0.07, 0.1, 0.066, 0.085, 0.075])
    n = len(y)
    answer = posterior(np.exp(y), limit=1.0, prior=FlatPrior(1.0001, 1e6))
    factor = nct.ppf(0.7, n - 1, float(ndtri(0.95)) * math.sqrt(n)) / math.sqrt(n)
    assert answer.quantiles("p95", [0.7])[0, 0] == pytest.approx(math.exp(y.mean() + factor * y.std(ddof=1)), rel=1e-6)


def test_probability_above_undoes_the_quantile():
    rows = observed(lower=[0, 0, 0.1, 0.3, 0.2], upper=[0.05, 0.1, 0.1, 0.3, 0.5])
    answer = posterior(rows, limit=0.7)
    for what in QUANTITIES:
        for p in (0.01, 0.4, 0.9):
            value = answer.quantiles(what, [p])[0, 0]
            assert answer.probability_above(what, value)[0] == pytest.approx(1 - p, abs=1e-10)


def test_bands_are_differences_of_probabilities_above_and_sum_to_one():
    answer = posterior([0.1, 0.3, 0.2], limit=1.0)
    bands = answer.band_probabilities((0.1, 0.5, 1.0))[0]
    assert bands.sum() == pytest.approx(1.0, abs=1e-14)
    assert bands[3] == pytest.approx(answer.probability_above("p95", 1.0)[0], abs=1e-12)
    assert bands[0] == pytest.approx(1 - answer.probability_above("p95", 0.1)[0], abs=1e-12)


def test_the_chance_of_the_next_shift_above_the_limit_is_the_mean_exceedance():
    answer = posterior([0.2, 0.5, 0.3, 0.9, 0.4], limit=1.0)
    p = (np.arange(4000) + 0.5) / 4000
    mean = answer.quantiles("exceedance", p)[0].mean()
    assert answer.next_shift_probability_above(1.0)[0] == pytest.approx(mean, abs=2e-5)
    median = answer.next_shift_quantiles([0.5])[0, 0]
    assert answer.next_shift_probability_above(median)[0] == pytest.approx(0.5, abs=1e-9)


def test_the_next_shift_under_the_reference_prior_is_students_t():
    y = np.log([0.05, 0.08, 0.06, 0.11, 0.09, 0.07, 0.1, 0.066])
    n = len(y)
    answer = posterior(np.exp(y), limit=1.0, prior=FlatPrior(1.0001, 1e6))
    p = np.array([0.05, 0.5, 0.9])
    expected = np.exp(y.mean() + student.ppf(p, n - 1) * y.std(ddof=1) * math.sqrt(1 + 1 / n))
    assert answer.next_shift_quantiles(p)[0] == pytest.approx(expected, rel=1e-5)


def test_many_groups_at_once_get_the_answers_they_get_alone():
    rng = np.random.default_rng(3)
    groups, limits = [], []
    for k in range(40):
        x = rng.lognormal(-2, 0.8, size=rng.integers(1, 12))
        cut = np.quantile(x, (0, 0.4, 1)[k % 3]) if k % 3 else 0.0
        groups.append(observed(lower=np.where(x <= cut, 0, x), upper=np.maximum(x, cut)))
        limits.append(0.5 + k % 4)
    together = posterior(groups, limit=limits)
    for what in QUANTITIES:
        alone = [posterior(g, limit=lim).quantiles(what, [0.1, 0.9])[0] for g, lim in zip(groups, limits, strict=True)]
        assert together.quantiles(what, [0.1, 0.9]) == pytest.approx(np.array(alone), rel=1e-9)


result = st.floats(0.001, 5.0)


@st.composite
def groups(draw):
    n = draw(st.integers(1, 8))
    lower, upper = [], []
    for _ in range(n):
        x = draw(result)
        kind = draw(st.sampled_from(["measured", "measured", "below", "between", "beyond"]))
        lower.append(0.0 if kind == "below" else x)
        upper.append({"between": x * 1.7, "beyond": math.inf}.get(kind, x))
    return Observations(np.array(lower), np.array(upper))


@settings(max_examples=25, deadline=None)
@given(groups(), st.floats(0.01, 100))
def test_results_and_limit_in_another_unit_give_the_same_judgement(rows, factor):
    one = posterior(rows, limit=1.0)
    other = posterior(rows.scaled(factor), limit=factor)
    for what in ("gm", "p95", "mean"):
        assert other.quantiles(what, [0.2, 0.8]) == pytest.approx(factor * one.quantiles(what, [0.2, 0.8]), rel=1e-7)
    assert other.band_probabilities() == pytest.approx(one.band_probabilities(), abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(groups(), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(rows, random):
    order = list(range(rows.n))
    random.shuffle(order)
    one, other = posterior(rows, limit=1.0), posterior(rows.rows(order), limit=1.0)
    assert other.quantiles("p95", [0.05, 0.95]) == pytest.approx(one.quantiles("p95", [0.05, 0.95]), rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(groups())
def test_a_row_that_says_nothing_changes_nothing(rows):
    huge = Observations(np.array([0.0]), np.array([1e60]))
    one, other = posterior(rows, limit=1.0), posterior(rows.followed_by(huge), limit=1.0)
    assert other.quantiles("p95", [0.05, 0.5, 0.95]) == pytest.approx(one.quantiles("p95", [0.05, 0.5, 0.95]), rel=1e-5)


@settings(max_examples=25, deadline=None)
@given(groups())
def test_nothing_is_ever_not_a_number_and_quantiles_rise(rows):
    answer = posterior(rows, limit=1.0)
    for what in QUANTITIES:
        q = answer.quantiles(what, [0.01, 0.3, 0.5, 0.7, 0.99])[0]
        assert not np.isnan(q).any()
        assert np.all(np.diff(q) >= 0)
    bands = answer.band_probabilities()
    assert np.all(bands >= 0)
    assert bands.sum() == pytest.approx(1.0)


@settings(max_examples=15, deadline=None)
@given(groups())
def test_with_the_spread_known_a_lower_reporting_limit_is_better_news(rows):
    """With the spread unknown it need not be: far below near-equal results it widens the spread, and that is right."""
    known = SpreadPrior(math.log(0.8), 1e-3)
    added = [rows.followed_by(Observations.non_detects([q])) for q in (0.8, 0.1)]
    high, low = (posterior(more, limit=1.0, prior=known).probability_above("gm", 1.0)[0] for more in added)
    assert low <= high + 1e-5
    equal = observed([0.5, 0.5, 0.5])
    added = [equal.followed_by(Observations.non_detects([q])) for q in (0.8, 0.1)]
    high, low = (posterior(more, limit=1.0).probability_above("gm", 1.0)[0] for more in added)
    assert low > high


def test_an_interval_closing_on_a_number_becomes_the_number():
    exact = posterior([0.1, 0.3, 0.2], limit=1.0).quantiles("p95", [0.05, 0.95])
    for width, close in ((1e-2, 1e-3), (1e-4, 1e-6), (1e-9, 1e-7)):
        rows = observed(lower=[0.1, 0.3, 0.2 * (1 - width)], upper=[0.1, 0.3, 0.2 * (1 + width)])
        assert posterior(rows, limit=1.0).quantiles("p95", [0.05, 0.95]) == pytest.approx(exact, rel=close)


def test_no_measurement_error_and_a_vanishing_one_agree():
    x = [0.1, 0.3, 0.2, 0.15]
    without = posterior(x, limit=1.0).quantiles("p95", [0.05, 0.95])
    for cv in (1e-6, (0.0, 2e-6), [1e-6] * 4):
        assert posterior(x, limit=1.0, error_cv=cv).quantiles("p95", [0.05, 0.95]) == pytest.approx(without, rel=1e-5)


def test_an_uncertain_error_is_the_mixture_over_its_range():
    x = [0.1, 0.3, 0.2, 0.15, 0.12]
    answer = posterior(x, limit=1.0, error_cv=(0.1, 0.4))
    ends = [posterior(x, limit=1.0, error_cv=cv).probability_above("p95", 1.0)[0] for cv in (0.1, 0.4)]
    assert min(ends) < answer.probability_above("p95", 1.0)[0] < max(ends)
    one = posterior(x, limit=1.0, error_cv=(0.2, 0.2)).quantiles("gsd", [0.5])
    assert one == pytest.approx(posterior(x, limit=1.0, error_cv=0.2).quantiles("gsd", [0.5]), rel=1e-12)


@pytest.mark.parametrize("prior", [PUBLISHED_SPREAD, FlatPrior()], ids=["spread", "flat"])
@pytest.mark.parametrize(
    "rows",
    [
        observed([0.2]),
        observed(upper=[0.1] * 6),
        observed(upper=[1e-6] * 3),
        observed([0.2] * 6),
        observed(np.full(1000, 0.2)),
        observed(np.random.default_rng(1).lognormal(-2, 0.9, size=1000)),
        observed([1e-6, 2e-6, 1.5e-6]),
        observed([300.0, 500.0, 400.0]),
        observed(lower=[0.5, 0.8], upper=[np.inf, np.inf]),
        observed(lower=[0.2, 0.2], upper=[0.2, 0.2000001]),
        observed([0.05, 0.9, 30.0, 0.001]),
    ],
    ids=lambda rows: f"{rows.n} from {rows.lower[0]:g} to {rows.upper[-1]:g}",
)
def test_edge_cases_give_finite_rising_answers(rows, prior):
    answer = posterior(rows, limit=1.0, prior=prior)
    for what in QUANTITIES:
        q = answer.quantiles(what, [0.05, 0.5, 0.95])[0]
        assert np.all(np.isfinite(q))
        assert np.all(np.diff(q) >= 0)
    assert answer.band_probabilities().sum() == pytest.approx(1.0)
    assert 0 <= answer.next_shift_probability_above(1.0)[0] <= 1


def test_a_thousand_results_leave_the_truth():
    x = np.random.default_rng(5).lognormal(math.log(0.1), math.log(2.0), size=1000)
    answer = posterior(x, limit=1.0)
    low, high = answer.quantiles("p95", [0.0005, 0.9995])[0]
    assert low < 0.1 * 2.0 ** float(ndtri(0.95)) < high
    assert high / low < 1.4


def test_the_prior_is_said_to_decide_when_it_does():
    several = posterior([observed(upper=[0.1] * 9), observed([0.1, 0.2]), observed([0.1, 0.2, 0.3])], limit=1.0)
    assert several.prior_decides.tolist() == [True, True, False]
    (note,) = several.notes(0)
    assert note.code == "prior decides"
    assert "None of the 9 results is above its reporting limit" in note.words
    assert "Kromhout" in note.words
    assert "Two results say next to nothing" in several.notes(1)[0].words
    assert several.notes(2) == ()


def test_results_far_outside_the_range_of_the_geometric_mean_are_told():
    (note,) = posterior([1e-5, 2e-5, 3e-5], limit=1.0).notes()
    assert note.code == "outside the range"
    assert "Check the unit" in note.words


def test_identical_results_are_told():
    codes = [note.code for note in posterior([0.2] * 4, limit=1.0).notes()]
    assert codes == ["identical results"]


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: posterior([0.1], limit=0), "`limit` must be finite and above 0"),
        (lambda: posterior([[0.1], [0.2]], limit=[1, 2, 3]), "`limit` must be one number or one for each of the 2"),
        (lambda: posterior([0.1, 0.2], limit=1, error_cv=-0.1), "`error_cv`"),
        (lambda: posterior([0.1, 0.2], limit=1, error_cv=(0.3, 0.1)), "two finite numbers in order"),
        (lambda: posterior([0.1, 0.2], limit=1, error_cv=[0.1, 0.2, 0.3]), "one for each of the 2 rows"),
        (lambda: posterior([0.1, 0.2], limit=1).quantiles("median", [0.5]), "`what` must be one of"),
        (lambda: posterior([0.1, 0.2], limit=1).quantiles("gm", [1.0]), "`probabilities` must be between 0 and 1"),
        (lambda: posterior([0.1, 0.2], limit=1).band_probabilities((1, 0.5)), "`edges` must rise"),
        (lambda: posterior([0.1, 0.2], limit=1).probability_above("gsd", 0.5), "`value` must be finite and at least"),
    ],
)
def test_a_question_that_means_nothing_is_refused(call, match):
    with pytest.raises(ValueError, match=match):
        call()


@pytest.mark.parametrize("censored", [False, True], ids=["measured", "half below the reporting limit"])
def test_posterior_ranks_of_the_truth_are_uniform(censored):
    """
    Simulation-based calibration (Talts et al. 2018): truth drawn from the prior, data from the truth.

    The probability the posterior gives to "below the truth" must be uniform. 20 bins, 3000 groups, chi-square with
    19 degrees of freedom: 43.8 is exceeded with probability 0.001. The seed is fixed.
    """
    rng = np.random.default_rng(11)
    count, n = 3000, 5
    mu = rng.uniform(-7, 4, size=count)
    sigma = np.exp(rng.normal(PUBLISHED_SPREAD.mean_ln_sigma, PUBLISHED_SPREAD.sd_ln_sigma, size=count))
    x = np.exp(mu[:, None] + sigma[:, None] * rng.standard_normal((count, n)))
    loq = 0.1 if censored else 0.0  # independent of the truth: ln LOQ lies in the middle of mu's range
    rows = [observed(lower=np.where(r < loq, 0, r), upper=np.maximum(r, loq)) for r in x]
    answer = posterior(rows, limit=1.0)
    truths = {
        "gm": np.exp(mu),
        "gsd": np.exp(sigma),
        "p95": np.exp(mu + float(ndtri(0.95)) * sigma),
        "mean": np.exp(mu + sigma**2 / 2),
    }
    for what, truth in truths.items():
        rank = 1 - answer.probability_above(what, truth)
        counts = np.histogram(rank, bins=20, range=(0, 1))[0]
        chi_square = np.sum((counts - count / 20) ** 2 / (count / 20))
        assert chi_square < 43.8, what
