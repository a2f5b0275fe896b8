"""Decisions about one shift from a method's stated error: single, consecutive and partial-period samples, mixtures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from lapel.figures import Derivation, Figure, Sense, formula, joined, number
from lapel.hygiene.limits import Verdict, one_sided_factor, share_of_limit, verdict_from
from lapel.hygiene.mixtures import additive_index, check_pair
from lapel.said import said

CONFIDENCE = 0.95
"""One-sided confidence of the compliance decisions below (NIOSH 77-173, 4.2; OSHA Technical Manual II:1)."""

PUMP_CV = 0.05
"""Coefficient of variation NIOSH assigns to a personal pump's flow (NIOSH 77-173, appendix D)."""


class Share(float):
    """
    A share of the limit: a plain number to compare and print, that still knows the figure it was calculated as.

    Attributes
    ----------
    figure : Figure
        With the derivation; for an infinite limit, the figure that bounds nothing on that side.
    """

    __slots__ = ("figure",)
    figure: Figure

    def __new__(cls, value: float, figure: Figure) -> Share:
        """Hold a number and its figure together."""
        share = super().__new__(cls, value)
        share.figure = figure
        return share

    @property
    def value(self) -> float:
        """The number itself."""
        return float(self)

    @property
    def unit(self) -> str:
        """A ratio."""
        return "1"

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the figure, apart from the stated error of the method."""
        return self.figure.uncertainty

    @property
    def derivation(self) -> Derivation | None:
        """How the figure was made."""
        return self.figure.derivation


@dataclass(frozen=True, slots=True)
class Decision:
    """
    A decision about the period that was sampled.

    Attributes
    ----------
    severity : Share
        Exposure as a share of its limit; for a mixture the additive index. [-]
    lcl, ucl : Share
        One-sided 95 % confidence limits of the severity; `lcl` is 0 where the exposure is only an upper bound, `ucl`
        infinite where it is only a lower one. [-]
    half_width : float
        Distance from the severity to either confidence limit. [-]
    verdict : Verdict
        "under" when `ucl` is not above 1, "over" when `lcl` is above 1.
    reason : str
        Why, in plain words.
    """

    severity: Share
    lcl: Share
    ucl: Share
    half_width: float
    verdict: Verdict
    reason: str


def sampling_and_analytical_error(analysis_cv: float, *, pump_cv: float = PUMP_CV) -> float:
    """
    One-sided 95 % sampling and analytical error from two coefficients of variation.

    Parameters
    ----------
    analysis_cv : float
        Of the analysis, 0 or more. [-]
    pump_cv : float
        Of the pump flow. [-]

    Returns
    -------
    float
        SAE = 1.645·√(CV_pump² + CV_analysis²). [-]

    Raises
    ------
    ValueError
        A coefficient is negative or not finite.
    """
    for name, cv in (("analysis_cv", analysis_cv), ("pump_cv", pump_cv)):
        if not 0.0 <= cv < math.inf:
            raise ValueError(f"`{name}` must be finite and not below 0; found {cv:g}")
    return one_sided_factor(CONFIDENCE) * math.hypot(analysis_cv, pump_cv)


def single_sample_decision(
    exposure: Figure | float, limit: Figure | float, *, cv_total: float | None = None, sae: float | None = None
) -> Decision:
    """
    Decide from one sample over the whole period.

    Parameters
    ----------
    exposure : Figure or float
        Average over the period the limit refers to. [mg/m3 or ppm]
    limit : Figure or float
        In the same unit.
    cv_total : float, optional
        Total coefficient of variation of sampling and analysis. [-]
    sae : float, optional
        Sampling and analytical error, one-sided 95 %, instead of `cv_total`. With neither, the exposure figure's own
        uncertainty is used. [-]

    Returns
    -------
    Decision

    Raises
    ------
    ValueError
        Both errors or none are given, one is negative, or exposure and limit cannot be compared.

    Notes
    -----
    Y = X/L, UCL = Y + SAE, LCL = Y - SAE, with SAE = 1.645·CV_T [1]_. The error is taken at the level of the limit, as
    both manuals do; a figure's own uncertainty is taken at the exposure.

    References
    ----------
    .. [1] NIOSH 77-173 (1977), 4.2.1; OSHA Technical Manual, section II chapter 1, appendix N.
    """
    check_pair(1, exposure, limit)
    severity = share_of_limit(exposure, limit)
    half = _stated_error(cv_total, sae)
    if half is None:
        half = _own_error(severity)
    return _decide(severity, half)


@formula(
    "standardized average",
    "Y = Σ Tᵢ·Xᵢ / (L·T)",
    unit="1",
    source="NIOSH 77-173, 4.2.2; OSHA Technical Manual II:1, appendix O",
    falls_with=("limit",),
    symbols={"exposures": "X", "minutes": "T", "limit": "L", "period_min": "T"},
)
def _standardized_average(exposures: Sequence[Any], minutes: Sequence[Any], limit: Any, period_min: Any) -> Any:
    total: Any = 0.0
    for exposure, run in zip(exposures, minutes, strict=True):
        total = total + exposure * run
    return total / (limit * period_min)


def consecutive_samples_decision(
    exposures: Sequence[Figure | float],
    minutes: Sequence[float],
    limit: Figure | float,
    *,
    cv_total: float | None = None,
    sae: float | None = None,
) -> Decision:
    """
    Decide from consecutive samples that together cover the period.

    Parameters
    ----------
    exposures : sequence of Figure or float, length k
        Concentrations in the order they were taken. [mg/m3 or ppm]
    minutes : sequence of float, length k
        Run of each. [min]
    limit : Figure or float
        In the same unit.
    cv_total, sae : float, optional
        As in `single_sample_decision`, of one sample.

    Returns
    -------
    Decision

    Raises
    ------
    ValueError
        Lengths differ or are 0, or as in `single_sample_decision`.

    Notes
    -----
    Half-width SAE·√(Σ (Tᵢ·Xᵢ)²) / (L·Σ Tᵢ) [1]_: independent errors partly cancel, by √k for k equal samples. Errors
    that samples share (one meter, one calibration) do not cancel; where they matter, carry them in figures and use
    `lapel.hygiene.compare`.

    References
    ----------
    .. [1] OSHA Technical Manual, section II chapter 1, appendix O; NIOSH 77-173 (1977), 4.2.2.
    """
    runs = _checked_runs(exposures, minutes, limit)
    severity = _standardized_average(list(exposures), runs, limit, sum(runs))
    return _decide(severity, _consecutive_half_width(severity, exposures, runs, limit, sum(runs), cv_total, sae))


def partial_period_decision(
    exposures: Sequence[Figure | float],
    minutes: Sequence[float],
    limit: Figure | float,
    *,
    period_min: float = 480.0,
    cv_total: float | None = None,
    sae: float | None = None,
) -> Decision:
    """
    Decide from samples that leave part of the period uncovered.

    Parameters
    ----------
    exposures, minutes, limit, cv_total, sae
        As in `consecutive_samples_decision`.
    period_min : float
        Whole period the limit refers to; longer than the samples together. [min]

    Returns
    -------
    Decision
        "over" or "cannot tell", never "under": nothing was measured in the rest of the period.

    Raises
    ------
    ValueError
        The samples cover more than the period, or as in `consecutive_samples_decision`.

    Notes
    -----
    The uncovered time counts as no exposure. Equal to holding the lower confidence limit of the sampled average against
    the partial period limit factor, period / time sampled [1]_.

    References
    ----------
    .. [1] NIOSH 77-173 (1977), 4.2.3.
    """
    runs = _checked_runs(exposures, minutes, limit)
    if not sum(runs) <= period_min < math.inf:
        raise ValueError(
            f"`period_min` must be finite and not below the {sum(runs):g} min sampled; found {period_min:g}"
        )
    severity = _standardized_average(list(exposures), runs, limit, float(period_min))
    half = _consecutive_half_width(severity, exposures, runs, limit, period_min, cv_total, sae)
    if sum(runs) < period_min:
        severity = severity.bounding(joined(severity.sense, "at least"))
    gap = period_min - sum(runs)
    caution = said("The {minutes} min without a sample count as no exposure.", minutes=f"{gap:g}") if gap else ""
    return _decide(severity, half, caution)


def additive_decision(components: Iterable[tuple[Figure | float, Figure | float, float]]) -> Decision:
    """
    Decide about a mixture of agents with like effects.

    Parameters
    ----------
    components : iterable of (exposure, limit, sae)
        Exposure and limit in one unit; the method's one-sided 95 % error of each. [mg/m3 or ppm, same, -]

    Returns
    -------
    Decision
        Its severity is the additive index Em.

    Raises
    ------
    ValueError
        No components, a negative error, or pairs that cannot be compared.

    Notes
    -----
    Rᵢ = Yᵢ/Em, RSₜ = √(Σ (Rᵢ·SAEᵢ)²); over when Em is above the control limit 1 + RSₜ, under when it is not above
    1 - RSₜ [1]_. Errors of the components are taken as independent.

    References
    ----------
    .. [1] OSHA Technical Manual, section II chapter 1, appendix H.
    """
    listed = [(exposure, limit, sae) for exposure, limit, sae in components]
    index = additive_index([(exposure, limit) for exposure, limit, _ in listed])
    for position, (_, _, sae) in enumerate(listed, start=1):
        if not 0.0 <= sae < math.inf:
            raise ValueError(f"sae {position} must be finite and not below 0; found {sae:g}")
    if index.value == 0.0:
        return _decide(index, 0.0)
    shares = [number(exposure) / number(limit) / index.value for exposure, limit, _ in listed]
    spread = math.sqrt(sum((share * sae) ** 2 for share, (_, _, sae) in zip(shares, listed, strict=True)))
    return _decide(index, spread)


_LIMITS_SOURCE = "NIOSH 77-173, 4.2; OSHA Technical Manual II:1, appendices H, N and O"


@formula(
    "lower confidence limit",
    "LCL = Y − w",
    unit="1",
    source=_LIMITS_SOURCE,
    symbols={"severity": "Y", "half_width": "w"},
)
def _lower_confidence_limit(severity: Any, half_width: float) -> Any:
    return severity - half_width


@formula(
    "upper confidence limit",
    "UCL = Y + w",
    unit="1",
    source=_LIMITS_SOURCE,
    symbols={"severity": "Y", "half_width": "w"},
)
def _upper_confidence_limit(severity: Any, half_width: float) -> Any:
    return severity + half_width


def _decide(severity: Figure, half: float, caution: str = "") -> Decision:
    """Confidence limits and verdict, with nothing claimed on a side the severity does not bound."""
    below, above = bounds_claimed(severity.sense)
    low, high = _lower_confidence_limit(severity, half), _upper_confidence_limit(severity, half)
    lcl = Share(low.value if below else 0.0, low)
    ucl = Share(high.value if above else math.inf, high)
    y = severity.value
    outcome = verdict_from(
        lcl, ucl, ratio_low=y if below else 0.0, ratio_high=y if above else math.inf, caution=caution
    )
    return Decision(Share(y, severity), lcl, ucl, half, outcome.verdict, outcome.reason)


def bounds_claimed(sense: Sense) -> tuple[bool, bool]:
    """Whether a value bounds the truth from below, and whether from above."""
    return sense in ("exactly", "at least"), sense in ("exactly", "at most")


def _stated_error(cv_total: float | None, sae: float | None) -> float | None:
    if cv_total is not None and sae is not None:
        raise ValueError("give `cv_total` or `sae`, not both: SAE = 1.645·CV")
    for name, error in (("cv_total", cv_total), ("sae", sae)):
        if error is not None and not 0.0 <= error < math.inf:
            raise ValueError(f"`{name}` must be finite and not below 0; found {error:g}")
    if cv_total is not None:
        return one_sided_factor(CONFIDENCE) * cv_total
    return sae


def _own_error(severity: Figure) -> float:
    if severity.uncertainty == 0.0:
        raise ValueError("give `cv_total` or `sae`, or an exposure figure that carries its own uncertainty")
    return one_sided_factor(CONFIDENCE) * severity.uncertainty


def _consecutive_half_width(
    severity: Figure,
    exposures: Sequence[Figure | float],
    runs: Sequence[float],
    limit: Figure | float,
    period_min: float,
    cv_total: float | None,
    sae: float | None,
) -> float:
    error = _stated_error(cv_total, sae)
    if error is None:
        return _own_error(severity)
    doses = [number(exposure) * run for exposure, run in zip(exposures, runs, strict=True)]
    return error * math.hypot(*doses) / (number(limit) * period_min)


def _checked_runs(exposures: Sequence[Figure | float], minutes: Sequence[float], limit: Figure | float) -> list[float]:
    if len(exposures) != len(minutes) or not exposures:
        raise ValueError(
            f"`exposures` and `minutes` must be equally long and not empty; found {len(exposures)} and {len(minutes)}"
        )
    for position, exposure in enumerate(exposures, start=1):
        check_pair(position, exposure, limit)
    runs = [float(number(run)) for run in minutes]
    for position, run in enumerate(runs, start=1):
        if not 0.0 < run < math.inf:
            raise ValueError(f"minutes {position} must be finite and above 0; found {run:g}")
    return runs
