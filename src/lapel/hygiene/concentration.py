"""From mass and volume to the concentration in air, by mass or as a mole ratio, at the air it was in or another."""

from __future__ import annotations

from typing import Any

from lapel.figures import (
    GramsPerMole,
    Litres,
    Micrograms,
    MilligramsPerCubicMetre,
    PartsPerMillion,
    Ratio,
    above_zero,
    formula,
    zero_or_more,
)
from lapel.hygiene.air import MOLAR_GAS_CONSTANT, NTP
from lapel.hygiene.mass import net_mass_formula, usable_recovery


@net_mass_formula(
    "concentration in air",
    "C = (m − b) / (r·V)",
    unit="mg/m3",
    source="mass over volume (NMAM, calculations of its sorbent methods); 1 ug/L is 1 mg/m3",
    needs={
        "mass_ug": zero_or_more,
        "volume_l": above_zero,
        "blank_ug": zero_or_more,
        "recovery": usable_recovery,
    },
    falls_with=("volume_l", "blank_ug", "recovery"),
    symbols={"mass_ug": "m", "volume_l": "V", "blank_ug": "b", "recovery": "r"},
)
def concentration(
    mass_ug: Micrograms,
    volume_l: Litres,
    *,
    blank_ug: Micrograms = 0.0,
    recovery: Ratio = 1.0,
) -> Any:
    """
    Mean concentration over the time of one sample.

    Parameters
    ----------
    mass_ug : float or Figure
        Both sections together, 0 or more; or `laboratory_mass`, and then blank and recovery stay at their defaults:
        they are in it. [ug]
    volume_l : float or Figure
        Volume of air, above 0. [L]
    blank_ug : float or Figure
        Not larger than the mass. [ug]
    recovery : float or Figure
        Above 0 and not above 1.2. [-]

    Returns
    -------
    Figure
        At the condition of the volume: for the volume as drawn, as found in the air that was breathed. [mg/m3]

    Raises
    ------
    ValueError
        An argument is outside its range, or the blank is larger than the mass.
    """
    return (mass_ug - blank_ug) / (recovery * volume_l)


@formula(
    "mole ratio",
    "x = C·R·T / (P·M)",
    unit="ppm",
    source="ideal gas law; R = 8.314462618 J/(mol·K), CODATA 2018",
    needs={"mg_m3": zero_or_more, "molar_mass": above_zero},
    falls_with=("molar_mass",),
    symbols={"mg_m3": "C", "molar_mass": "M", "air": "air"},
)
def to_ppm(mg_m3: MilligramsPerCubicMetre, molar_mass: GramsPerMole, *, air: Any = NTP) -> Any:
    """
    Parts per million by volume of a vapour from its mass concentration.

    Parameters
    ----------
    mg_m3 : float or Figure
        0 or more. [mg/m3 at `air`]
    molar_mass : float or Figure
        Above 0. [g/mol]
    air : Air
        The air the mass concentration refers to: the one breathed for a concentration as found. [K, kPa]

    Returns
    -------
    Figure
        A mole ratio, the same at any temperature and pressure. Vapours and gases only. [ppm]

    Raises
    ------
    ValueError
        The concentration is negative or the molar mass not above 0.
    """
    return mg_m3 * (MOLAR_GAS_CONSTANT * air.temperature_k / (air.pressure_kpa * molar_mass))


@formula(
    "mass concentration",
    "C = x·M·P / (R·T)",
    unit="mg/m3",
    source="ideal gas law; R = 8.314462618 J/(mol·K), CODATA 2018",
    needs={"ppm": zero_or_more, "molar_mass": above_zero},
    symbols={"ppm": "x", "molar_mass": "M", "air": "air"},
)
def to_mg_m3(ppm: PartsPerMillion, molar_mass: GramsPerMole, *, air: Any = NTP) -> Any:
    """
    Mass concentration of a vapour from its parts per million by volume.

    Parameters
    ----------
    ppm : float or Figure
        0 or more. [ppm]
    molar_mass : float or Figure
        Above 0. [g/mol]
    air : Air
        The air the mass concentration shall refer to. [K, kPa]

    Returns
    -------
    Figure
        [mg/m3 at `air`]

    Raises
    ------
    ValueError
        The mole ratio is negative or the molar mass not above 0.
    """
    return ppm * (molar_mass * air.pressure_kpa / (MOLAR_GAS_CONSTANT * air.temperature_k))


@formula(
    "concentration at another condition",
    "C_ref = C·(P_ref / P_m)·(T_m / T_ref)",
    unit="mg/m3",
    source="ideal gas law: the mass stays, the volume changes",
    needs={"mg_m3": zero_or_more},
    symbols={"mg_m3": "C", "measured": "m", "reference": "ref"},
)
def concentration_at(mg_m3: MilligramsPerCubicMetre, *, measured: Any, reference: Any) -> Any:
    """
    Mass concentration the same air has at a reference temperature and pressure.

    Parameters
    ----------
    mg_m3 : float or Figure
        0 or more. [mg/m3 at `measured`]
    measured, reference : Air
        Air it was found in, and the condition to state it at. [K, kPa]

    Returns
    -------
    Figure
        State which of the two is compared with a limit: at altitude the one as found is the lower. [mg/m3]

    Raises
    ------
    ValueError
        The concentration is negative.
    """
    return mg_m3 * (
        (reference.pressure_kpa / measured.pressure_kpa) * (measured.temperature_k / reference.temperature_k)
    )
