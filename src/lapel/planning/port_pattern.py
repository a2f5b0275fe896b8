"""Reading the pattern across ports after a run: what most likely happened to controller, pump, tube or valve."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from lapel.planning.arguments import above, at_least

#: Readings at the inlet below this share of before count as nothing drawn. [-]
NOTHING_DRAWN = 0.10


@dataclass(frozen=True)
class Diagnosis:
    """What the pattern points at: a short kind, the ports concerned, and words with what to check."""

    kind: str
    ports: tuple[str, ...]
    words: str


def port_pattern(
    before_lpm: Mapping[str, float],
    after_lpm: Mapping[str, float],
    *,
    pump_before_lpm: float | None = None,
    pump_after_lpm: float | None = None,
    tolerance: float = 0.05,
) -> tuple[Diagnosis, ...]:
    """
    Likely causes behind inlet readings before and after.

    Parameters
    ----------
    before_lpm, after_lpm : mapping of str to float
        Flow at the inlet of each port. [L/min]
    pump_before_lpm, pump_after_lpm : float, optional
        Flow on the pump's side of the splitter. [L/min]
    tolerance : float
        Change that is still no change. [-]

    Returns
    -------
    tuple of Diagnosis
        Empty when every port is within tolerance. A pattern is a lead, not a proof.

    Raises
    ------
    ValueError
        The ports of both readings differ, or a flow is negative or, before, not above 0.
    """
    if set(before_lpm) != set(after_lpm) or not before_lpm:
        raise ValueError(
            f"`before_lpm` and `after_lpm` must name the same ports; found {sorted(before_lpm)} and {sorted(after_lpm)}"
        )
    above(0.0, tolerance=tolerance, pump_before_lpm=pump_before_lpm)
    for name in before_lpm:
        above(0.0, **{f"before_lpm[{name}]": before_lpm[name]})
    for name in after_lpm:
        at_least(0.0, **{f"after_lpm[{name}]": after_lpm[name]})
    change = {name: after_lpm[name] / before_lpm[name] - 1.0 for name in before_lpm}
    pump = _pump_change(pump_before_lpm, pump_after_lpm)
    swapped = _swapped(before_lpm, after_lpm, tolerance)
    if swapped:
        return (swapped,)
    nothing = [name for name, c in change.items() if c <= NOTHING_DRAWN - 1]
    down = [name for name, c in change.items() if NOTHING_DRAWN - 1 < c < -tolerance]
    up = [name for name, c in change.items() if c > tolerance]
    if len(nothing) == len(change) and len(change) > 1:
        return (_all_zero(nothing, pump, tolerance),)
    found = [_zero(name, pump, tolerance) for name in nothing]
    if len(change) > 1 and len(down) == len(change):
        found.append(_all_moved("all down", down, change, tolerance))
    elif len(change) > 1 and len(up) == len(change):
        found.append(_all_moved("all up", up, change, tolerance))
    else:
        found += _single_ports(down, up, nothing, change)
    return tuple(found)


def _pump_change(before: float | None, after: float | None) -> float | None:
    return None if before is None or after is None else after / before - 1.0


def _swapped(before: Mapping[str, float], after: Mapping[str, float], tolerance: float) -> Diagnosis | None:
    """Two ports whose readings have changed places, when neither could be taken for itself."""
    names = list(before)
    for i, first in enumerate(names):
        for second in names[i + 1 :]:
            apart = not math.isclose(before[first], before[second], rel_tol=2 * tolerance)
            crossed = math.isclose(after[first], before[second], rel_tol=tolerance) and math.isclose(
                after[second], before[first], rel_tol=tolerance
            )
            if apart and crossed:
                words = (
                    f"Ports {first} and {second} read each other's flow: labels or tubes may have been swapped. "
                    "Settle which sampler sat on which port before anything is computed."
                )
                return Diagnosis("swapped ports", (first, second), words)
    return None


def _zero(name: str, pump: float | None, tolerance: float) -> Diagnosis:
    if pump is not None and abs(pump) <= tolerance:
        words = (
            f"Port {name} draws nothing at its inlet while the pump's flow is unchanged: room air enters behind "
            "the tube. Tube slipped off or hose leaks; the time it began is not known."
        )
        return Diagnosis("leak behind the tube", (name,), words)
    words = f"Port {name} draws nothing: tube or valve blocked, hose kinked" + (
        ". Read the flow on the pump's side: unchanged means a leak behind the tube." if pump is None else "."
    )
    return Diagnosis("port blocked" if pump is not None else "nothing at the inlet", (name,), words)


def _all_zero(names: list[str], pump: float | None, tolerance: float) -> Diagnosis:
    if pump is not None and abs(pump) <= tolerance:
        words = "No port draws and the pump's flow is unchanged: the line between splitter and pump is open."
        return Diagnosis("leak before the splitter", tuple(names), words)
    words = "No port draws: pump stopped, or the line between pump and splitter shut. One pump, all samples."
    return Diagnosis("pump stopped", tuple(names), words)


def _all_moved(kind: str, names: list[str], change: Mapping[str, float], tolerance: float) -> Diagnosis:
    spread = max(change.values()) - min(change.values())
    alike = " by nearly the same share" if spread <= 2 * tolerance else ""
    direction = "lower" if kind == "all down" else "higher"
    words = (
        f"Every port reads {direction}{alike}: look at what they share, the controller's suction, the pump or its "
        "battery, and the meter with its temperature and pressure, before any single tube."
    )
    return Diagnosis(kind, tuple(names), words)


def _single_ports(down: list[str], up: list[str], nothing: list[str], change: Mapping[str, float]) -> list[Diagnosis]:
    found = []
    for name in down:
        words = (
            f"Port {name} alone is down by {-100 * change[name]:.0f} %: its tube has gained resistance (wet, dusty, "
            "another type or lot) or its valve has moved."
        )
        found.append(Diagnosis("one port down", (name,), words))
    if up and (down or nothing):
        words = (
            f"{_ports(up)} up while {_ports(down + nothing).lower()} down: the total is held, not the suction. "
            "Constant-flow mode, or a controller that sags."
        )
        found.append(Diagnosis("ports trade flow", tuple(up), words))
    elif up:
        for name in up:
            words = (
                f"Port {name} alone is up by {100 * change[name]:.0f} %: its tube has lost resistance (other type, "
                "channelled, loose in the holder) or its valve has moved."
            )
            found.append(Diagnosis("one port up", (name,), words))
    return found


def _ports(names: list[str]) -> str:
    return ("Port " if len(names) == 1 else "Ports ") + ", ".join(names)
