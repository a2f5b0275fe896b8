"""Long shifts: published ways to shorten an 8-hour limit for a longer day or week, and when not to."""

from __future__ import annotations

import functools
from typing import Any, Literal, TypeAlias

from lapel.figures import Figure, Formula, above_zero, formula
from lapel.said import said

ExtendedShiftModel: TypeAlias = Literal["brief-scala-day", "brief-scala-week", "proportional-day", "proportional-week"]
"""Published ways to shorten an 8-hour limit for a longer day or week."""

LimitBasis: TypeAlias = Literal["TWA", "STEL", "ceiling"]
"""What a limit is averaged over: a shift, a short period, or no time at all."""

_BRIEF_SCALA = "Brief and Scala (1975), Am. Ind. Hyg. Assoc. J. 36:467"
_SOURCES: dict[str, str] = {
    "brief-scala-day": f"{_BRIEF_SCALA}, daily reduction",
    "brief-scala-week": f"{_BRIEF_SCALA}, weekly reduction",
    "proportional-day": "same dose as in the hours the limit is stated for: C·T held constant over the day",
    "proportional-week": "same dose as in 40 hours: C·T held constant over the week",
}

MODEL_WORDS: dict[str, str] = {
    "brief-scala-day": said("Brief and Scala, by the day"),
    "brief-scala-week": said("Brief and Scala, by the week"),
    "proportional-day": said("equal dose a day"),
    "proportional-week": said("equal dose a week"),
}
"""The models in a few words, for the reader of a result."""

USUAL_DAY_H, USUAL_WEEK_H = 8.0, 40.0
"""Day and week an ordinary long-term limit supposes. [h]"""


def reduction_factor(hours: float, *, model: ExtendedShiftModel, stated_for_h: float | None = None) -> float:
    """
    Factor a limit is multiplied by for a longer day or week than it is stated for.

    Parameters
    ----------
    hours : float
        Hours a day for the daily models (8 to below 24), hours a week for the weekly ones (40 to below 168). [h]
    model : ExtendedShiftModel
        Which published model.
    stated_for_h : float, optional
        Hours a day (or week, for the weekly models) the limit is stated for, where they are not 8 (or 40). [h]

    Returns
    -------
    float
        Between 0 and 1. [-]

    Raises
    ------
    ValueError
        The model is unknown, or the time is shorter than normal (no model raises a limit) or impossible.
    """
    if model not in _SOURCES:
        raise ValueError(f"`model` must be one of {', '.join(_SOURCES)}; found “{model}”")
    normal, whole, period = _span(model, stated_for_h)
    if not 0.0 < normal < whole:
        raise ValueError(
            said(
                "`stated_for_h` must be above 0 and below {whole}; found {found}",
                whole=f"{whole:g}",
                found=f"{normal:g}",
            )
        )
    if not normal <= hours < whole:
        raise ValueError(
            said(
                _OUT_OF_SPAN[period],
                least=f"{normal:g}",
                whole=f"{whole:g}",
                found=f"{hours:g}",
            )
        )
    dose = normal / hours
    return dose * (whole - hours) / (whole - normal) if model.startswith("brief-scala") else dose


_OUT_OF_SPAN = {
    "day": (
        "hours a day must be at least {least} and below {whole}; found {found}: no model raises a limit for a shorter "
        "time"
    ),
    "week": (
        "hours a week must be at least {least} and below {whole}; found {found}: no model raises a limit for a shorter "
        "time"
    ),
}


def _span(model: str, stated_for_h: float | None) -> tuple[float, float, str]:
    """Hours the limit is stated for, hours there are, and of what."""
    normal, whole, period = (USUAL_DAY_H, 24.0, "day") if model.endswith("day") else (USUAL_WEEK_H, 168.0, "week")
    return (normal if stated_for_h is None else stated_for_h), whole, period


def _expression(model: str, stated_for_h: float | None) -> str:
    normal, whole, _ = _span(model, stated_for_h)
    if model.startswith("brief-scala"):
        return f"L·({normal:g}/h)·({whole:g} − h)/{whole - normal:g}"
    return f"L·{normal:g}/h"


@functools.cache
def _shortened(model: str, unit: str, stated_for_h: float | None = None) -> Formula[Any]:
    @formula(
        f"limit for a long {'day' if model.endswith('day') else 'week'}",
        _expression(model, stated_for_h),
        unit=unit,
        source=_SOURCES[model],
        needs={"limit": above_zero},
        symbols={"limit": "L", "hours": "h"},
    )
    def shortened(limit: Any, hours: float) -> Any:
        return limit * reduction_factor(hours, model=model, stated_for_h=stated_for_h)  # type: ignore[arg-type]

    return shortened


def extended_shift_limit(
    limit: Figure | float,
    *,
    hours_per_day: float,
    hours_per_week: float | None = None,
    model: ExtendedShiftModel = "brief-scala-day",
    basis: LimitBasis = "TWA",
    stated_for_h: float | None = None,
) -> Figure:
    """
    Shorten a limit for a longer day or week than it is stated for.

    Parameters
    ----------
    limit : Figure or float
        Long-term limit; a plain number is taken in mg/m3.
    hours_per_day : float
        At least 8 for the daily models. [h]
    hours_per_week : float, optional
        Needed by the weekly models, at least 40. [h]
    model : ExtendedShiftModel
        Daily or weekly; say which in every report.
    basis : LimitBasis
        What the limit is averaged over; only a TWA can be shortened.
    stated_for_h : float, optional
        Hours a day (or week, for the weekly models) the limit is stated for, where they are not 8 (or 40). A limit
        stated for 10 hours a day is not shortened for 10, and for 12 only by what lies beyond 10. [h]

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
    against concentration and not dose, and never to raise a limit [1]_. The models are published for limits of 8 hours
    a day and 40 a week; the same reasoning from other hours, by `stated_for_h`, is ours.

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
        raise ValueError(said("`hours_per_week` is needed by the model “{model}”", model=model))
    if not 0.0 < hours_per_day < 24.0:
        raise ValueError(
            said("`hours_per_day` must be above 0 and below 24; found {found}", found=f"{hours_per_day:g}")
        )
    hours = hours_per_week if weekly and hours_per_week is not None else hours_per_day
    reduction_factor(hours, model=model, stated_for_h=stated_for_h)
    unit = limit.unit if isinstance(limit, Figure) else "mg/m3"
    return _shortened(model, unit, stated_for_h)(limit, hours)


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
