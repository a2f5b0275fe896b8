"""The statistical test of EN 689: six results or more, and the upper confidence limit of their 95th percentile."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import one_limit, share
from lapel.statistics.censored import NoEstimate, fit
from lapel.statistics.compliance_conditions import why_no_statistical_test
from lapel.statistics.goodness import shapiro_wilk
from lapel.statistics.lognormal import spread_of
from lapel.statistics.observed import Observations, observed
from lapel.statistics.order_statistics import regression_on_order_statistics
from lapel.statistics.sentences import Sentence, capital, said, small
from lapel.statistics.tolerance import exceedance_upper_limit, tolerance_factor
from lapel.statistics.verdict import EN_689, EN_689_NOT_READ, Verdict, counted, percent, these

__all__ = ["statistical_test"]

_AT_RANDOM = said("The statement holds for a lognormal group whose results were taken at random")
_REFUSE_SHAPE, _DOUBT_SHAPE = 0.01, 0.05


@dataclass(frozen=True, slots=True)
class _Claim:
    """So much of the shifts below the limit, so surely. [-]"""

    limit: float
    coverage: float
    confidence: float


@dataclass(frozen=True, slots=True)
class _Outcome:
    """Whether the criterion is met, what it was computed from, what to say beside it."""

    is_met: bool
    numbers: Mapping[str, float]
    remarks: tuple[Sentence, ...]


@dataclass(frozen=True, slots=True)
class _Refused:
    """Why the test cannot be made, although there are results enough."""

    words: Sentence
    numbers: Mapping[str, float]


def statistical_test(
    values: Observations | ArrayLike, limit: float, *, coverage: float = 0.95, confidence: float = 0.70
) -> Verdict:
    """
    Statistical test with 6 or more results: is the upper confidence limit of the 95th percentile below the limit?

    Parameters
    ----------
    values : Observations or array_like
        Results of one group. [the unit of `limit`]
    limit : float
        Occupational exposure limit.
    coverage, confidence : float
        Share of shifts that must be below the limit, and how surely: 0.95 and 0.70 in EN 689. [-]

    Returns
    -------
    Verdict
        ``shown`` when U_R = (ln limit - mean of logs)/s is at least U_T(n), ``not shown`` otherwise;
        ``no verdict``, with the reason, when a condition fails.

    Raises
    ------
    ValueError
        A row has no meaning, the limit is not above 0, or a share is not between 0 and 1.

    Notes
    -----
    U_T is the exact one-sided tolerance factor. Conditions: at least 6 results, not all the same; logs not
    clearly non-normal (Shapiro-Wilk p of at least 0.01; below 0.05 a remark); at most half of the results
    below the reporting limit, and at least 3 measured. With non-detects or bounds the upper limit of the percentile
    comes from the likelihood, calibrated so that it is the same test when all rows are measured
    (`Fit.percentile_upper_limit`); U_R by robust regression on order statistics, the treatment usually named, is
    given beside it, and a remark says when the two disagree.
    """
    rows, claim = (
        observed(values),
        _Claim(one_limit(limit), share("coverage", coverage), share("confidence", confidence)),
    )
    claimed = {"share": percent(1.0 - claim.coverage), "confidence": percent(claim.confidence)}
    rule = said(
        "statistical test: fewer than {share} of shifts above the limit, with {confidence} confidence", **claimed
    )
    base = Verdict("no verdict", "", rule, "EN 689, 5.5.3", EN_689, remarks=(EN_689_NOT_READ,))
    if refusal := why_no_statistical_test(rows):
        return replace(base, words=capital(refusal), numbers={"n": float(rows.n)})
    found = _by_spread(rows, claim) if rows.all_measured else _by_likelihood(rows, claim)
    if isinstance(found, _Refused):
        return replace(base, words=found.words, numbers=found.numbers)
    words = said(
        "{these} show with {confidence} confidence that fewer than {share} of shifts exceed the limit."
        if found.is_met
        else "{these} do not show with {confidence} confidence that fewer than {share} of shifts exceed the limit.",
        these=these(rows.n),
        **claimed,
    )
    return replace(
        base,
        outcome="shown" if found.is_met else "not shown",
        words=words,
        numbers=found.numbers,
        remarks=(*_some_above(rows, claim.limit), *found.remarks, _AT_RANDOM, EN_689_NOT_READ),
    )


def _some_above(rows: Observations, limit: float) -> tuple[Sentence, ...]:
    over = int(np.sum(rows.lower > limit))
    if not over:
        return ()
    return (
        said(
            "{count} of {n} is above the limit: find out why, whatever the test says"
            if over == 1
            else "{count} of {n} are above the limit: find out why, whatever the test says",
            count=capital(counted(over)),
            n=rows.n,
        ),
    )


def _by_spread(rows: Observations, claim: _Claim) -> _Outcome | _Refused:
    """All rows measured: U_R against U_T, where the logs look normal."""
    shape = shapiro_wilk(rows.lower)
    assert not isinstance(shape, NoEstimate)  # six or more, not all the same
    if shape.p_value < _REFUSE_SHAPE:
        words = said(
            "The logs of {these} are clearly not normal (Shapiro-Wilk W "
            "{w}, p {p}), and the test holds for lognormal groups only. "
            "Look for an outlier or two populations; split the group if there are two.",
            these=small(these(rows.n)),
            w=f"{shape.statistic:.3f}",
            p=f"{shape.p_value:.2g}",
        )
        return _Refused(words, {"n": float(rows.n), "shapiro_wilk": shape.statistic, "shapiro_wilk_p": shape.p_value})
    _, mean, s = spread_of(rows.lower)
    numbers = _u_numbers(rows.n, mean, s, claim) | {
        "shapiro_wilk_p": shape.p_value,
        "exceedance_upper_limit": exceedance_upper_limit(rows.lower, claim.limit, confidence=claim.confidence),
    }
    doubt = said("The lognormal shape is doubtful (Shapiro-Wilk p {p}): look at the plot", p=f"{shape.p_value:.2g}")
    return _Outcome(numbers["u_r"] >= numbers["u_t"], numbers, (doubt,) if shape.p_value < _DOUBT_SHAPE else ())


def _by_likelihood(rows: Observations, claim: _Claim) -> _Outcome | _Refused:
    """Some rows bounded: the calibrated limit of the percentile, and the usual treatment beside it."""
    fitted = fit(rows)
    if isinstance(fitted, NoEstimate):
        return _Refused(said("No verdict: {why}.", why=fitted.reason), {"n": float(rows.n)})
    bound = fitted.percentile_upper_limit(coverage=claim.coverage, confidence=claim.confidence)
    numbers = {
        "n": float(rows.n),
        "gm": fitted.gm.estimate,
        "gsd": fitted.gsd.estimate,
        "percentile": fitted.percentile(claim.coverage).estimate,
        "percentile_upper_limit": bound,
        "exceedance": float(ndtr((fitted.mu - math.log(claim.limit)) / fitted.sigma)),
    }
    is_met = bound <= claim.limit
    treated = said(
        "{results}. Nothing was substituted: the limit of the percentile comes from the likelihood of the "
        "rows as they are, calibrated to be exact when all are measured; the shape was not tested",
        results=rows.in_words(),
    )
    usual = _u_by_order_statistics(rows, claim)
    if usual is None:
        return _Outcome(is_met, numbers, (treated,))
    numbers |= {"u_r_by_order_statistics": usual["u_r"], "u_t": usual["u_t"]}
    if (usual["u_r"] >= usual["u_t"]) == is_met:
        return _Outcome(is_met, numbers, (treated,))
    opposite = said(
        "Regression on order statistics, the treatment usually named for this test, says the "
        "opposite: the non-detects decide this verdict. Measure with a lower reporting limit"
    )
    return _Outcome(is_met, numbers, (treated, opposite))


def _u_by_order_statistics(rows: Observations, claim: _Claim) -> dict[str, float] | None:
    """U_R and U_T as usually computed with non-detects; nothing where rows are bounded otherwise."""
    if not bool(np.all(rows.is_measured | rows.is_non_detect)):
        return None
    other = regression_on_order_statistics(rows)
    return None if isinstance(other, NoEstimate) else _u_numbers(rows.n, other.log_mean, other.log_sd, claim)


def _u_numbers(n: int, mean: float, s: float, claim: _Claim) -> dict[str, float]:
    u_t = float(tolerance_factor(n, coverage=claim.coverage, confidence=claim.confidence))
    u_r = (math.log(claim.limit) - mean) / s
    return {
        "n": float(n),
        "gm": _exp(mean),
        "gsd": _exp(s),
        "percentile": _exp(mean + float(ndtri(claim.coverage)) * s),
        "percentile_upper_limit": _exp(mean + u_t * s),
        "u_r": u_r,
        "u_t": u_t,
        "exceedance": float(ndtr(-u_r)),
    }


def _exp(exponent: float) -> float:
    return math.exp(exponent) if exponent < 709.0 else math.inf
