"""The preliminary test of EN 689: three to five results, all far below the limit."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from lapel.statistics.arguments import above, one_limit, share
from lapel.statistics.lognormal import Z95
from lapel.statistics.observed import Observations, observed
from lapel.statistics.sentences import Sentence, capital, listed, said
from lapel.statistics.verdict import EN_689, EN_689_NOT_READ, Verdict, counted, percent, these

__all__ = ["PRELIMINARY_FRACTIONS", "leak_in_words", "preliminary_leak", "preliminary_test"]

PRELIMINARY_FRACTIONS = {3: 0.1, 4: 0.15, 5: 0.2}
"""Number of results -> share of the limit that all of them must stay below (EN 689:2018, 5.5.2). [-]"""

_CLAUSE = "EN 689, 5.5.2"


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
    rows, limit = observed(values), one_limit(limit)
    rule = said("preliminary test: 3, 4 or 5 results all below 0.1, 0.15 or 0.2 of the limit")
    base = Verdict("no verdict", "", rule, _CLAUSE, EN_689, remarks=(EN_689_NOT_READ,))
    if rows.n not in PRELIMINARY_FRACTIONS:
        return replace(base, words=_other_number_wanted(rows.n))
    fraction = PRELIMINARY_FRACTIONS[rows.n]
    highest = float(rows.upper.max() / limit)
    base = replace(base, numbers={"n": float(rows.n), "fraction": fraction, "highest_share_of_limit": highest})
    if over := int(np.sum(rows.lower > limit)):
        return replace(base, outcome="above", words=_not_kept(over, rows.n))
    if bool(np.all(rows.upper < fraction * limit)):
        words = said(
            "All {results} are below {share} of the limit, which meets the preliminary test. "
            "That is a rule of thumb, not a statement with 70 % confidence.",
            results=counted(rows.n),
            share=f"{fraction:g}",
        )
        return replace(base, outcome="shown", words=words, remarks=(leak_in_words(rows.n), EN_689_NOT_READ))
    words = said(
        "{these} neither stay below {share} of the limit nor go above it: at least six results "
        "in all are wanted, and then the statistical test.",
        these=these(rows.n),
        share=f"{fraction:g}",
    )
    return replace(base, outcome="more results", words=words, remarks=(*_too_wide(rows, limit), EN_689_NOT_READ))


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


def leak_in_words(n: int) -> Sentence:
    """How often a group at the brink passes with so many results."""
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


def _other_number_wanted(n: int) -> Sentence:
    why = said(
        "the preliminary test wants at least three"
        if n < 3
        else "the preliminary test is for three to five; from six on the statistical test applies"
    )
    return said("There is {results}; {why}." if n == 1 else "There are {results}; {why}.", results=counted(n), why=why)


def _not_kept(over: int, n: int) -> Sentence:
    return said(
        "{count} of {n} is above the limit: by this test the limit is not kept."
        if over == 1
        else "{count} of {n} are above the limit: by this test the limit is not kept.",
        count=capital(counted(over)),
        n=n,
    )


def _too_wide(rows: Observations, limit: float) -> tuple[Sentence, ...]:
    """Say so where bounds reach from below the limit to above it."""
    blind = int(np.sum((rows.upper > limit) & (rows.lower <= limit)))
    if not blind:
        return ()
    return (
        said(
            "{results} may lie above the limit for all that is known: bounds too wide to help",
            results=capital(counted(blind)),
        ),
    )
