import math

import numpy as np
import pytest

from lapel.statistics.posterior import posterior
from lapel.statistics.priors import PUBLISHED_SPREAD, FlatPrior, SpreadPrior


def test_the_default_prior_has_its_median_between_a_gsd_of_two_and_three_and_holds_95_percent_between_1_4_and_10():
    assert PUBLISHED_SPREAD.median_gsd == pytest.approx(math.exp(math.sqrt(math.log(2) * math.log(3))))
    low, high = (math.exp(math.exp(PUBLISHED_SPREAD.mean_ln_sigma + z * 0.5)) for z in (-1.96, 1.96))
    assert low == pytest.approx(1.39, abs=0.01)
    assert high == pytest.approx(10.2, abs=0.1)
    assert "Kromhout" in PUBLISHED_SPREAD.source


def test_the_prior_of_the_share_between_workers_has_the_published_fifths():
    """Rappaport et al. 1993, 183 groups: a fifth below a two-fold range of means, a fifth above fifteen-fold."""
    sigma = math.exp(PUBLISHED_SPREAD.mean_ln_sigma)
    for fold, chance in ((2.0, 0.2), (15.0, 0.8)):
        ratio = math.log(fold) / (2 * 1.959964) / sigma  # sigma_between / sigma, uniform on (0, 1)
        assert ratio == pytest.approx(chance, abs=0.01)


def test_with_no_results_the_posterior_is_the_prior():
    answer = posterior([[]], limit=1.0)
    expected = np.exp(
        np.exp(PUBLISHED_SPREAD.mean_ln_sigma + 0.5 * np.array([-1.6448536269514722, 0, 1.6448536269514722]))
    )
    assert answer.quantiles("gsd", [0.05, 0.5, 0.95])[0] == pytest.approx(expected, rel=1e-6)
    assert answer.quantiles("gm", [0.5])[0] == pytest.approx(math.exp(-1.5), rel=1e-6)
    flat = posterior([[]], limit=1.0, prior=FlatPrior())
    middle = math.exp(math.sqrt(math.log(1.05) * math.log(10)))
    assert flat.quantiles("gsd", [0.5])[0] == pytest.approx(middle, rel=1e-9)


def test_a_prior_from_an_earlier_survey_is_named_with_its_numbers():
    prior = SpreadPrior.from_gsd(2.2, 1.5, 4.0, source="survey of spring, 24 results")
    assert prior.median_gsd == pytest.approx(2.2)
    assert "survey of spring" in prior.describe()
    assert math.exp(math.exp(prior.mean_ln_sigma)) == pytest.approx(2.2)


@pytest.mark.parametrize(
    ("make", "match"),
    [
        (lambda: SpreadPrior(math.nan, 0.5), "`mean_ln_sigma` must be finite"),
        (lambda: SpreadPrior(-0.1, 0.0), "`sd_ln_sigma` must be finite and above 0"),
        (lambda: FlatPrior(0.9, 10), "`gsd_low` and `gsd_high`"),
        (lambda: FlatPrior(3, 2), "`gsd_low` and `gsd_high`"),
        (lambda: SpreadPrior.from_gsd(2, 3, 4, source="x"), "must rise above 1"),
        (lambda: posterior([0.1, 0.2], limit=1, prior=2.5), "`prior` must be a SpreadPrior or a FlatPrior"),
    ],
)
def test_a_prior_that_means_nothing_is_refused(make, match):
    with pytest.raises((ValueError, TypeError), match=match):
        make()
