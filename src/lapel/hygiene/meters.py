"""From what a flow meter shows to the flow of ambient air: burette, rotameter, thermal meter, soap film."""

from __future__ import annotations

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
    reading,
    zero_or_more,
)
from lapel.hygiene.air import Air, water_vapour_pressure
from lapel.said import said

DENSITY_CONTROLLED = 0.5
"""Exponent of a float whose drag is governed by the density of the gas: the usual case above some 0.5 L/min."""

_float_exponent = Condition(
    lambda exponent: 0.0 <= exponent <= 0.5,
    "between 0 (viscosity decides) and 0.5 (density decides)",
)


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
        name=said("float exponent of {meter}", meter=meter),
        uncertainty=0.25 / 3**0.5,
        cause=said("float exponent of {meter} unknown", meter=meter),
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
