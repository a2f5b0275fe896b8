"""What a meter's certificate does to its readings: factor, offset, curve, each with its doubt."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import Any

from lapel.figures import Condition, Figure, LitresPerMinute, Ratio, above_zero, formula, number, reading
from lapel.said import said

_certificate_share = Condition(lambda u: 0.0 <= u <= 0.5, "between 0 and 0.5 (a fraction, not percent)")


def certificate_factor(meter: str, relative_u: float) -> Figure:
    """
    The certificate's doubt about a meter, as a factor of 1 with its uncertainty.

    Parameters
    ----------
    meter : str
        The meter's code, for the budget.
    relative_u : float
        Standard uncertainty as a fraction of reading: half of an expanded one given with k = 2. [-]

    Returns
    -------
    Figure
        Make it once a meter and use that one figure for all its readings: what they share is then counted once. [-]

    Raises
    ------
    ValueError
        The uncertainty is outside 0 to 0.5: a percentage, for one.
    """
    if not _certificate_share.holds(relative_u):
        raise ValueError(f"`relative_u` of meter {meter} must be {_certificate_share.words}; found {relative_u:g}")
    return reading(
        1.0,
        "1",
        name=said("certificate factor of {meter}", meter=meter),
        uncertainty=relative_u,
        cause=said("certificate of meter {meter}", meter=meter),
        source=said("certificate of meter {meter}", meter=meter),
    )


def full_scale_offset(meter: str, u_lpm: float) -> Figure:
    """
    The part of a meter's doubt that is stated of full scale, as an offset of 0 with its uncertainty.

    Parameters
    ----------
    meter : str
        The meter's code, for the budget.
    u_lpm : float
        Standard uncertainty: for "±3 % of full scale" and 0.5 L/min, 0.015/√3. Not below 0. [L/min]

    Returns
    -------
    Figure
        One a meter, as `certificate_factor`. [L/min]

    Raises
    ------
    ValueError
        The uncertainty is below 0 or not finite.
    """
    return reading(
        0.0,
        "L/min",
        name=said("offset of {meter}", meter=meter),
        uncertainty=u_lpm,
        cause=said("certificate of meter {meter}", meter=meter),
        source=said("certificate of meter {meter}, stated of full scale", meter=meter),
    )


@formula(
    "reading with its certificate",
    "Q = Q_ind·F + d",
    unit="L/min",
    source="calibration certificate of the meter; JCGM 100:2008, 4.3",
    needs={"indicated_lpm": above_zero, "factor": above_zero},
    symbols={"indicated_lpm": "Q_ind", "factor": "F", "offset_lpm": "d"},
)
def corrected_reading(indicated_lpm: LitresPerMinute, *, factor: Ratio, offset_lpm: LitresPerMinute = 0.0) -> Any:
    """
    A reading with the meter's certified factor and offset, and their uncertainty.

    Parameters
    ----------
    indicated_lpm : float or Figure
        As shown, above 0. [L/min]
    factor : float or Figure
        True over indicated flow; `certificate_factor` where the certificate gives only an uncertainty. [-]
    offset_lpm : float or Figure
        Added after the factor; `full_scale_offset`. [L/min]

    Returns
    -------
    Figure
        [L/min]

    Raises
    ------
    ValueError
        The reading or the factor is not above 0.
    """
    return indicated_lpm * factor + offset_lpm


@formula(
    "flow from the calibration curve",
    "Q = Q₁ + (q − q₁)·(Q₂ − Q₁) / (q₂ − q₁)",
    unit="L/min",
    source="straight line between the two neighbouring points of the certificate",
    needs={"indicated_lpm": above_zero},
    symbols={"indicated_lpm": "q", "curve": "curve"},
)
def _from_curve(indicated_lpm: LitresPerMinute, *, curve: Any) -> Any:
    (q1, flow1), (q2, flow2) = curve
    return flow1 + (indicated_lpm - q1) * (flow2 - flow1) / (q2 - q1)


def curve_flow(indicated_lpm: Any, *, curve: Sequence[tuple[Any, Any]], meter: str = "the meter") -> Figure:
    """
    Flow read off the certificate's curve.

    Parameters
    ----------
    indicated_lpm : float or Figure
        As shown. [L/min, or the scale's own division]
    curve : sequence of (indicated, true)
        At least two points, both columns rising. [as shown, L/min]
    meter : str
        Named in an error.

    Returns
    -------
    Figure
        By a straight line between neighbours. [L/min]

    Raises
    ------
    ValueError
        Fewer than two points, a column that does not rise, or a reading outside the curve: nothing is extrapolated.
    """
    shown = [number(point[0]) for point in curve]
    true = [number(point[1]) for point in curve]
    if len(curve) < 2:
        raise ValueError(f"`curve` of {meter} must have 2 points or more; found {len(curve)}")
    for column, values in (("indicated", shown), ("true", true)):
        for position in range(1, len(values)):
            if not values[position] > values[position - 1]:
                raise ValueError(
                    f"`curve` of {meter} must rise; {column} flow falls or stays from point {position} "
                    f"({values[position - 1]:g}) to point {position + 1} ({values[position]:g})"
                )
    found = number(indicated_lpm)
    if not shown[0] <= found <= shown[-1]:
        raise ValueError(
            f"`indicated_lpm` must lie on the curve of {meter}, {shown[0]:g} to {shown[-1]:g}; found {found:g}"
        )
    right = min(max(bisect_left(shown, found), 1), len(shown) - 1)
    return _from_curve(indicated_lpm, curve=(tuple(curve[right - 1]), tuple(curve[right])))
