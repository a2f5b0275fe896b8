"""Long shifts: published ways to shorten an 8-hour limit for a longer day or week, and when not to."""

from __future__ import annotations

import functools
from typing import Any, Literal, TypeAlias

from lapel.figures import Figure, Formula, above_zero, formula

ExtendedShiftModel: TypeAlias = Literal["brief-scala-day", "brief-scala-week", "proportional-day", "proportional-week"]
"""Published ways to shorten an 8-hour limit for a longer day or week."""

LimitBasis: TypeAlias = Literal["TWA", "STEL", "ceiling"]
"""What a limit is averaged over: a shift, a short period, or no time at all."""

_BRIEF_SCALA = "Brief and Scala (1975), Am. Ind. Hyg. Assoc. J. 36:467"
_MODELS: dict[str, tuple[str, str]] = {
    "brief-scala-day": ("L·(8/h)·(24 − h)/16", f"{_BRIEF_SCALA}, daily reduction"),
    "brief-scala-week": ("L·(40/h)·(168 − h)/128", f"{_BRIEF_SCALA}, weekly reduction"),
    "proportional-day": ("L·8/h", "same dose as in 8 hours: C·T held constant over the day"),
    "proportional-week": ("L·40/h", "same dose as in 40 hours: C·T held constant over the week"),
}


def reduction_factor(hours: float, *, model: ExtendedShiftModel) -> float:
    """
    Factor an 8-hour limit is multiplied by for a longer day or week.

    Parameters
    ----------
    hours : float
        Hours a day for the daily models (8 to below 24), hours a week for the weekly ones (40 to below 168). [h]
    model : ExtendedShiftModel
        Which published model.

    Returns
    -------
    float
        Between 0 and 1. [-]

    Raises
    ------
    ValueError
        The model is unknown, or the time is shorter than normal (no model raises a limit) or impossible.
    """
    if model not in _MODELS:
        raise ValueError(f"`model` must be one of {', '.join(_MODELS)}; found “{model}”")
    normal, whole, period = (8.0, 24.0, "day") if model.endswith("day") else (40.0, 168.0, "week")
    if not normal <= hours < whole:
        raise ValueError(
            f"hours a {period} must be at least {normal:g} and below {whole:g}; found {hours:g}: "
            "no model raises a limit for a shorter time"
        )
    dose = normal / hours
    return dose * (whole - hours) / (whole - normal) if model.startswith("brief-scala") else dose


@functools.cache
def _shortened(model: str, unit: str) -> Formula[Any]:
    expression, source = _MODELS[model]

    @formula(
        f"limit for a long {'day' if model.endswith('day') else 'week'}",
        expression,
        unit=unit,
        source=source,
        needs={"limit": above_zero},
        symbols={"limit": "L", "hours": "h"},
    )
    def shortened(limit: Any, hours: float) -> Any:
        return limit * reduction_factor(hours, model=model)  # type: ignore[arg-type]

    return shortened


def extended_shift_limit(
    limit: Figure | float,
    *,
    hours_per_day: float,
    hours_per_week: float | None = None,
    model: ExtendedShiftModel = "brief-scala-day",
    basis: LimitBasis = "TWA",
) -> Figure:
    """
    Shorten an 8-hour limit for a longer day or week.

    Parameters
    ----------
    limit : Figure or float
        8-hour limit; a plain number is taken in mg/m3.
    hours_per_day : float
        At least 8 for the daily models. [h]
    hours_per_week : float, optional
        Needed by the weekly models, at least 40. [h]
    model : ExtendedShiftModel
        Daily or weekly; say which in every report.
    basis : LimitBasis
        What the limit is averaged over; only a TWA can be shortened.

    Returns
    -------
    Figure
        In the unit of the limit.

    Raises
    ------
    ValueError
        The limit is a STEL or ceiling, the shift is a short one, or the weekly hours are missing.

    Notes
    -----
    A convention to choose deliberately, not a law: OSHA leaves its limits unchanged for long shifts (lead excepted, see
    `us_lead_limit`) and EN 689 converts the exposure to 8 hours instead. Not meant for irritants, whose limits guard
    against concentration and not dose, and never to raise a limit [1]_.

    References
    ----------
    .. [1] Brief RS, Scala RA (1975), Am. Ind. Hyg. Assoc. J. 36:467-469.
    """
    if basis != "TWA":
        raise ValueError(
            f"a {basis} limit is not shortened for a long shift; found basis “{basis}”, wanted “TWA”. "
            "Compare short-term samples with it as it stands."
        )
    weekly = model.endswith("week")
    if weekly and hours_per_week is None:
        raise ValueError(f"`hours_per_week` is needed by the model “{model}”")
    if not 0.0 < hours_per_day < 24.0:
        raise ValueError(f"`hours_per_day` must be above 0 and below 24; found {hours_per_day:g}")
    hours = hours_per_week if weekly and hours_per_week is not None else hours_per_day
    reduction_factor(hours, model=model)
    unit = limit.unit if isinstance(limit, Figure) else "mg/m3"
    return _shortened(model, unit)(limit, hours)


@formula(
    "US lead limit for a long day",
    "L = 400/h µg/m³",
    unit="mg/m3",
    source="29 CFR 1910.1025(c)(2)",
    symbols={"hours_per_day": "h"},
)
def _lead_limit(hours_per_day: float) -> Any:
    return 0.400 / hours_per_day


def us_lead_limit(hours_per_day: float) -> Figure:
    """
    Limit for airborne lead in US general industry: 50 µg/m3 over 8 hours, 400/h µg/m3 on longer days.

    Parameters
    ----------
    hours_per_day : float
        Hours worked in the day, above 0 and at most 24; up to 8 hours the 8-hour limit stands unchanged. [h]

    Returns
    -------
    Figure
        In mg/m3, to be compared with the average over the hours worked, not with an 8-hour equivalent.

    Raises
    ------
    ValueError
        The hours are out of range.

    Notes
    -----
    29 CFR 1910.1025(c)(2). Confirm with the authority; rules for lead differ by state and are being revised.
    """
    if not 0.0 < hours_per_day <= 24.0:
        raise ValueError(f"`hours_per_day` must be above 0 and at most 24; found {hours_per_day:g}")
    return _lead_limit(max(8.0, float(hours_per_day)))
