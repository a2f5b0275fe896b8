"""A group of similarly exposed workers against a limit: which of the two tests of EN 689 applies."""

import numpy as np
from numpy.typing import ArrayLike

from lapel.statistics.arguments import one_limit
from lapel.statistics.compliance_preliminary import PRELIMINARY_FRACTIONS, leak_in_words, preliminary_test
from lapel.statistics.compliance_statistical import statistical_test
from lapel.statistics.observed import Observations, observed
from lapel.statistics.sentences import said, small
from lapel.statistics.verdict import EN_689, EN_689_NOT_READ, Verdict, counted

__all__ = ["compliance_test"]


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
    rows, limit = observed(values), one_limit(limit)
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
            edition=EN_689,
            numbers={
                "n": float(rows.n),
                "fraction": smallest,
                "highest_share_of_limit": float(rows.upper.max() / limit),
            },
            remarks=(leak_in_words(3), EN_689_NOT_READ),
        )
    return verdict
