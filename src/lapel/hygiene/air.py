"""The air a flow or a volume refers to: its temperature, its pressure, the room a mole takes, the water in it."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from lapel.figures import Condition, Figure, Formula, In, Kelvin, bare, formula, number, reading

MOLAR_GAS_CONSTANT = 8.314462618
"""R, in J/(mol·K), which is also L·kPa/(mol·K). Exact in the SI of 2019 (CODATA 2018), here to ten figures."""


@dataclass(frozen=True, slots=True)
class Air:
    """
    Temperature and pressure of air.

    Parameters
    ----------
    temperature_k : float or Figure
        Absolute temperature, above 0. [K]
    pressure_kpa : float or Figure
        Absolute pressure, above 0. [kPa]

    Raises
    ------
    ValueError
        Either is not a number above 0 (a temperature in °C, for one, can be).
    """

    temperature_k: Any
    pressure_kpa: Any

    def __post_init__(self) -> None:
        for name in ("temperature_k", "pressure_kpa"):
            if not 0.0 < number(getattr(self, name)) < float("inf"):
                raise ValueError(f"`{name}` must be finite and above 0; found {number(getattr(self, name)):g}")

    def parts(self) -> dict[str, Any]:
        """Name the single values, for a derivation."""
        return {"temperature_k": self.temperature_k, "pressure_kpa": self.pressure_kpa}

    def bare(self) -> BareAir:
        """Return the same air without the figures around its numbers."""
        return BareAir(bare(self.temperature_k), bare(self.pressure_kpa))


@dataclass(frozen=True, slots=True)
class BareAir:
    """
    Air with bare amounts, as a formula's body sees it; for bulk work with `.raw`, where both may be arrays.

    Parameters
    ----------
    temperature_k, pressure_kpa : float, uncertain number or array_like
        Not checked. [K], [kPa]
    """

    temperature_k: Any
    pressure_kpa: Any


NTP = Air(298.15, 101.325)
"""25 °C and 101.325 kPa: the air US limits in ppm and mg/m3 are converted at (NIOSH Pocket Guide, introduction)."""

_liquid_water = Condition(lambda kelvin: 228.15 <= kelvin <= 333.15, "between 228.15 and 333.15 K (-45 to 60 °C)")
_habitable = Condition(lambda metres: -430.0 <= metres <= 11_000.0, "between -430 and 11000 m")


@formula(
    "molar volume",
    "Vm = R·T / P",
    unit="L/mol",
    source="ideal gas law; R = 8.314462618 J/(mol·K), CODATA 2018",
    symbols={"air": "air"},
)
def molar_volume(air: Any) -> Any:
    """
    Room one mole of any vapour takes in air of this temperature and pressure.

    Parameters
    ----------
    air : Air
        Where the concentration is meant. [K, kPa]

    Returns
    -------
    Figure
        24.47 L/mol at 25 °C and 101.325 kPa; older tables print 24.45, made with a rounded gas constant. [L/mol]
    """
    return MOLAR_GAS_CONSTANT * air.temperature_k / air.pressure_kpa


@formula(
    "saturation vapour pressure of water",
    "p_w = 0.6112·exp(17.62·t / (243.12 + t)),  t = T − 273.15",
    unit="kPa",
    source="WMO-No. 8, Guide to Instruments and Methods of Observation, annex 4.B (over water)",
    needs={"temperature_k": _liquid_water},
    symbols={"temperature_k": "T"},
)
def water_vapour_pressure(temperature_k: Kelvin) -> Any:
    """
    Pressure of water vapour over liquid water.

    Parameters
    ----------
    temperature_k : float or Figure
        Between 228.15 and 333.15, the range the equation is given for. [K]

    Returns
    -------
    Figure
        Pure water; the air's own small enhancement (under 0.5 %) is left out. [kPa]

    Raises
    ------
    ValueError
        The temperature is outside the equation's range.
    """
    t = temperature_k - 273.15
    return 0.6112 * math.e ** (17.62 * t / (243.12 + t))


@formula(
    "pressure of the standard atmosphere",
    "P = 101.325·(1 − 2.25577×10⁻⁵·h)^5.25588",
    unit="kPa",
    source="ISO 2533:1975 / U.S. Standard Atmosphere 1976, troposphere",
    needs={"altitude_m": _habitable},
    falls_with=("altitude_m",),
    symbols={"altitude_m": "h"},
)
def standard_pressure(altitude_m: Annotated[Any, In("m")]) -> Any:
    """
    Air pressure to expect at an altitude, for planning; on the day the barometer is read.

    Parameters
    ----------
    altitude_m : float or Figure
        Above mean sea level, between -430 and 11000. [m]

    Returns
    -------
    Figure
        Without the weather, which moves it by some 2 kPa either way: `expected_pressure` carries that. [kPa]

    Raises
    ------
    ValueError
        The altitude is outside the troposphere's formula.
    """
    return 101.325 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588


WEATHER_U_KPA = 1.2
"""Standard uncertainty of station pressure from weather: ±2 kPa taken as rectangular, 2/√3. Our judgement. [kPa]"""


@formula(
    "pressure expected from altitude",
    "P = P(h) + w",
    unit="kPa",
    source="standard atmosphere, with the weather as an uncertainty of ±2 kPa (rectangular; judgement)",
    symbols={"from_altitude_kpa": "P(h)", "weather_kpa": "w"},
)
def _with_weather(from_altitude_kpa: Any, weather_kpa: Any) -> Any:
    return from_altitude_kpa + weather_kpa


def expected_pressure(altitude_m: Any) -> Figure:
    """
    Air pressure where no barometer was read, with the weather as its uncertainty.

    Parameters
    ----------
    altitude_m : float or Figure
        Above mean sea level. [m]

    Returns
    -------
    Figure
        Use the same figure wherever the same day's pressure is meant. [kPa]

    Raises
    ------
    ValueError
        As `standard_pressure`.
    """
    weather = reading(
        0.0,
        "kPa",
        name="weather",
        uncertainty=WEATHER_U_KPA,
        cause="air pressure not read, taken from altitude",
        source="judgement: ±2 kPa about the standard atmosphere",
    )
    return _with_weather(standard_pressure(altitude_m), weather)


def mean_over_run(values: Sequence[Figure | float], minutes: Sequence[float], *, unit: str) -> Figure:
    """
    Temperature or pressure of a run, of which several records were made.

    Parameters
    ----------
    values : sequence of Figure or float, length k
        As recorded, at least one. [K or kPa]
    minutes : sequence of float, length k
        Minutes of the run each record stands for, not negative, not all 0. [min]
    unit : str
        “K” or “kPa”.

    Returns
    -------
    Figure
        The records' common doubt stays common. Between records the air is not known: half their range is a rectangular
        half-width, (max - min)/(2·√3), beside it. [K or kPa]

    Raises
    ------
    ValueError
        No value, lengths that differ, or minutes that are negative or all 0.
    """
    if not values or len(values) != len(minutes):
        raise ValueError(
            f"`values` and `minutes` must be of one length, 1 or more; found {len(values)}, {len(minutes)}"
        )
    if min(minutes) < 0.0 or not 0.0 < sum(minutes) < math.inf:
        raise ValueError("`minutes` must be finite, not negative, and not all 0")
    plain = [number(value) for value in values]
    spread = reading(
        0.0,
        unit,
        name="change of the air over the run",
        uncertainty=(max(plain) - min(plain)) / (2.0 * math.sqrt(3.0)),
        cause=BETWEEN_RECORDS[unit],
        source="rectangular over the range of the records: (max − min)/(2√3) (JCGM 100:2008, 4.3.7)",
    )
    return _mean_over_run(unit)(list(values), list(minutes), spread)


OVER_THE_RUN = {"K": "air temperature over the run", "kPa": "air pressure over the run"}
BETWEEN_RECORDS = {"K": "air temperature between its records", "kPa": "air pressure between its records"}
"""What the air of a run is called, by unit, and its doubt where several records were made of it."""


@functools.cache
def _mean_over_run(unit: str) -> Formula[Any]:
    @formula(
        OVER_THE_RUN[unit],
        "x̄ = Σ xᵢ·tᵢ / Σ tᵢ + s",
        unit=unit,
        source="mean over time, each record for the minutes nearer to it than to any other",
        symbols={"values": "x", "minutes": "t", "spread": "s"},
    )
    def mean(values: Sequence[Any], minutes: Sequence[float], spread: Any) -> Any:
        total: Any = 0.0
        for value, share in zip(values, minutes, strict=True):
            total = total + value * share
        return total / sum(minutes) + spread

    return mean
