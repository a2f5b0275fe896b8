"""Limits: holding an exposure against one, and the action level below it."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Literal, TypeAlias

from lapel.figures import Figure, Formula, above_zero, formula, fraction, number, reading, significant
from lapel.said import Said, listed, said

Verdict: TypeAlias = Literal["under", "over", "cannot tell"]
"""What the data show about an exposure and a limit, at the stated one-sided confidence; never surer than they are."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """
    An exposure held against a limit.

    Attributes
    ----------
    verdict : Verdict
        "under" or "over" only where the data show it at the confidence asked for.
    ratio_low, ratio_high : float
        Lower and upper end of the exposure as a share of the limit, before measurement uncertainty. `ratio_low` is 0
        where nothing bounds the exposure from below, `ratio_high` infinite where nothing bounds it from above. [-]
    lcl, ucl : float
        One-sided lower and upper confidence limits of those ends, as a share of the limit. [-]
    margin : float
        How far the deciding confidence limit is on the safe side of its verdict; negative for "cannot tell": what is
        lacking to the nearer verdict. Share of the limit. [-]
    confidence : float
        One-sided confidence of `lcl` and of `ucl`. [-]
    caution : str
        A sentence to add to the reason.
    """

    verdict: Verdict
    ratio_low: float
    ratio_high: float
    lcl: float
    ucl: float
    margin: float
    confidence: float = 0.95
    caution: str = ""

    @property
    def reason(self) -> str:
        """Why, in plain words."""
        because = self.why("exposure")
        return listed(" ", (because, self.caution)) if self.caution else because

    def why(self, what: Literal["exposure", "index"]) -> Said:
        """Say what the confidence limits show of an exposure and its limit, or of the index of a mixture and 1."""
        which = _which(self.lcl, self.ucl, self.ratio_low, self.ratio_high)
        ends = {"lcl": self.lcl, "ucl": self.ucl, "low": self.ratio_low, "high": self.ratio_high}
        shown = {name: beside_one(end) for name, end in ends.items() if f"{{{name}}}" in _WHY[what][which]}
        return said(_WHY[what][which], sure=_percent_sure(self.confidence), **shown)


@formula(
    "share of the limit",
    "Y = C/L",
    unit="1",
    source="NIOSH 77-173, chapter 4: exposure divided by the standard",
    falls_with=("limit",),
    symbols={"exposure": "C", "limit": "L"},
)
def share_of_limit(exposure: Any, limit: Any) -> Any:
    """Exposure as a share of its limit, both in one unit."""
    return exposure / limit


def compare(
    lower: Figure | float, upper: Figure | float, limit: Figure | float, *, confidence: float = 0.95
) -> Comparison:
    """
    Hold an exposure, known between two figures, against a limit.

    Parameters
    ----------
    lower, upper : Figure or float
        Ends of the exposure; the same figure twice for a plain estimate. A lower end that is itself only "at most"
        proves nothing from below, an upper end that is only "at least" nothing from above.
    limit : Figure or float
        Limit in the same unit.
    confidence : float
        One-sided, at least 0.5 and below 1.

    Returns
    -------
    Comparison
        "under" when the upper confidence limit is not above the limit, "over" when the lower one is above it.

    Raises
    ------
    ValueError
        Units differ, the limit is not above 0, the ends are negative, not finite or crossed, or the confidence is out
        of range.

    Notes
    -----
    UCL = Y + z·u(Y), LCL = Y - z·u(Y) with z = 1.645 at 95 % [1]_, u(Y) being the propagated standard uncertainty
    instead of a method's CV. Unrounded numbers are compared. The normal distribution is assumed for the measurement
    error, not for exposures of different days: the verdict is about the period that was sampled and about no other.

    References
    ----------
    .. [1] NIOSH 77-173, Occupational Exposure Sampling Strategy Manual (1977), 4.2.1.
    """
    z = one_sided_factor(confidence)
    _check_comparable(lower, upper, limit)
    low = share_of_limit(lower, limit)
    high = low if upper is lower else share_of_limit(upper, limit)
    bounded_below = low.sense in ("exactly", "at least")
    bounded_above = high.sense in ("exactly", "at most")
    ratio_low = low.value if bounded_below else 0.0
    ratio_high = high.value if bounded_above else math.inf
    if bounded_below and bounded_above and ratio_low > ratio_high * (1 + 1e-12):
        raise ValueError(f"`lower` must not be above `upper`; found {number(lower):g} and {number(upper):g}")
    lcl = low.value - z * low.uncertainty if bounded_below else 0.0
    ucl = high.value + z * high.uncertainty if bounded_above else math.inf
    return verdict_from(lcl, ucl, ratio_low=ratio_low, ratio_high=ratio_high, confidence=confidence)


def verdict_from(
    lcl: float, ucl: float, *, ratio_low: float, ratio_high: float, confidence: float = 0.95, caution: str = ""
) -> Comparison:
    """
    Decide from the two confidence limits, each a share of the limit.

    Parameters
    ----------
    lcl, ucl : float
        One-sided confidence limits; ``ucl`` is infinite where nothing bounds the exposure from above. [-]
    ratio_low, ratio_high : float
        Ends of the exposure before measurement uncertainty. [-]
    confidence : float
        One-sided. [-]
    caution : str
        A sentence to add to the reason.

    Returns
    -------
    Comparison
    """
    if ucl <= 1.0:
        verdict: Verdict = "under"
        margin = 1.0 - ucl
    elif lcl > 1.0:
        verdict = "over"
        margin = lcl - 1.0
    else:
        verdict = "cannot tell"
        margin = -min(ucl - 1.0, 1.0 - lcl)
    return Comparison(verdict, ratio_low, ratio_high, lcl, ucl, margin, confidence, caution)


_WHY: dict[str, dict[str, str]] = {
    "exposure": {
        "under": "With {sure} confidence the exposure is at most {ucl} of the limit.",
        "over": "With {sure} confidence the exposure is at least {lcl} times the limit.",
        "least, near": (
            "What was measured is {low} times the limit and only a least value, but the limit is within the "
            "measurement uncertainty ({sure} one-sided: from {lcl} up)."
        ),
        "least": (
            "What was measured is {low} of the limit and only a least value: nothing shows that the exposure was not "
            "higher."
        ),
        "unbounded": "Nothing that was measured bounds the exposure from above.",
        "interval": "The exposure lies between {low} and {high} of the limit, and the limit lies between.",
        "near, under": (
            "The exposure is under the limit as measured ({high} of it), but within the measurement uncertainty "
            "({sure} one-sided: {lcl} to {ucl})."
        ),
        "near, over": (
            "The exposure is over the limit as measured ({low} of it), but within the measurement uncertainty "
            "({sure} one-sided: {lcl} to {ucl})."
        ),
    },
    "index": {
        "under": "With {sure} confidence the index is at most {ucl}.",
        "over": "With {sure} confidence the index is at least {lcl}.",
        "least, near": (
            "What was measured is {low} and only a least value, but 1 is within the measurement uncertainty "
            "({sure} one-sided: from {lcl} up)."
        ),
        "least": "What was measured is {low} and only a least value: nothing shows that the index was not higher.",
        "unbounded": "Nothing that was measured bounds the index from above.",
        "interval": "The index lies between {low} and {high}, and 1 lies between.",
        "near, under": (
            "The index is under 1 as measured ({high}), but within the measurement uncertainty "
            "({sure} one-sided: {lcl} to {ucl})."
        ),
        "near, over": (
            "The index is over 1 as measured ({low}), but within the measurement uncertainty "
            "({sure} one-sided: {lcl} to {ucl})."
        ),
    },
}
"""What is said of an exposure and its limit, or of the index of a mixture and 1."""


def _which(lcl: float, ucl: float, ratio_low: float, ratio_high: float) -> str:
    """Tell the sentences apart: a verdict, no upper end, an interval, or measurement uncertainty."""
    if ucl <= 1.0:
        return "under"
    if lcl > 1.0:
        return "over"
    if math.isinf(ucl):
        return "least, near" if ratio_low > 1.0 else "least" if ratio_low > 0.0 else "unbounded"
    if ratio_low <= 1.0 < ratio_high:
        return "interval"
    return "near, under" if ratio_high <= 1.0 else "near, over"


@functools.lru_cache(maxsize=64)
def _percent_sure(confidence: float) -> str:
    return f"{significant(100 * confidence, 4).rstrip('0').rstrip('.')} %"


def beside_one(ratio: float) -> str:
    """Write a share of the limit with as many figures as it takes not to read as exactly the limit."""
    for figures in range(2, 16):
        text = significant(ratio, figures)
        if ratio == 1.0 or float(text.replace("\u2212", "-").split("×")[0]) != 1.0 or "×" in text:
            return text
    return text


@functools.lru_cache(maxsize=64)
def one_sided_factor(confidence: float) -> float:
    """
    Normal quantile of a one-sided confidence: 1.645 at 0.95.

    Raises
    ------
    ValueError
        The confidence is below 0.5 or not below 1.
    """
    if not 0.5 <= confidence < 1.0:
        raise ValueError(f"`confidence` must be at least 0.5 and below 1; found {confidence}")
    return NormalDist().inv_cdf(confidence)


def _check_comparable(lower: Figure | float, upper: Figure | float, limit: Figure | float) -> None:
    given = {"lower": lower, "upper": upper, "limit": limit}
    for name, end in (("lower", lower), ("upper", upper)):
        if not 0.0 <= number(end) < math.inf:
            raise ValueError(f"`{name}` must be finite and not below 0; found {number(end):g}")
    if not 0.0 < number(limit) < math.inf:
        raise ValueError(f"`limit` must be finite and above 0; found {number(limit):g}")
    units = {name: value.unit for name, value in given.items() if isinstance(value, Figure)}
    if len(set(units.values())) > 1:
        found = ", ".join(f"`{name}` in {unit}" for name, unit in units.items())
        raise ValueError(f"an exposure and its limit must be in one unit; found {found}")


@functools.cache
def _action_level(unit: str) -> Formula[Any]:
    @formula(
        "action level",
        "A = f·L",
        unit=unit,
        source="NIOSH 77-173, chapter 4: half the limit unless the rule states another",
        needs={"limit": above_zero, "fraction_of_limit": fraction},
        symbols={"limit": "L", "fraction_of_limit": "f"},
    )
    def level(limit: Any, fraction_of_limit: float) -> Any:
        return fraction_of_limit * limit

    return level


def action_level(limit: Figure | float, *, fraction_of_limit: float = 0.5) -> Figure:
    """
    Action level as a fraction of a limit, half unless stated otherwise.

    Parameters
    ----------
    limit : Figure or float
        A plain number is taken in mg/m3.
    fraction_of_limit : float
        Above 0 and at most 1. [-]

    Raises
    ------
    ValueError
        The limit is not above 0 or the fraction is out of range.

    Notes
    -----
    Several standards state an action level that is not half: use `stated_action_level`.
    """
    if not 0.0 < fraction_of_limit <= 1.0:
        raise ValueError(f"`fraction_of_limit` must be above 0 and at most 1; found {fraction_of_limit:g}")
    unit = limit.unit if isinstance(limit, Figure) else "mg/m3"
    return _action_level(unit)(limit, fraction_of_limit)


def stated_action_level(value: float, *, limit: Figure | float, source: str) -> Figure:
    """
    Action level as a rule states it, in the unit of its limit.

    Parameters
    ----------
    value : float
        In the limit's unit (mg/m3 for a plain number), above 0 and not above the limit.
    limit : Figure or float
        The limit it belongs to.
    source : str
        Rule and paragraph; an action level without one is refused.

    Raises
    ------
    ValueError
        The value is out of range or the source is empty.
    """
    if not source.strip():
        raise ValueError("`source` must name the rule and paragraph that states this action level")
    if not 0.0 < value <= number(limit):
        raise ValueError(f"`value` must be above 0 and not above the limit of {number(limit):g}; found {value:g}")
    unit = limit.unit if isinstance(limit, Figure) else "mg/m3"
    return reading(value, unit, name="action level", source=source)
