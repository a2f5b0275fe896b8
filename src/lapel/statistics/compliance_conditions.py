"""When the statistical test of EN 689 cannot be made, and why, in words."""

from __future__ import annotations

import numpy as np

from lapel.statistics.observed import Observations
from lapel.statistics.sentences import said
from lapel.statistics.verdict import counted

__all__ = ["why_no_statistical_test"]

_MOST_NON_DETECTS = 0.5


def why_no_statistical_test(rows: Observations) -> str:
    """The first condition of the statistical test that fails, in words; empty when none does."""
    n, measured = rows.n, int(rows.is_measured.sum())
    if n < 6:
        return said(
            "there is {results}; the statistical test wants at least six."
            if n == 1
            else "there are {results}; the statistical test wants at least six.",
            results=counted(n),
        )
    if rows.is_non_detect.all():
        return said("all {results} are below the reporting limit; the test needs measured ones.", results=counted(n))
    if rows.non_detect_share > _MOST_NON_DETECTS:
        return said(
            "{count} of {n} results are below the reporting limit; with more than half, "
            "this test is not to be trusted. Use the posterior, or measure with a lower reporting limit.",
            count=int(rows.is_non_detect.sum()),
            n=n,
        )
    if not rows.is_within.any() and not rows.is_at_least.any() and measured < 3:
        return said(
            "only {results} is measured; the test wants at least three."
            if measured == 1
            else "only {results} are measured; the test wants at least three.",
            results=counted(measured),
        )
    if rows.all_measured and float(np.ptp(rows.lower)) <= 1e-12 * float(rows.lower.max()):
        return said(
            "all {results} are the same number, so nothing is known about the spread. Report them with more "
            "digits, or ask how they came about.",
            results=counted(n),
        )
    return ""
