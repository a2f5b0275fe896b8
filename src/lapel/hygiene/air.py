"""The air a flow or a volume refers to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lapel.figures import bare, number


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

    def bare(self) -> _BareAir:
        """Return the same air without the figures around its numbers."""
        return _BareAir(bare(self.temperature_k), bare(self.pressure_kpa))


@dataclass(frozen=True, slots=True)
class _BareAir:
    """Air with bare amounts, as a formula's body sees it."""

    temperature_k: Any
    pressure_kpa: Any


NTP = Air(298.15, 101.325)
"""25 °C and 101.325 kPa: the condition US limits in ppm and mg/m3 are converted at (NIOSH Pocket Guide, introduction)."""
