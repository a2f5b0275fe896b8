"""One worker's results in time against an action level: the decisions of the NIOSH strategy manual."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapel.statistics.arguments import above, finite
from lapel.statistics.observed import Observations, observed
from lapel.statistics.sentences import said
from lapel.statistics.verdict import Outcome, Verdict, counted

__all__ = ["action_level_decision"]

_RULE = said(
    "a result at or above the action level: keep measuring; above the limit: controls and monthly measurements; "
    "two in a row below the action level, a week or more apart: measuring may stop"
)
_REMARK = said(
    "The manual's decision figure is known from quotation; a standard of its own for the substance comes first"
)


def action_level_decision(
    values: Observations | ArrayLike,
    limit: float,
    *,
    action_level: float | None = None,
    days: ArrayLike | None = None,
) -> Verdict:
    """
    What the latest results of one worker ask for.

    Parameters
    ----------
    values : Observations or array_like, shape (n,)
        Shift results of one worker in the order of time. [the unit of `limit`]
    limit : float
        Occupational exposure limit.
    action_level : float, optional
        In the same unit; half the limit when left out. Many standards set their own.
    days : array_like, shape (n,), optional
        Day of each result, as any running number of days. [d]

    Returns
    -------
    Verdict
        ``above``, ``more results``, ``shown`` (measuring may stop, or need not start) or ``no verdict``.

    Raises
    ------
    ValueError
        A row has no meaning, the action level is above the limit, or the days are not one a result in
        rising order.

    Notes
    -----
    Each result is taken as it is: no sampling and analytical error, no day-to-day variance [1]_. The action level
    of one half was chosen so that, at common spreads, a worker found below it has little chance of more than
    5 % of days above the limit; at GSD 3 that chance is not little.

    References
    ----------
    .. [1] NIOSH 77-173, Occupational Exposure Sampling Strategy Manual (1977), chapter 1 and figure 1.1.
    """
    (limit_array,) = above(0.0, limit=limit)
    (level_array,) = above(0.0, action_level=0.5 * float(limit_array) if action_level is None else action_level)
    top, level = float(limit_array), float(level_array)
    if level > top:
        raise ValueError(f"`action_level` must not be above the limit, {top:g}; it is {level:g}")
    rows = observed(values)
    day = _days(days, rows.n)

    def say(outcome: Outcome, words: str) -> Verdict:
        numbers = {"n": float(rows.n), "limit": top, "action_level": level}
        return Verdict(outcome, words, _RULE, "NIOSH 77-173, figure 1.1", "1977", numbers=numbers, remarks=(_REMARK,))

    if rows.n == 0:
        return say("no verdict", said("There are no results."))
    if rows.lower[-1] > top:
        return say(
            "above",
            said(
                "The latest result is above the limit: reduce the exposure, tell the worker, and measure at least "
                "monthly until two in a row are below the action level."
            ),
        )
    below, reached = rows.upper < level, rows.lower >= level
    if not below[-1] and not reached[-1]:
        return say(
            "no verdict",
            said(
                "The latest result lies between {low} and {high}: it cannot be told whether it "
                "is below the action level of {level}. Ask for a lower reporting limit.",
                low=f"{rows.lower[-1]:g}",
                high=f"{rows.upper[-1]:g}",
                level=f"{level:g}",
            ),
        )
    if reached[-1]:
        return say(
            "more results",
            said(
                "The latest result is at or above the action level and not above the limit: keep measuring this worker."
            ),
        )
    if below.all():
        return say(
            "shown",
            said(
                "{who} below the action level: this rule "
                "asks for no more until something changes. It does not show how often the limit is exceeded.",
                who=said("The result is") if rows.n == 1 else said("All {results} are", results=counted(rows.n)),
            ),
        )
    run = int(np.argmin(below[::-1]))  # results since the last that was not below
    if run >= 2:
        if day is None:
            return say(
                "no verdict",
                said(
                    "The last two results are below the action level; whether they lie a week apart is not known. "
                    "Give the days."
                ),
            )
        if day[-1] - day[-run] >= 7.0:
            return say(
                "shown",
                said(
                    "The last {results}, a week or more apart, are below the action level: by this rule "
                    "measuring may stop until something changes.",
                    results=counted(run),
                ),
            )
    return say(
        "more results",
        said(
            "The latest result is below the action level but an earlier one was not: another below it, at least a week "
            "later, is wanted before measuring may stop."
        ),
    )


def _days(days: ArrayLike | None, n: int) -> NDArray[np.float64] | None:
    if days is None:
        return None
    (array,) = finite(days=days)
    array = np.atleast_1d(array)
    if array.shape != (n,):
        raise ValueError(f"`days` must hold one day a result, {n}; it has shape {array.shape}")
    if np.any(np.diff(array) < 0.0):
        i = int(np.argmax(np.diff(array) < 0.0)) + 1
        raise ValueError(f"`days` must rise; item {i + 1} is {array[i]:g} after {array[i - 1]:g}")
    return array
