"""What diffusion into an open tube adds to what is pumped, and below which flow that counts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from lapel.figures.formula import (
    above_zero,
    formula,
)
from lapel.planning.arguments import above

#: Below this flow diffusion adds noticeably to what is pumped. [L/min] NMAM's evaluation chapter warns at
#: about 0.005 L/min; a pump to ISO 13137 need only hold flows above 0.01 L/min.
DIFFUSION_FLOW_LPM = 0.010


@formula(
    "diffusive uptake",
    "Q_d = 0.06·D·A / l, A = pi·d²/4",
    unit="L/min",
    source="Fick's first law along the open entry of a tube; lengths in cm, 0.06 from cm³/s to L/min",
    needs={"bore_mm": above_zero, "open_length_mm": above_zero, "diffusivity_cm2_s": above_zero},
    falls_with=("open_length_mm",),
    symbols={"bore_mm": "d", "open_length_mm": "l", "diffusivity_cm2_s": "D"},
)
def diffusive_uptake(*, bore_mm: Any = 4.0, open_length_mm: Any = 10.0, diffusivity_cm2_s: Any = 0.08) -> Any:
    """
    Air an open tube clears by diffusion alone.

    Parameters
    ----------
    bore_mm, open_length_mm : number or Figure
        Inner diameter of the entry and its free length before the bed. [mm]
    diffusivity_cm2_s : number or Figure
        Diffusion coefficient of the vapour in air. [cm²/s]

    Returns
    -------
    Figure
        Equivalent flow. [L/min]

    Raises
    ------
    ValueError
        A value is not finite and above 0.
    """
    area_cm2 = math.pi * (bore_mm / 20.0) ** 2
    return 0.06 * diffusivity_cm2_s * area_cm2 / (open_length_mm / 10.0)


@dataclass(frozen=True)
class DiffusionShare:
    """What diffusion may add to the pumped amount, as shares of it."""

    at_most: float
    steady_one_dimensional: float


def diffusion_share(flow_lpm: float, *, uptake_lpm: float | None = None) -> DiffusionShare:
    """
    Extra amount by diffusion into a tube that is being pumped.

    Parameters
    ----------
    flow_lpm : float
        Pumped flow. [L/min]
    uptake_lpm : float, optional
        Diffusive uptake of the entry; a 4 mm bore with 10 mm free length where not given. [L/min]

    Returns
    -------
    DiffusionShare
        ``at_most`` adds both flows, Q_d/Q. ``steady_one_dimensional`` is the steady solution of flow and
        diffusion along the entry, 1/(exp(Q/Q_d) - 1), and is smaller. Plans use the first.
    """
    above(0.0, flow_lpm=flow_lpm, uptake_lpm=uptake_lpm)
    uptake = float(diffusive_uptake.raw()) if uptake_lpm is None else uptake_lpm
    ratio = flow_lpm / uptake
    return DiffusionShare(1.0 / ratio, 1.0 / math.expm1(ratio) if ratio < 700 else 0.0)
