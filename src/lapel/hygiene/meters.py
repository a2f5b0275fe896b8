"""From what a flow meter shows to the flow of ambient air: certificate, rotameter, thermal meter, soap film."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import Annotated, Any

from lapel.figures import (
    Condition,
    Figure,
    In,
    Litres,
    LitresPerMinute,
    Ratio,
    above_zero,
    formula,
    fraction,
    number,
    reading,
    zero_or_more,
)
from lapel.hygiene.air import Air, water_vapour_pressure

DENSITY_CONTROLLED = 0.5
"""Exponent of a float whose drag is governed by the density of the gas: the usual case above some 0.5 L/min."""

VISCOSITY_CONTROLLED = 0.0
"""Exponent of a float whose drag is governed by viscosity alone, which air pressure hardly changes."""

_float_exponent = Condition(
    lambda exponent: 0.0 <= exponent <= 0.5,
    "between 0 (viscosity decides) and 0.5 (density decides)",
)
_certificate_share = Condition(lambda u: 0.0 <= u <= 0.5, "between 0 and 0.5 (a fraction, not percent)")


@formula(
    "flow from burette and stop-watch",
    "Q = 60·V / t",
    unit="L/min",
    source="NMAM, chapter D, p. 12, calibration with a burette: volume over mean time",
    needs={"volume_l": above_zero, "seconds": above_zero},
    falls_with=("seconds",),
    symbols={"volume_l": "V", "seconds": "t"},
)
def volume_time_flow(volume_l: Litres, seconds: Annotated[Any, In("s")]) -> Any:
    """
    Flow from a known volume and the time a film or piston takes to sweep it.

    Parameters
    ----------
    volume_l : float or Figure
        Volume between the marks, above 0. [L]
    seconds : float or Figure
        Time between the marks, above 0; the mean of several runs where there are several. [s]

    Returns
    -------
    Figure
        At the burette's own temperature and pressure. [L/min]

    Raises
    ------
    ValueError
        Either is not finite and above 0.
    """
    return 60.0 * volume_l / seconds


@formula(
    "flow from a rotameter",
    "Q = Q_ind·((P_cal·T_use) / (P_use·T_cal))^e",
    unit="L/min",
    source="NMAM, chapter D, p. 12 (root of the density ratio, e = 0.5); e below 0.5 for low-flow floats",
    needs={"indicated_lpm": above_zero, "exponent": _float_exponent},
    symbols={"indicated_lpm": "Q_ind", "calibrated_at": "cal", "used_at": "use", "exponent": "e"},
)
def rotameter_flow(
    indicated_lpm: LitresPerMinute,
    *,
    calibrated_at: Any,
    used_at: Any,
    exponent: Ratio = DENSITY_CONTROLLED,
) -> Any:
    """
    Flow of ambient air through a rotameter whose scale was made in other air.

    Parameters
    ----------
    indicated_lpm : float or Figure
        Reading at the float's reference edge, above 0. [L/min]
    calibrated_at, used_at : Air
        Air the scale is true for, and air *inside the tube* when it was read: behind a sampler that is not the
        room's. [K, kPa]
    exponent : float or Figure
        0.5 where density governs the float, 0 where viscosity does, between for the small floats of low-flow
        meters; `unknown_float_exponent` where nobody has checked. [-]

    Returns
    -------
    Figure
        Volumetric flow at `used_at`. [L/min]

    Raises
    ------
    ValueError
        The reading is not above 0 or the exponent is outside 0 to 0.5.

    Notes
    -----
    Thin air is lighter, so the float sits lower than the flow deserves: at altitude the true flow is *above* the
    reading. Some manuals print the ratio the other way up because they solve for the setting.
    """
    density_ratio = (calibrated_at.pressure_kpa * used_at.temperature_k) / (
        used_at.pressure_kpa * calibrated_at.temperature_k
    )
    return indicated_lpm * density_ratio**exponent


def unknown_float_exponent(meter: str = "rotameter") -> Figure:
    """
    Exponent of a float nobody has checked: 0.25, with the whole of 0 to 0.5 as its uncertainty.

    Parameters
    ----------
    meter : str
        Which meter, for the budget. Keep the figure and use it for every reading of that meter: the float is the same.

    Returns
    -------
    Figure
        0.25 with a rectangular distribution over 0 to 0.5, standard uncertainty 0.25/√3 (JCGM 100:2008, 4.3.7). [-]
    """
    return reading(
        0.25,
        "1",
        name=f"float exponent of {meter}",
        uncertainty=0.25 / 3**0.5,
        cause=f"float exponent of {meter} unknown",
        source="between viscosity (0) and density (0.5) controlled; rectangular",
    )


@formula(
    "flow from a thermal meter",
    "Q = Q_std·(P_std / P)·(T / T_std)",
    unit="L/min",
    source="ideal gas law; a thermal meter senses molecules and shows the room they take at its standard condition",
    needs={"flow_slpm": above_zero},
    symbols={"flow_slpm": "Q_std", "standard": "std", "ambient": "ambient"},
)
def standard_to_ambient_flow(flow_slpm: LitresPerMinute, *, standard: Any, ambient: Any) -> Any:
    """
    Volumetric flow of ambient air from a flow stated at a standard condition.

    Parameters
    ----------
    flow_slpm : float or Figure
        As shown by a thermal mass meter, or a volumetric one switched to standard. [L/min at `standard`]
    standard : Air
        The meter's own standard condition, from its certificate: makers differ (0, 20, 21.1 or 25 °C). [K, kPa]
    ambient : Air
        Air where the sample is taken. [K, kPa]

    Returns
    -------
    Figure
        [L/min at `ambient`]

    Raises
    ------
    ValueError
        The flow is not above 0.
    """
    return flow_slpm * (
        (standard.pressure_kpa / ambient.pressure_kpa) * (ambient.temperature_k / standard.temperature_k)
    )


@formula(
    "flow at a standard condition",
    "Q_std = Q·(P / P_std)·(T_std / T)",
    unit="L/min",
    source="ideal gas law",
    needs={"flow_lpm": above_zero},
    symbols={"flow_lpm": "Q", "ambient": "ambient", "standard": "std"},
)
def ambient_to_standard_flow(flow_lpm: LitresPerMinute, *, ambient: Any, standard: Any) -> Any:
    """
    Flow stated at a standard condition from the volumetric flow of ambient air.

    Parameters
    ----------
    flow_lpm : float or Figure
        [L/min at `ambient`]
    ambient, standard : Air
        Air the flow was measured in, and the condition to state it at. [K, kPa]

    Returns
    -------
    Figure
        [L/min at `standard`]

    Raises
    ------
    ValueError
        The flow is not above 0.
    """
    return flow_lpm * (
        (ambient.pressure_kpa / standard.pressure_kpa) * (standard.temperature_k / ambient.temperature_k)
    )


@formula(
    "flow without the soap film's vapour",
    "Q = Q_ind·(P − φ_out·p_w) / (P − φ_in·p_w)",
    unit="L/min",
    source="Dalton's law: the dry part of the gas is the same before and behind the wet wall",
    needs={
        "flow_lpm": above_zero,
        "relative_humidity": fraction,
        "leaving_humidity": fraction,
        "water_kpa": zero_or_more,
    },
    falls_with=("leaving_humidity",),
    symbols={
        "flow_lpm": "Q_ind",
        "relative_humidity": "φ_in",
        "leaving_humidity": "φ_out",
        "water_kpa": "p_w",
        "pressure_kpa": "P",
    },
)
def _without_film_vapour(
    flow_lpm: LitresPerMinute,
    *,
    pressure_kpa: Any,
    water_kpa: Any,
    relative_humidity: Ratio,
    leaving_humidity: Ratio,
) -> Any:
    return flow_lpm * ((pressure_kpa - leaving_humidity * water_kpa) / (pressure_kpa - relative_humidity * water_kpa))


def soap_film_vapour_correction(
    flow_lpm: Any,
    *,
    air: Air,
    relative_humidity: Any,
    leaving_humidity: Any = 1.0,
) -> Figure:
    """
    Flow of the air as it entered a wet burette, without the water vapour it took up before the film.

    Parameters
    ----------
    flow_lpm : float or Figure
        From the film's travel. [L/min]
    air : Air
        Air in the burette. [K, kPa]
    relative_humidity : float or Figure
        Of the air that enters, 0 to 1. [-]
    leaving_humidity : float or Figure
        Of the air at the film, 0 to 1. 1, saturated, is the largest correction; a figure with an uncertainty says how
        well that is known. [-]

    Returns
    -------
    Figure
        At most some 2.3 % lower at 20 °C and sea level, for dry gas. [L/min]

    Raises
    ------
    ValueError
        A humidity is outside 0 to 1 (a percentage, for one), or the temperature outside `water_vapour_pressure`.

    Notes
    -----
    For gas *pushed* into the burette, as when a meter is calibrated against it. A pump that sucks through the burette
    moves the same volume of moist as of dry air, and its sampling flow is the film's own: then this is not applied,
    and the difference is at most an uncertainty.
    """
    return _without_film_vapour(
        flow_lpm,
        pressure_kpa=air.pressure_kpa,
        water_kpa=water_vapour_pressure(air.temperature_k),
        relative_humidity=relative_humidity,
        leaving_humidity=leaving_humidity,
    ).named("flow without the soap film's vapour")


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
        name=f"certificate factor of {meter}",
        uncertainty=relative_u,
        cause=f"certificate of meter {meter}",
        source=f"certificate of meter {meter}",
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
        name=f"offset of {meter}",
        uncertainty=u_lpm,
        cause=f"certificate of meter {meter}",
        source=f"certificate of meter {meter}, stated of full scale",
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
