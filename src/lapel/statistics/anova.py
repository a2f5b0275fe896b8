"""Between and within workers by analysis of variance, and the test of the individual worker."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc, ndtr, ndtri

from lapel.statistics.arguments import above, share
from lapel.statistics.censored import NoEstimate
from lapel.statistics.lognormal import logs_of
from lapel.statistics.observed import Observations, observed
from lapel.statistics.sentences import capital, said
from lapel.statistics.verdict import Verdict, counted, percent

__all__ = ["VarianceComponents", "individual_worker_test", "variance_components"]


@dataclass(frozen=True)
class VarianceComponents:
    """
    Variance of the logs between and within workers.

    Parameters
    ----------
    grand_mean : float
        Mean of all logs. [-]
    between, within : float
        Variance components of the logs; `between` is set to 0 when its estimate is negative. [-]
    workers, results : int
        How many. [-]
    typical_repeats : float
        n0, the effective number of results a worker. [-]
    f_ratio, p_value : float
        Of the hypothesis that all workers are alike. [-]
    """

    grand_mean: float
    between: float
    within: float
    workers: int
    results: int
    typical_repeats: float
    f_ratio: float
    p_value: float

    @property
    def between_share(self) -> float:
        """Share of the variance of the logs that lies between workers. [-]"""
        total = self.between + self.within
        return self.between / total if total > 0.0 else 0.0


def variance_components(values: ArrayLike, worker: Sequence[object]) -> VarianceComponents | NoEstimate:
    """
    One-way random-effects analysis of variance of the logs, with unequal numbers of results.

    Parameters
    ----------
    values : array_like, shape (n,)
        Results, all measured. [any one unit]
    worker : sequence, length n
        Who wore the sampler: any labels.

    Returns
    -------
    VarianceComponents or NoEstimate
        No estimate with one worker, without repeats, or without any spread.

    Raises
    ------
    ValueError
        The two lists differ in length, or a result is not finite and above 0.

    Notes
    -----
    between = (MSB - MSW)/n0, within = MSW, n0 = (n - sum n_i²/n)/(k - 1) [1]_.

    References
    ----------
    .. [1] S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992), 3.6.
    """
    y = logs_of(values)
    labels = list(worker)
    if len(labels) != y.size:
        raise ValueError(f"`worker` must hold one label a result, {y.size}; it holds {len(labels)}")
    position: dict[object, int] = {}
    index = np.array([position.setdefault(label, len(position)) for label in labels])
    k, n = len(position), int(y.size)
    if k < 2:
        return NoEstimate(said("all results are of one worker"))
    if n == k:
        return NoEstimate(said("no worker has two results: differences between workers cannot be told from days"))
    sizes = np.bincount(index, minlength=k).astype(np.float64)
    means = np.bincount(index, weights=y, minlength=k) / sizes
    grand = float(y.mean())
    between_squares = float(np.sum(sizes * (means - grand) ** 2))
    within_squares = float(np.sum((y - means[index]) ** 2))
    if between_squares + within_squares <= 1e-24 * max(1.0, grand * grand) * n:
        return NoEstimate(said("all results are the same: nothing is known about the spread"))
    ms_between, ms_within = between_squares / (k - 1), within_squares / (n - k)
    n0 = (n - float(np.sum(sizes**2)) / n) / (k - 1)
    ratio = ms_between / ms_within if ms_within > 0.0 else math.inf
    return VarianceComponents(
        grand_mean=grand,
        between=max(0.0, (ms_between - ms_within) / n0),
        within=ms_within,
        workers=k,
        results=n,
        typical_repeats=n0,
        f_ratio=ratio,
        p_value=float(fdtrc(k - 1, n - k, ratio)) if math.isfinite(ratio) else 0.0,
    )


def individual_worker_test(
    values: Observations | ArrayLike,
    worker: Sequence[object],
    limit: float,
    *,
    chance: float = 0.20,
    exceedance: float = 0.05,
) -> Verdict:
    """
    Is the chance small that a worker of the group has more than 5 % of shifts above the limit?

    Parameters
    ----------
    values : Observations or array_like, shape (n,)
        Results, all measured: at least 9, from at least 3 workers with 2 or more results each. [unit of `limit`]
    worker : sequence, length n
        Who wore the sampler: any labels.
    limit : float
        Occupational exposure limit.
    chance : float
        The chance that must not be reached, 0.20. [-]
    exceedance : float
        Share of a worker's own shifts above the limit, 0.05. [-]

    Returns
    -------
    Verdict
        ``shown`` when the estimated chance is below `chance`.

    Raises
    ------
    ValueError
        The two lists differ in length, a row has no meaning, or an argument is out of range.

    Notes
    -----
    With variance components from `variance_components`, a worker's own 95th percentile is above the limit when
    the worker's mean log is above ln L - z95·sigma_w; the chance of that is
    1 - Phi((ln L - z95·sigma_w - mean)/sigma_b) [1]_. It is computed from estimates as if they were the truth:
    the guidance claims no confidence for it. For the chance with its uncertainty, and for non-detects, use the
    random-effects posterior.

    References
    ----------
    .. [1] BOHS and NVvA, Testing Compliance with Occupational Exposure Limits for Airborne Substances
       (December 2011), 3.6 and Appendix 1; the structure from the contents and from quotations.
    """
    chance, exceedance = share("chance", chance), share("exceedance", exceedance)
    (limit_array,) = above(0.0, limit=limit)
    rows = observed(values)
    base = Verdict(
        "no verdict",
        "",
        said(
            "individual-worker test: less than {chance} chance that a worker has more than "
            "{share} of shifts above the limit",
            chance=percent(chance),
            share=percent(exceedance),
        ),
        "BOHS/NVvA, Testing Compliance with Occupational Exposure Limits, 3.6",
        "December 2011",
        remarks=(
            said("The group test (95th percentile, 70 % confidence) comes before this one"),
            said("The arithmetic of the guidance's appendix was not re-read; it is stated in the notes of this test"),
        ),
    )
    if len(list(worker)) != rows.n:
        raise ValueError(f"`worker` must hold one label a result, {rows.n}; it holds {len(list(worker))}")
    if not rows.all_measured:
        return replace_words(
            base,
            said("{results}. This test takes measured results only; use the posterior.", results=rows.in_words()),
        )
    repeats = [list(worker).count(label) for label in dict.fromkeys(worker)]
    repeated = sum(r >= 2 for r in repeats)
    if rows.n < 9 or repeated < 3:
        return replace_words(
            base,
            said(
                "{results}, {workers} with two or more: the test wants at "
                "least nine results and three workers with two or more each.",
                results=capital(counted(rows.n)),
                workers=counted(repeated, "worker"),
            ),
        )
    parts = variance_components(rows.lower, worker)
    if isinstance(parts, NoEstimate):
        return replace_words(base, said("No verdict: {why}.", why=parts.reason))
    margin = math.log(float(limit_array)) - float(ndtri(1.0 - exceedance)) * math.sqrt(parts.within) - parts.grand_mean
    if parts.between > 0.0:
        probability = float(ndtr(-margin / math.sqrt(parts.between)))
    else:
        probability = 0.0 if margin > 0.0 else 1.0
    met = probability < chance
    words = said(
        "Taking the estimates as true, the chance that a worker of this group has more than {share} of "
        "shifts above the limit is {found}: {met}",
        share=percent(exceedance),
        found=percent(probability),
        met=said(
            "below the {chance} of the rule." if met else "not below the {chance} of the rule.", chance=percent(chance)
        ),
    )
    return Verdict(
        outcome="shown" if met else "not shown",
        words=words,
        rule=base.rule,
        source=base.source,
        edition=base.edition,
        numbers={
            "n": float(rows.n),
            "workers": float(parts.workers),
            "gm": math.exp(parts.grand_mean),
            "gsd_between": math.exp(math.sqrt(parts.between)),
            "gsd_within": math.exp(math.sqrt(parts.within)),
            "between_share": parts.between_share,
            "f_p_value": parts.p_value,
            "chance": probability,
        },
        remarks=base.remarks,
    )


def replace_words(base: Verdict, words: str) -> Verdict:
    """The same verdict, not reached, with its reason."""
    return Verdict("no verdict", words, base.rule, base.source, base.edition, remarks=base.remarks)
