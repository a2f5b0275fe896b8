"""A group of similarly exposed workers against a limit: the two tests of EN 689."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, share
from lapel.statistics.censored import NoEstimate, fit
from lapel.statistics.compliance_conditions import why_no_statistical_test
from lapel.statistics.goodness import shapiro_wilk
from lapel.statistics.lognormal import Z95, spread_of
from lapel.statistics.observed import Observations, observed
from lapel.statistics.order_statistics import regression_on_order_statistics
from lapel.statistics.sentences import capital, listed, said, small
from lapel.statistics.tolerance import exceedance_upper_limit, tolerance_factor
from lapel.statistics.verdict import Verdict, counted, percent, these

__all__ = ["PRELIMINARY_FRACTIONS", "compliance_test", "preliminary_leak", "preliminary_test", "statistical_test"]

PRELIMINARY_FRACTIONS = {3: 0.1, 4: 0.15, 5: 0.2}
"""Number of results -> share of the limit that all of them must stay below (EN 689:2018, 5.5.2). [-]"""

_EDITION = "EN 689:2018+AC:2019"
_NOT_READ = said("The clause is known from others' quotation; check it in the standard before citing it")
_AT_RANDOM = said("The statement holds for a lognormal group whose results were taken at random")
_REFUSE_SHAPE, _DOUBT_SHAPE = 0.01, 0.05


def compliance_test(
    values: Observations | ArrayLike, limit: float, *, coverage: float = 0.95, confidence: float = 0.70
) -> Verdict:
    """
    The EN 689 route: the preliminary test for 3 to 5 results, the statistical test from 6 on.

    Parameters
    ----------
    values : Observations or array_like
        Results of one group of similarly exposed workers. [the unit of `limit`]
    limit : float
        Occupational exposure limit.
    coverage, confidence : float
        Of the statistical test: share of shifts that must be below the limit, and how surely. [-]

    Returns
    -------
    Verdict

    Raises
    ------
    ValueError
        A row has no meaning, the limit is not above 0, or a share is not between 0 and 1.

    Notes
    -----
    Where the statistical test cannot be made (too many non-detects, say) but every one of six or more
    results is below a tenth of the limit, the answer is that of the preliminary test, and says so.
    """
    rows, limit = _rows_and_limit(values, limit)
    if rows.n < 6:
        return preliminary_test(rows, limit)
    verdict = statistical_test(rows, limit, coverage=coverage, confidence=confidence)
    smallest = min(PRELIMINARY_FRACTIONS.values())
    if verdict.outcome == "no verdict" and bool(np.all(rows.upper < smallest * limit)):
        return Verdict(
            outcome="shown",
            words=said(
                "All {results} are below {share} of the limit, which meets the preliminary "
                "test. The statistical test could not be made: {why}",
                results=counted(rows.n),
                share=f"{smallest:g}",
                why=small(verdict.words),
            ),
            rule=said("preliminary test: all results below {share} of the limit", share=f"{smallest:g}"),
            source="EN 689, 5.5.2",
            edition=_EDITION,
            numbers={
                "n": float(rows.n),
                "fraction": smallest,
                "highest_share_of_limit": float(rows.upper.max() / limit),
            },
            remarks=(_leak_in_words(3), _NOT_READ),
        )
    return verdict


def preliminary_test(values: Observations | ArrayLike, limit: float) -> Verdict:
    """
    Preliminary test with 3, 4 or 5 results.

    Parameters
    ----------
    values : Observations or array_like
        Results; a non-detect counts as its reporting limit when "below" is to be shown, as 0 when "above"
        is. [the unit of `limit`]
    limit : float
        Occupational exposure limit.

    Returns
    -------
    Verdict
        ``shown`` when all are below 0.1, 0.15 or 0.2 of the limit (3, 4, 5 results), ``above`` when one is
        above it, ``more results`` in between.

    Raises
    ------
    ValueError
        A row has no meaning, or the limit is not above 0.

    Notes
    -----
    A rule of thumb, not a confidence statement: `preliminary_leak` tells how often a group with exactly
    5 % of its shifts above the limit passes.
    """
    rows, limit = _rows_and_limit(values, limit)
    rule = said("preliminary test: 3, 4 or 5 results all below 0.1, 0.15 or 0.2 of the limit")
    base = Verdict("no verdict", "", rule, "EN 689, 5.5.2", _EDITION, remarks=(_NOT_READ,))
    n = rows.n
    if n not in PRELIMINARY_FRACTIONS:
        why = said(
            "the preliminary test wants at least three"
            if n < 3
            else "the preliminary test is for three to five; from six on the statistical test applies"
        )
        there = said(
            "There is {results}; {why}." if n == 1 else "There are {results}; {why}.", results=counted(n), why=why
        )
        return replace(base, words=there)
    fraction = PRELIMINARY_FRACTIONS[n]
    numbers = {
        "n": float(n),
        "fraction": fraction,
        "highest_share_of_limit": float(rows.upper.max() / limit),
    }
    over = int(np.sum(rows.lower > limit))
    if over:
        return replace(
            base,
            outcome="above",
            words=said(
                "{count} of {n} is above the limit: by this test the limit is not kept."
                if over == 1
                else "{count} of {n} are above the limit: by this test the limit is not kept.",
                count=capital(counted(over)),
                n=n,
            ),
            numbers=numbers,
        )
    if bool(np.all(rows.upper < fraction * limit)):
        return replace(
            base,
            outcome="shown",
            words=said(
                "All {results} are below {share} of the limit, which meets the preliminary test. "
                "That is a rule of thumb, not a statement with 70 % confidence.",
                results=counted(n),
                share=f"{fraction:g}",
            ),
            numbers=numbers,
            remarks=(_leak_in_words(n), _NOT_READ),
        )
    blind = int(np.sum((rows.upper > limit) & (rows.lower <= limit)))
    extra = (
        (
            said(
                "{results} may lie above the limit for all that is known: bounds too wide to help",
                results=capital(counted(blind)),
            ),
        )
        if blind
        else ()
    )
    return replace(
        base,
        outcome="more results",
        words=said(
            "{these} neither stay below {share} of the limit nor go above it: at least six results "
            "in all are wanted, and then the statistical test.",
            these=these(n),
            share=f"{fraction:g}",
        ),
        numbers=numbers,
        remarks=(*extra, _NOT_READ),
    )


def preliminary_leak(n: int, *, gsd: float, exceedance: float = 0.05) -> float:
    """
    Chance that a group with this share of shifts above the limit passes the preliminary test.

    Parameters
    ----------
    n : int
        3, 4 or 5 results. [-]
    gsd : float
        True geometric standard deviation, above 1. [-]
    exceedance : float
        True share of shifts above the limit. [-]

    Returns
    -------
    float
        Phi(z(1-exceedance) + ln(fraction)/ln(gsd))^n. [-]

    Raises
    ------
    ValueError
        `n` is not 3, 4 or 5, or another argument is out of range.
    """
    if n not in PRELIMINARY_FRACTIONS:
        raise ValueError(f"`n` must be 3, 4 or 5; it is {n}")
    (spread,) = above(1.0, gsd=gsd)
    p = share("exceedance", exceedance)
    z = Z95 if p == 0.05 else float(ndtri(1.0 - p))
    return float(ndtr(z + math.log(PRELIMINARY_FRACTIONS[n]) / math.log(float(spread))) ** n)


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
    rows, limit = _rows_and_limit(values, limit)
    coverage, confidence = share("coverage", coverage), share("confidence", confidence)
    n = rows.n
    claimed = {"share": percent(1.0 - coverage), "confidence": percent(confidence)}
    rule = said(
        "statistical test: fewer than {share} of shifts above the limit, with {confidence} confidence", **claimed
    )
    base = Verdict("no verdict", "", rule, "EN 689, 5.5.3", _EDITION, remarks=(_NOT_READ,))
    refusal = why_no_statistical_test(rows)
    if refusal:
        return replace(base, words=capital(refusal), numbers={"n": float(n)})
    remarks: list[str] = []
    over = int(np.sum(rows.lower > limit))
    if over:
        remarks.append(
            said(
                "{count} of {n} is above the limit: find out why, whatever the test says"
                if over == 1
                else "{count} of {n} are above the limit: find out why, whatever the test says",
                count=capital(counted(over)),
                n=n,
            )
        )
    log_limit = math.log(limit)
    if rows.all_measured:
        shape = shapiro_wilk(rows.lower)
        assert not isinstance(shape, NoEstimate)  # six or more, not all the same
        if shape.p_value < _REFUSE_SHAPE:
            return replace(
                base,
                words=said(
                    "The logs of {these} are clearly not normal (Shapiro-Wilk W "
                    "{w}, p {p}), and the test holds for lognormal groups only. "
                    "Look for an outlier or two populations; split the group if there are two.",
                    these=small(these(n)),
                    w=f"{shape.statistic:.3f}",
                    p=f"{shape.p_value:.2g}",
                ),
                numbers={"n": float(n), "shapiro_wilk": shape.statistic, "shapiro_wilk_p": shape.p_value},
            )
        if shape.p_value < _DOUBT_SHAPE:
            remarks.append(
                said("The lognormal shape is doubtful (Shapiro-Wilk p {p}): look at the plot", p=f"{shape.p_value:.2g}")
            )
        _, mean, s = spread_of(rows.lower)
        numbers = _numbers(n, mean, s, log_limit, coverage, confidence)
        numbers["shapiro_wilk_p"] = shape.p_value
        numbers["exceedance_upper_limit"] = exceedance_upper_limit(rows.lower, limit, confidence=confidence)
        met = numbers["u_r"] >= numbers["u_t"]
    else:
        fitted = fit(rows)
        if isinstance(fitted, NoEstimate):
            return replace(base, words=said("No verdict: {why}.", why=fitted.reason), numbers={"n": float(n)})
        bound = fitted.percentile_upper_limit(coverage=coverage, confidence=confidence)
        numbers = {
            "n": float(n),
            "gm": fitted.gm.estimate,
            "gsd": fitted.gsd.estimate,
            "percentile": fitted.percentile(coverage).estimate,
            "percentile_upper_limit": bound,
            "exceedance": float(ndtr((fitted.mu - log_limit) / fitted.sigma)),
        }
        met = bound <= limit
        remarks.append(
            said(
                "{results}. Nothing was substituted: the limit of the percentile comes from the likelihood of the "
                "rows as they are, calibrated to be exact when all are measured; the shape was not tested",
                results=rows.in_words(),
            )
        )
        if bool(np.all(rows.is_measured | rows.is_non_detect)):
            other = regression_on_order_statistics(rows)
            if not isinstance(other, NoEstimate):
                by_ros = _numbers(n, other.log_mean, other.log_sd, log_limit, coverage, confidence)
                numbers["u_r_by_order_statistics"], numbers["u_t"] = by_ros["u_r"], by_ros["u_t"]
                if (by_ros["u_r"] >= by_ros["u_t"]) != met:
                    remarks.append(
                        said(
                            "Regression on order statistics, the treatment usually named for this test, says the "
                            "opposite: the non-detects decide this verdict. Measure with a lower reporting limit"
                        )
                    )
    words = said(
        "{these} show with {confidence} confidence that fewer than {share} of shifts exceed the limit."
        if met
        else "{these} do not show with {confidence} confidence that fewer than {share} of shifts exceed the limit.",
        these=these(n),
        **claimed,
    )
    return replace(
        base,
        outcome="shown" if met else "not shown",
        words=words,
        numbers=numbers,
        remarks=(*remarks, _AT_RANDOM, _NOT_READ),
    )


def _rows_and_limit(values: Observations | ArrayLike, limit: float) -> tuple[Observations, float]:
    (array,) = above(0.0, limit=limit)
    if array.size != 1:
        raise ValueError(f"`limit` must be one number; it holds {array.size}")
    return observed(values), float(array.reshape(()))


def _numbers(n: int, mean: float, s: float, log_limit: float, coverage: float, confidence: float) -> dict[str, float]:
    u_t = float(tolerance_factor(n, coverage=coverage, confidence=confidence))
    u_r = (log_limit - mean) / s
    return {
        "n": float(n),
        "gm": _exp(mean),
        "gsd": _exp(s),
        "percentile": _exp(mean + float(ndtri(coverage)) * s),
        "percentile_upper_limit": _exp(mean + u_t * s),
        "u_r": u_r,
        "u_t": u_t,
        "exceedance": float(ndtr(-u_r)),
    }


def _leak_in_words(n: int) -> str:
    leaks = listed(
        ", ",
        (
            said("{chance} at GSD {gsd}", chance=percent(preliminary_leak(n, gsd=g)), gsd=f"{g:g}")
            for g in (2.5, 3.0, 4.0)
        ),
    )
    return said(
        "A group with exactly 5 % of its shifts above the limit passes with {results} at a chance of {chances}",
        results=counted(n),
        chances=leaks,
    )


def _exp(exponent: float) -> float:
    return math.exp(exponent) if exponent < 709.0 else math.inf
