"""From flow and time to the volume of the sample, and how well its minutes are known."""

from __future__ import annotations

import math
from typing import Any

from lapel.figures import Figure, Litres, LitresPerMinute, Minutes, above_zero, formula, reading, zero_or_more

COUNTER_RATE_U = 1.0 / 480.0 / 3**0.5
"""Standard uncertainty of a pump's counter, as a fraction: ±1 min in 8 h, rectangular. Working default, judgement."""


@formula(
    "sample volume",
    "V = Q·t",
    unit="L",
    source="NMAM, chapter D, p. 12 (V = Q·t)",
    needs={"flow_lpm": above_zero, "minutes": zero_or_more},
    symbols={"flow_lpm": "Q", "minutes": "t"},
)
def sample_volume(flow_lpm: LitresPerMinute, minutes: Minutes) -> Any:
    """
    Volume of air a sampler drew.

    Parameters
    ----------
    flow_lpm : float or Figure
        Of ambient air, above 0, usually `sample_flow`. [L/min]
    minutes : float or Figure
        Time the sampler drew air, not the time that was planned; 0 or more. [min]

    Returns
    -------
    Figure
        At the condition the flow is stated at. [L]

    Raises
    ------
    ValueError
        The flow is not above 0 or the time is negative.
    """
    return flow_lpm * minutes


@formula(
    "volume of all segments",
    "V = ΣVᵢ",
    unit="L",
    source="a sample is one sampler over one or more segments, each with its own flow",
    needs={"volumes": zero_or_more},
    symbols={"volumes": "V"},
)
def total_volume(volumes: Any) -> Any:
    """
    Volume of a sample over its segments.

    Parameters
    ----------
    volumes : list or tuple of float or Figure
        One a segment, each 0 or more, all at one condition. [L]

    Returns
    -------
    Figure
        What segments share (a meter, a closing round) stays shared. 0 for no segment. [L]

    Raises
    ------
    ValueError
        A volume is negative or not finite.
    """
    return sum(volumes)


@formula(
    "volume at another condition",
    "V_ref = V·(P_m / P_ref)·(T_ref / T_m)",
    unit="L",
    source="ideal gas law",
    needs={"volume_l": zero_or_more},
    symbols={"volume_l": "V", "measured": "m", "reference": "ref"},
)
def volume_at(volume_l: Litres, *, measured: Any, reference: Any) -> Any:
    """
    Room the same air takes at another temperature and pressure.

    Parameters
    ----------
    volume_l : float or Figure
        0 or more. [L at `measured`]
    measured, reference : Air
        Air the volume was measured in, and the condition to state it at. [K, kPa]

    Returns
    -------
    Figure
        [L at `reference`]

    Raises
    ------
    ValueError
        The volume is negative.
    """
    return volume_l * (
        (measured.pressure_kpa / reference.pressure_kpa) * (reference.temperature_k / measured.temperature_k)
    )


def clock_minutes(minutes: float, *, resolution_min: float = 1.0, cause: str = "reading of the clock") -> Figure:
    """
    Minutes between two readings of a clock, with how finely it was read.

    Parameters
    ----------
    minutes : float
        Stop less start, 0 or more. [min]
    resolution_min : float
        Smallest step both ends were written down in: 1 for a clock read to the minute, 1/60 to the second. [min]
    cause : str
        What the doubt is called in the budget.

    Returns
    -------
    Figure
        Both ends are rectangular over one step, so the standard uncertainty is resolution/√6: 0.41 min for whole
        minutes, which is 2.7 % of 15 min and 0.09 % of 480. [min]

    Raises
    ------
    ValueError
        The minutes or the resolution are negative or not finite.
    """
    _not_negative(minutes=minutes, resolution_min=resolution_min)
    return reading(
        minutes,
        "min",
        name="minutes by the clock",
        uncertainty=resolution_min / math.sqrt(6.0),
        cause=cause,
        source=("start and stop, each read to {step} min", f"{resolution_min:.3g}"),
    )


def counter_minutes(
    minutes: float,
    *,
    resolution_min: float = 1.0,
    rate_u: float = COUNTER_RATE_U,
    cause: str = "pump counter",
) -> Figure:
    """
    Minutes by the pump's own counter.

    Parameters
    ----------
    minutes : float
        As shown, 0 or more. [min]
    resolution_min : float
        Last digit of the display. [min]
    rate_u : float
        Standard uncertainty of the counter's rate, as a fraction. [-]
    cause : str
        What the doubt is called in the budget.

    Returns
    -------
    Figure
        Uncertainty is resolution/√12 and the rate's, added as squares. [min]

    Raises
    ------
    ValueError
        An argument is negative or not finite.
    """
    _not_negative(minutes=minutes, resolution_min=resolution_min, rate_u=rate_u)
    return reading(
        minutes,
        "min",
        name="minutes by the pump's counter",
        uncertainty=math.hypot(resolution_min / math.sqrt(12.0), rate_u * minutes),
        cause=cause,
        source=("pump counter, read to {step} min", f"{resolution_min:.3g}"),
    )


def _not_negative(**arguments: float) -> None:
    for name, value in arguments.items():
        if not zero_or_more.holds(value):
            raise ValueError(f"`{name}` must be {zero_or_more.words}; found {value:g}")
