"""Whether a splitter as designed will hold its flows in the field, and why not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lapel.planning.diffusion import DIFFUSION_FLOW_LPM
from lapel.planning.splitter import HeldFlow, HeldSuction, Port, Source, splitter_flows
from lapel.planning.splitter_changes import consequence

#: Tube-to-tube spread assumed in a lot. [-] Judgement; 10 to 30 % is usual.
TUBE_SPREAD = 0.30

#: Largest share of the pump's main flow the ports may take together. [-] Judgement: 0.5 of 1.5 L/min.
PORTS_SHARE_OF_MAIN = 1 / 3

#: Largest ratio of the flows of two ports of one splitter. [-] Judgement.
PORT_RATIO = 4.0

#: A change of flow that matters, the usual tolerance between the readings before and after. [-]
NOTICEABLE = 0.05


@dataclass(frozen=True)
class Fragility:
    """One weakness of a design: which port (or the whole), how large, what it means and what to do."""

    kind: str
    port: str | None
    size: float
    words: str


def fragilities(ports: Sequence[Port], source: Source) -> tuple[Fragility, ...]:
    """
    Weak points of a splitter as set, worst kinds first.

    Parameters
    ----------
    ports : sequence of Port
    source : HeldSuction or HeldFlow

    Returns
    -------
    tuple of Fragility
        Empty when nothing is found. Thresholds are judgement and stand as constants of this module.
    """
    flows = splitter_flows(ports, source)
    found: list[Fragility] = []
    if flows.condition in ("pump fault", "regulation lost"):
        words = (
            f"The pump would need {flows.suction_kpa:.3g} kPa and cannot: it will stop. Open the valves or "
            "lower the total."
            if flows.condition == "pump fault"
            else "The ports want more than the pump moves: the suction is not held and every port depends on "
            "the others. Raise the main flow or lower the ports."
        )
        found.append(Fragility(flows.condition, None, flows.suction_kpa, words))
    found += _interplay(ports, source)
    if isinstance(source, HeldSuction) and source.pump_lpm is not None:
        taken = flows.total_lpm / source.pump_lpm
        if taken > PORTS_SHARE_OF_MAIN:
            words = (
                f"The ports take {100 * taken:.0f} % of the main flow of {source.pump_lpm:g} L/min; about a third is "
                "the most that leaves the controller something to bypass."
            )
            found.append(Fragility("little bypass", None, taken, words))
    found += _tube_spread(ports, source)
    drawing = {n: q for n, q in zip(flows.names, flows.inlet_lpm, strict=True) if q > 0}
    if drawing:
        low, high = min(drawing, key=drawing.__getitem__), max(drawing, key=drawing.__getitem__)
        ratio = drawing[high] / drawing[low]
        if ratio > PORT_RATIO * (1 + 1e-9):
            words = (
                f"Port {low} draws {drawing[low] * 1000:.3g} mL/min beside {drawing[high] * 1000:.3g} on "
                f"port {high}, {ratio:.2g} to one: its valve is nearly shut, drifts with dirt and temperature."
            )
            found.append(Fragility("uneven ports", low, ratio, words))
    for name, flow in drawing.items():
        if flow < DIFFUSION_FLOW_LPM:
            words = (
                f"Port {name} draws {flow * 1000:.3g} mL/min: below {DIFFUSION_FLOW_LPM * 1000:g} diffusion "
                "adds to the sample and pumps are not tested so low."
            )
            found.append(Fragility("very low flow", name, flow, words))
    return tuple(found)


def _interplay(ports: Sequence[Port], source: Source) -> list[Fragility]:
    """Ports that move when another is shut."""
    if sum(not port.is_blocked for port in ports) < 2:
        return []
    worst, victim, fault = 0.0, "", False
    for port in ports:
        if port.is_blocked:
            continue
        answer = consequence(ports, source, port.name, blocked=True)
        fault = fault or answer.after.condition == "pump fault"
        if answer.largest_on_others > worst:
            worst, victim = answer.largest_on_others, port.name
    if worst <= NOTICEABLE / 2:
        return []
    remedy = (
        "Put a pressure controller between pump and splitter."
        if isinstance(source, HeldFlow)
        else "The controller's suction sags with the total: check it, or take fewer ports."
    )
    stop = " The pump would stop." if fault else ""
    words = f"If port {victim} is shut the others rise by up to {100 * worst:.0f} %.{stop} {remedy}"
    return [Fragility("ports depend on each other", victim, worst, words)]


def _tube_spread(ports: Sequence[Port], source: Source) -> list[Fragility]:
    """Ports whose own flow follows the resistance of the tube that happens to be in them."""
    found = []
    for port in ports:
        if port.is_blocked or port.is_tube_off:
            continue
        change = consequence(ports, source, port.name, tube_factor=1.0 + TUBE_SPREAD).inlet_change[port.name]
        if abs(change) > NOTICEABLE:
            words = (
                f"Port {port.name} loses {100 * abs(change):.0f} % when its tube has {100 * TUBE_SPREAD:.0f} % more "
                "resistance than the one it was set with: more suction, a lower flow, or set each port with the very "
                "tube type and check after."
            )
            found.append(Fragility("depends on its tube", port.name, abs(change), words))
    return found
