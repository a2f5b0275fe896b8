"""From readings before and after a run to the flow of the sample, with its repeatability and its drift."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

from lapel.figures import (
    Derivation,
    Figure,
    Formula,
    LitresPerMinute,
    Ratio,
    Sense,
    Source,
    above_zero,
    formula,
    number,
    reading,
)
from lapel.said import Said, said

ChangeBasis: TypeAlias = Literal["pre", "post", "mean"]
"""What a change of flow is a fraction of: 100 to 86 is -14.0 % of pre, -16.3 % of post, -15.1 % of the mean."""

FlowRule: TypeAlias = Literal["mean", "lower", "higher", "pre", "post"]
"""Which flow stands for the run."""

SINGLE_READING_RELATIVE_U = 0.01
"""Repeatability taken for one reading, as a fraction of it: the upper end of the usual 0.3 to 1 %. Judgement."""


@dataclass(frozen=True, slots=True)
class ReplicateFlow:
    """
    The flow of one round of readings.

    Attributes
    ----------
    flow : Figure
        Mean, with repeatability and certificate as uncertainty. [L/min]
    spread : float
        (largest - smallest) / mean of the readings; 0 for one reading. [-]
    n : int
        How many readings.
    """

    flow: Figure
    spread: float
    n: int


@formula(
    "mean of replicate readings",
    "Q = F·ΣQᵢ/n + r",
    unit="L/min",
    source="JCGM 100:2008, 4.2 (mean and s/√n); NMAM, chapter D, p. 12 (repeat the reading, take the mean)",
    needs={"readings": above_zero, "certificate": above_zero},
    symbols={"readings": "Q", "certificate": "F", "repeatability_lpm": "r"},
)
def _replicate_mean(readings: Any, *, certificate: Ratio, repeatability_lpm: LitresPerMinute) -> Any:
    return certificate * (sum(readings) / len(readings)) + repeatability_lpm


def replicate_flow(
    readings: Sequence[Any],
    *,
    certificate: Any = 1.0,
    cause: str = "repeatability of the flow readings",
    resolution_lpm: float = 0.0,
) -> ReplicateFlow:
    """
    Flow from one or several readings of the same thing.

    Parameters
    ----------
    readings : sequence of float or Figure
        At least one, each above 0 and already in ambient air. [L/min]
    certificate : Figure, optional
        `certificate_factor` of the meter: one figure for all its readings. [-]
    cause : str
        What the repeatability is called in the budget. Two rounds have two.
    resolution_lpm : float
        Last digit of the display, where it is known; a round is not surer than its display. [L/min]

    Returns
    -------
    ReplicateFlow
        Repeatability is s/√n, and not less than resolution/√12. For one reading, or readings that all agree to the
        last digit of a display whose resolution is not given, 1 % of a reading over √n stands in.

    Raises
    ------
    ValueError
        There is no reading, one is not above 0, or the resolution is below 0.
    """
    if len(readings) == 0:
        raise ValueError("`readings` must have 1 reading or more; found none")
    if not 0.0 <= resolution_lpm < math.inf:
        raise ValueError(f"`resolution_lpm` must be finite and not below 0; found {resolution_lpm:g}")
    values = [number(item) for item in readings]
    n = len(values)
    mean = sum(values) / n
    s = math.sqrt(sum((value - mean) ** 2 for value in values) / (n - 1)) if n > 1 else 0.0
    differ = n > 1 and max(values) > min(values)
    told = differ or (n > 1 and resolution_lpm > 0.0)
    u = max(s / math.sqrt(n), resolution_lpm / math.sqrt(12.0))
    if not told:
        u = max(u, SINGLE_READING_RELATIVE_U * abs(mean) / math.sqrt(n))
    repeatability = reading(
        0.0,
        "L/min",
        name="repeatability",
        uncertainty=u if math.isfinite(u) else 0.0,
        cause=cause,
        source=_spread_of(n, told=told),
    )
    flow = _replicate_mean(list(readings), certificate=certificate, repeatability_lpm=repeatability)
    return ReplicateFlow(flow, (max(values) - min(values)) / mean, n)


@functools.lru_cache(maxsize=64)
def _spread_of(n: int, *, told: bool) -> Said:
    """Say what the repeatability of so many readings was taken from."""
    if told:
        return said("{n} readings, s/√n", n=n)
    return said("{n} reading(s) that tell no spread; 1 % of reading over √n taken", n=n)


class SampleFlow(Figure):
    """
    Flow of a sample: a `Figure` that also knows how far the flow moved during the run.

    Attributes
    ----------
    change : float
        Change from before to after as a fraction; negative when the flow fell. [-]
    basis : {"pre", "post", "mean"}
        What `change` is a fraction of.
    """

    __slots__ = ("basis", "change")

    def __init__(
        self,
        amount: Any,
        unit: str,
        *,
        name: str,
        sense: Sense = "exactly",
        source: Source = "",
        derivation: Derivation | None = None,
        change: float = 0.0,
        basis: ChangeBasis = "pre",
    ) -> None:
        super().__init__(amount, unit, name=name, sense=sense, source=source, derivation=derivation)
        self.change = change
        self.basis = basis


def flow_change(pre_lpm: Any, post_lpm: Any, *, basis: ChangeBasis = "pre") -> float:
    """
    Change of flow during the run, as a fraction of the stated basis.

    Parameters
    ----------
    pre_lpm, post_lpm : float or Figure
        Flow before and after, above 0. [L/min]
    basis : {"pre", "post", "mean"}
        What it is a fraction of.

    Returns
    -------
    float
        (post - pre) / basis, negative when the flow fell. [-]

    Raises
    ------
    ValueError
        A flow is not finite and above 0, or the basis is none of the three.
    """
    pre, post = number(pre_lpm), number(post_lpm)
    for name, value in (("pre_lpm", pre), ("post_lpm", post)):
        if not above_zero.holds(value):
            raise ValueError(f"`{name}` of “sample flow” must be {above_zero.words}; found {value:g}")
    if basis == "pre":
        return (post - pre) / pre
    if basis == "post":
        return (post - pre) / post
    if basis == "mean":
        return 2.0 * (post - pre) / (post + pre)
    raise ValueError(f"`basis` must be “pre”, “post” or “mean”; found “{basis}”")


class _SampleFlowFormula(Formula[Any]):
    """The mean of pre and post, called without the drift figure: it makes that itself and hands back a `SampleFlow`."""

    def __call__(self, pre_lpm: Any, post_lpm: Any, *, basis: ChangeBasis = "pre") -> SampleFlow:
        change = flow_change(pre_lpm, post_lpm, basis=basis)
        distance = abs(number(post_lpm) - number(pre_lpm))
        drift = _drift(
            distance / (2.0 * math.sqrt(3.0)), source="rectangular between both readings: |post − pre|/(2√3)"
        )
        mean = _mean_with_drift(pre_lpm, post_lpm, drift_lpm=drift)
        return SampleFlow(
            mean.amount,
            mean.unit,
            name=self.card.name,
            sense=mean.sense,
            derivation=mean.derivation,
            change=change,
            basis=basis,
        )


def _drift(u_lpm: float, *, source: str) -> Figure:
    return reading(0.0, "L/min", name="flow drift", uncertainty=u_lpm, cause="flow drift", source=source)


@formula(
    "sample flow",
    "Q = (Q_pre + Q_post)/2 + d",
    unit="L/min",
    source="mean of the flow before and after; a change at an unknown time is rectangular (JCGM 100:2008, 4.3.7)",
    needs={"pre_lpm": above_zero, "post_lpm": above_zero},
    symbols={"pre_lpm": "Q_pre", "post_lpm": "Q_post", "drift_lpm": "d"},
)
def _mean_with_drift(pre_lpm: LitresPerMinute, post_lpm: LitresPerMinute, *, drift_lpm: LitresPerMinute) -> Any:
    return (pre_lpm + post_lpm) / 2.0 + drift_lpm


def _sample_flow(pre_lpm: LitresPerMinute, post_lpm: LitresPerMinute, *, basis: str = "pre") -> Any:
    """
    Flow of a sample from the flows before and after its run.

    Parameters
    ----------
    pre_lpm, post_lpm : float or Figure
        Flow before and after, above 0, each usually `replicate_flow(...).flow`. [L/min]
    basis : {"pre", "post", "mean"}
        What `.change` is a fraction of; it does not touch the flow.

    Returns
    -------
    SampleFlow
        Mean of both, with the readings' own uncertainty and |post - pre|/(2·√3) for the drift: the flow moved at a
        time nobody saw, so the true mean lies anywhere between the two. [L/min]

    Raises
    ------
    ValueError
        A flow is not finite and above 0, or the basis is none of the three. A pump found dead has no post flow, and a
        sample without one has no verified volume.

    Notes
    -----
    The mean is right only if flow and concentration moved independently. A flow that falls by 14 % while all the
    exposure sits in the last quarter of the shift reads 5.6 % low.
    """
    return (pre_lpm + post_lpm) / 2.0


sample_flow = _SampleFlowFormula(
    _sample_flow,
    replace(_mean_with_drift.card, symbols={"pre_lpm": "Q_pre", "post_lpm": "Q_post"}),
    {"pre_lpm": above_zero, "post_lpm": above_zero},
    frozenset(),
)
sample_flow.__name__ = sample_flow.__qualname__ = "sample_flow"  # type: ignore[attr-defined]


@formula(
    "flow by the stated rule",
    "Q = Q_used + d",
    unit="L/min",
    source="stated convention: lower flow, higher concentration (protective); higher flow, lower concentration",
    needs={"used_lpm": above_zero, "other_lpm": above_zero},
    symbols={"used_lpm": "Q_used", "other_lpm": "Q_other", "drift_lpm": "d"},
)
def _flow_used(used_lpm: LitresPerMinute, *, other_lpm: LitresPerMinute, drift_lpm: LitresPerMinute) -> Any:
    return used_lpm + drift_lpm


_RULE_WORDS = {
    "lower": "sample flow, the lower of the two",
    "higher": "sample flow, the higher of the two",
    "pre": "sample flow, as before the run",
    "post": "sample flow, as after the run",
}


def flow_by_rule(pre_lpm: Any, post_lpm: Any, *, rule: FlowRule = "mean") -> Figure:
    """
    The flow that stands for the run under a stated rule.

    Parameters
    ----------
    pre_lpm, post_lpm : float or Figure
        Flow before and after, above 0. [L/min]
    rule : {"mean", "lower", "higher", "pre", "post"}
        The lower flow protects the worker (higher concentration), the higher one is for alleging an excess.

    Returns
    -------
    Figure
        For "mean", `sample_flow`. For the others the drift uncertainty is |post - pre|/√3: how far, as a root mean
        square, a flow anywhere between both readings is from the one that is used. [L/min]

    Raises
    ------
    ValueError
        A flow is not finite and above 0, or the rule is none of the five.
    """
    if rule == "mean":
        return sample_flow(pre_lpm, post_lpm)
    if rule not in _RULE_WORDS:
        raise ValueError(f"`rule` must be “mean”, “lower”, “higher”, “pre” or “post”; found “{rule}”")
    change = number(post_lpm) - number(pre_lpm)
    use_post = rule == "post" or (rule == "lower" and change < 0.0) or (rule == "higher" and change > 0.0)
    used, other = (post_lpm, pre_lpm) if use_post else (pre_lpm, post_lpm)
    drift = _drift(
        abs(change) / math.sqrt(3.0), source="rectangular between both readings, seen from one: |post − pre|/√3"
    )
    return _flow_used(used, other_lpm=other, drift_lpm=drift).named(_RULE_WORDS[rule])
