"""Between and within workers, against plain quadrature of the model written out from its definition."""

import math

import numpy as np
import pytest
from scipy.special import log_ndtr, ndtr, ndtri

from lapel.statistics.observed import Observations, observed
from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD
from lapel.statistics.workers import workers_posterior

Z95 = float(ndtri(0.95))
MEASURED = {
    "A": [0.21, 0.35, 0.18],
    "B": [0.05, 0.09, 0.12, 0.07],
    "C": [0.4, 0.33],
    "D": [0.11],
}


def gauss(low, high, count):
    x, w = np.polynomial.legendre.leggauss(count)
    return 0.5 * (low + high) + 0.5 * (high - low) * x, 0.5 * (high - low) * w


class PlainQuadrature:
    """
    Posterior of (ln sigma, ratio of spreads, mu, and every worker's level) as weighted points.

    Shares nothing with the package: fixed, dense product rules; each worker's level by a dense rule over its own
    range. `points` is how dense.
    """

    def __init__(self, workers, points, levels=160):
        u, wu = gauss(PUBLISHED_SPREAD.mean_ln_sigma - 3.2, PUBLISHED_SPREAD.mean_ln_sigma + 3.2, points)
        r, wr = gauss(0.0, math.sqrt(0.99), points)
        mu, wm = gauss(-7.0, 4.0, 3 * points)
        self.u, self.r, self.mu = np.meshgrid(u, r, mu, indexing="ij")
        sigma = np.exp(self.u)
        self.within, self.between = sigma * np.sqrt(1 - self.r**2), sigma * self.r
        log = -0.5 * ((self.u - PUBLISHED_SPREAD.mean_ln_sigma) / PUBLISHED_SPREAD.sd_ln_sigma) ** 2
        log = log + np.log(wu[:, None, None] * wr[None, :, None] * wm[None, None, :])
        b, wb = gauss(-8.0, 8.0, levels)
        self.levels = []
        for rows in workers:
            if np.all(rows.lower == rows.upper):
                log = log + self.closed(np.log(rows.lower))
                continue
            total = np.full(self.mu.shape, -np.inf)
            for point, weight in zip(b, wb, strict=True):
                level = self.mu + self.between * point
                term = -0.5 * point**2 + math.log(weight) + self.rows(rows, level)
                total = np.logaddexp(total, term)
            log = log + total
        weight = np.exp(log - log.max())
        self.weight = weight / weight.sum()

    def closed(self, y):
        m, w2, b2 = len(y), self.within**2, self.between**2
        total = w2 + m * b2
        square = np.sum((y - y.mean()) ** 2)
        return -0.5 * ((m - 1) * np.log(w2) + square / w2 + np.log(total) + m * (y.mean() - self.mu) ** 2 / total)

    def rows(self, rows, level):
        result = np.zeros(level.shape)
        for low, high in zip(rows.lower, rows.upper, strict=True):
            if low == high:
                result += -0.5 * ((math.log(low) - level) / self.within) ** 2 - np.log(self.within)
            elif low == 0:
                result += log_ndtr((math.log(high) - level) / self.within)
            else:
                far = ndtr((math.log(high) - level) / self.within)
                near = ndtr((math.log(low) - level) / self.within)
                result += np.log(np.maximum(far - near, 1e-300))
        return result

    def mean(self, values):
        return float(np.sum(self.weight * values))


@pytest.fixture(scope="module")
def plain():
    return PlainQuadrature([observed(v) for v in MEASURED.values()], 110)


@pytest.fixture(scope="module")
def answer():
    return workers_posterior(MEASURED, limit=1.0)


def test_the_chance_that_a_random_worker_is_above_the_limit_is_that_of_plain_quadrature(answer, plain):
    for what, shift in (("p95", Z95 * plain.within), ("mean", 0.5 * plain.within**2), ("gm", 0.0)):
        expected = plain.mean(ndtr((plain.mu + shift) / plain.between))
        assert answer.probability_worker_above(what) == pytest.approx(expected, abs=5e-5)


def test_the_chance_that_this_is_not_one_group_is_that_of_plain_quadrature(answer, plain):
    for ratio in (1.5, 2.0, 6.0):
        expected = plain.mean(np.exp(2 * float(ndtri(0.975)) * plain.between) > ratio)
        assert 0.02 < expected < 0.995
        assert answer.probability_not_one_group(ratio) == pytest.approx(expected, abs=0.012)


def test_quantiles_of_the_between_share_are_those_of_plain_quadrature(answer, plain):
    share = answer.between_share([0.1, 0.5, 0.9])
    order = np.argsort(plain.r, axis=None)
    cumulative = np.cumsum(plain.weight.ravel()[order])
    nodes, index = np.unique(plain.r.ravel()[order], return_index=True)
    at_edges = np.append(cumulative[index[1:] - 1], 1.0)  # probability up to each node, its whole weight included
    ratio = 0.5 * (nodes[1:] + nodes[:-1])
    expected = np.interp(np.sqrt(share), ratio, at_edges[:-1])
    assert expected == pytest.approx([0.1, 0.5, 0.9], abs=1e-3)


def test_group_quantities_are_those_of_plain_quadrature(answer, plain):
    sigma = np.exp(plain.u)
    # Given the spreads mu is nearly normal; averaging a smooth function avoids the steps of a plain rule.
    for c in (-1.5, -0.5, 0.3):
        expected = plain.mean(ndtr((plain.mu + Z95 * sigma - c) / 0.2))
        p = (np.arange(2000) + 0.5) / 2000
        t = np.log(answer.quantiles("p95", p))
        assert np.mean(ndtr((t - c) / 0.2)) == pytest.approx(expected, abs=2e-4)


def test_each_workers_own_level_is_that_of_plain_quadrature(answer, plain):
    own = answer.worker_quantiles("gm", (np.arange(1000) + 0.5) / 1000)
    above = answer.worker_probability_above("p95", 0.5)
    for i, rows in enumerate(MEASURED.values()):
        y, w2, b2 = np.log(rows), plain.within**2, plain.between**2
        m = len(y)
        centre = (plain.mu * w2 + m * y.mean() * b2) / (w2 + m * b2)
        spread = plain.within * plain.between / np.sqrt(w2 + m * b2)
        assert np.log(own[i]).mean() == pytest.approx(plain.mean(centre), abs=1e-3)
        expected = plain.mean(ndtr((centre + Z95 * plain.within - math.log(0.5)) / spread))
        assert above[i] == pytest.approx(expected, abs=5e-4)


def test_a_group_with_non_detects_and_intervals_is_that_of_plain_quadrature():
    workers = [
        observed(lower=[0.2, 0.0, 0.15], upper=[0.2, 0.1, 0.15]),
        observed(lower=[0.0, 0.0], upper=[0.1, 0.05]),
        observed(lower=[0.3, 0.1], upper=[0.3, 0.4]),
    ]
    expected = PlainQuadrature(workers, 40, levels=80)
    answer = workers_posterior(workers, limit=1.0)
    for what, shift in (("p95", Z95 * expected.within), ("mean", 0.5 * expected.within**2)):
        chance = expected.mean(ndtr((expected.mu + shift) / expected.between))
        assert answer.probability_worker_above(what) == pytest.approx(chance, abs=2e-4)
    p = (np.arange(1000) + 0.5) / 1000
    assert np.log(answer.quantiles("gm", p)).mean() == pytest.approx(expected.mean(expected.mu), abs=1e-3)
    assert answer.between_share(p).mean() == pytest.approx(expected.mean(expected.r**2), abs=1e-3)


def test_one_result_a_worker_is_the_group_without_workers():
    """Each result is then normal with the total spread, whatever the share; only the share's own prior is left."""
    x = [0.1, 0.25, 0.3, 0.08, 0.4]
    alone, plain = workers_posterior([[v] for v in x], limit=1.0), posterior(x, limit=1.0)
    for what in ("gm", "gsd", "mean", "p95", "exceedance"):
        assert alone.quantiles(what, [0.05, 0.5, 0.95]) == pytest.approx(
            plain.quantiles(what, [0.05, 0.5, 0.95])[0], rel=1e-5
        )
    # Uniform ratio: the share's quantile is the square of p times its end.
    assert alone.between_share([0.3, 0.5, 0.8]) == pytest.approx(np.square([0.3, 0.5, 0.8]) * 0.99, rel=1e-4)
    assert "No worker has more than one result" in alone.in_words()[0]


def test_rows_with_a_worker_index_are_the_same_as_results_by_worker(answer):
    names = np.concatenate([[k] * len(v) for k, v in MEASURED.items()])
    rows = observed(np.concatenate(list(MEASURED.values())))
    p = [0.05, 0.5, 0.95]
    for other in (
        workers_posterior(rows, names, limit=1.0),
        workers_posterior((rows, names), limit=1.0),
        workers_posterior(list(MEASURED.values()), limit=1.0),
    ):
        assert other.quantiles("p95", p) == pytest.approx(answer.quantiles("p95", p), rel=1e-12)
    assert workers_posterior(rows, names, limit=1.0).workers == ("A", "B", "C", "D")


def test_a_workers_level_is_drawn_towards_the_group_and_more_so_with_fewer_results(answer):
    own = answer.worker_quantiles("gm", [0.5])[:, 0]
    raw = np.array([math.exp(np.mean(np.log(v))) for v in MEASURED.values()])
    group = answer.quantiles("gm", [0.5])[0]
    pull = (np.log(own) - np.log(raw)) / (np.log(group) - np.log(raw))
    assert np.all((pull > 0) & (pull < 1))
    assert pull[3] == max(pull)  # D, one result
    assert pull[1] == min(pull)  # B, four results


def test_workers_far_apart_are_not_called_one_group_and_workers_alike_are_not_called_different():
    rng = np.random.default_rng(2)
    apart = [np.exp(level + 0.3 * rng.standard_normal(4)) for level in (-3.0, -1.5, 0.0, -2.5, -0.5, -1.0)]
    alike = [np.exp(-2 + 0.7 * rng.standard_normal(6)) for _ in range(8)]
    told = workers_posterior(apart, limit=1.0).in_words()
    assert any("not one uniformly exposed group" in sentence for sentence in told)
    answer = workers_posterior(alike, limit=1.0)
    assert not any("not one uniformly" in sentence for sentence in answer.in_words())
    assert answer.between_share([0.5])[0] < 0.25


def test_the_words_tell_the_chance_that_a_random_worker_is_above_the_limit():
    rng = np.random.default_rng(2)
    apart = [np.exp(level + 0.3 * rng.standard_normal(4)) for level in (-3.0, -1.5, 0.0, -2.5, -0.5, -1.0)]
    for limit in (1.0, 50.0, 1e-4):
        answer = workers_posterior(apart, limit=limit)
        (told,) = (sentence for sentence in answer.in_words() if "drawn at random" in sentence)
        for p in (answer.probability_worker_above("p95"), answer.probability_worker_above("mean")):
            near = "below 0.1 %" if p < 0.001 else "above 99.9 %" if p > 0.999 else f"{100 * p:.2g}"[:2]
            assert near in told


def test_identical_results_within_every_worker_give_finite_answers():
    answer = workers_posterior([[0.1, 0.1], [0.2, 0.2], [0.3, 0.3]], limit=1.0)
    for what in ("gm", "gsd", "mean", "p95", "exceedance"):
        assert np.all(np.isfinite(answer.quantiles(what, [0.05, 0.5, 0.95])))
    assert 0.8 < answer.between_share([0.5])[0] <= 0.99
    assert 0 <= answer.probability_worker_above("p95") <= 1


def test_non_detects_only_and_one_worker_only_give_finite_answers_and_say_so():
    nothing = workers_posterior([Observations.non_detects([0.1, 0.1]), Observations.non_detects([0.05])], limit=1.0)
    assert np.all(np.isfinite(nothing.quantiles("p95", [0.05, 0.95])))
    one = workers_posterior({"only": [0.1, 0.2, 0.15]}, limit=1.0)
    assert "one worker" in one.in_words()[0]
    assert np.all(np.isfinite(one.worker_quantiles("p95", [0.05, 0.95])))


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: workers_posterior({}, limit=1.0), "at least one result"),
        (lambda: workers_posterior(observed([0.1, 0.2]), limit=1.0), "`worker` must name the worker"),
        (lambda: workers_posterior(observed([0.1, 0.2]), ["A"], limit=1.0), "one worker a row, 2 in all"),
        (lambda: workers_posterior(MEASURED, limit=-1.0), "`limit` must be finite and above 0"),
        (lambda: workers_posterior(MEASURED, limit=1.0).probability_worker_above("gsd"), "must be gm, mean or p95"),
        (lambda: workers_posterior(MEASURED, limit=1.0).quantiles("mode", [0.5]), "`what` must be one of"),
    ],
)
def test_a_question_about_workers_that_means_nothing_is_refused(call, match):
    with pytest.raises(ValueError, match=match):
        call()
