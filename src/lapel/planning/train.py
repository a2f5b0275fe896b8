"""
The train: which agents share a sampler, which samplers share a pump, and what flow each port is set to.

Agents share a sampler only where method (or the laboratory's word for the shared analysis), medium, desorption
and laboratory agree, and one flow and number of samplers suits them all.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from lapel.planning.arguments import at_least
from lapel.planning.demand import Equipment, PortUse, PumpKind, SamplerOption, SplitterKind
from lapel.planning.port_window import PortWindow
from lapel.planning.volume_window import FULL_SHIFT

# Ends of windows that meet count as meeting whatever the last bit says.
_MEETS = 1e-9


@dataclass(frozen=True)
class AgentMethod:
    """
    One agent by one method at one laboratory, with its window.

    ``analysis`` is what must agree for sharing besides medium, desorption and laboratory: the method, unless the
    laboratory has named an analysis in which it takes several methods from one sampler.
    """

    window: PortWindow
    medium: str
    desorption: str
    laboratory: str
    analysis: str | None = None
    sampler_cost: float = 0.0
    analysis_cost: float = 0.0

    def __post_init__(self) -> None:
        at_least(0.0, sampler_cost=self.sampler_cost, analysis_cost=self.analysis_cost)

    @property
    def agent(self) -> str:
        """The agent."""
        return self.window.method.agent

    @property
    def shares_by(self) -> tuple[str, str, str, str, str, float]:
        """What must be equal for two agents to share one sampler."""
        purpose = self.window.purpose
        analysis = self.analysis or self.window.method.method
        return analysis, self.medium, self.desorption, self.laboratory, purpose.name, purpose.minutes


def why_not_shared(one: AgentMethod, other: AgentMethod) -> tuple[str, ...]:
    """Reasons two agents cannot share a sampler, in words; empty when they can."""
    words = ("method", "medium", "desorption", "laboratory", "purpose", "period")
    pairs = zip(words, one.shares_by, other.shares_by, strict=True)
    differs = [f"{word} differs ({a} and {b})" for word, a, b in pairs if a != b]
    if not differs and _shared(("x",), (one, other)) is None:
        differs.append("no flow and number of samplers keeps both inside their volume windows")
    return tuple(differs)


def sampler_options(methods: Sequence[AgentMethod]) -> tuple[SamplerOption, ...]:
    """
    Every sampler worth hanging for these agents: the largest sets that may share one, fewest samplers first.

    Parameters
    ----------
    methods : sequence of AgentMethod
        One or more methods per agent; agents whose window is not feasible get none.

    Returns
    -------
    tuple of SamplerOption
        A set is left out when another holds all its agents with no more samplers in a row.

    Raises
    ------
    ValueError
        More than 12 agents agree on one sampler: give the sets the laboratory wants instead.
    """
    groups: dict[tuple[str, str, str, str, str, float], list[AgentMethod]] = {}
    for method in methods:
        if method.window.is_feasible:
            groups.setdefault(method.shares_by, []).append(method)
    options: list[SamplerOption] = []
    for key, members in groups.items():
        if len(members) > 12:
            raise ValueError(f"`methods`: {len(members)} agents agree on {key[1]} for {key[0]}; at most 12")
        kept: list[SamplerOption] = []
        for size in range(len(members), 0, -1):
            for chosen in itertools.combinations(members, size):
                option = _shared(key, chosen)
                if option and not any(
                    option.agents <= other.agents and other.samplers <= option.samplers for other in kept
                ):
                    kept.append(option)
        options += kept
    return tuple(options)


def _shared(key: tuple[object, ...], chosen: Sequence[AgentMethod]) -> SamplerOption | None:
    """One sampler for all of these, with the fewest in a row; None when no flow suits them all."""
    runs = [{run.samplers: run for run in method.window.runs} for method in chosen]
    for samplers in sorted(set.intersection(*(set(run) for run in runs))):
        these = [run[samplers] for run in runs]
        low = max(run.flow_low_lpm for run in these)
        high = min(run.flow_high_lpm for run in these)
        minutes = {run.minutes_each for run in these}
        if low > high * (1 + _MEETS) or len(minutes) > 1:
            continue
        purpose = chosen[0].window.purpose
        agents = frozenset(method.agent for method in chosen)
        medium = chosen[0].medium
        cost = samplers * (max(method.sampler_cost for method in chosen) + sum(m.analysis_cost for m in chosen))
        return SamplerOption(
            name=f"{medium}: {' + '.join(sorted(agents))} ({purpose.name}, {key[0]})",
            medium=medium,
            agents=agents,
            minutes=minutes.pop() * samplers,
            samplers=samplers,
            flow_low_lpm=low,
            flow_high_lpm=max(low, high),
            volume_low_l=max(method.window.volume_low_l for method in chosen),
            volume_high_l=min(method.window.volume_high.litres for method in chosen),
            cost=cost,
            needs_own_pump=purpose.name != FULL_SHIFT,
        )
    return None


def port_flows(
    options: Sequence[SamplerOption], pump: PumpKind, splitter: SplitterKind | None
) -> tuple[PortUse, ...] | None:
    """
    Flows for these samplers together on one pump, or ``None`` where the pump and splitter cannot carry them.

    Parameters
    ----------
    options : sequence of SamplerOption
    pump : PumpKind
    splitter : SplitterKind, optional

    Returns
    -------
    tuple of PortUse, or None
        Each in the middle of its window (as a ratio), all moved by one share of their room towards the lower or
        upper ends where the total would be too large or too small.
    """
    if not options or (len(options) > 1 and any(option.needs_own_pump for option in options)):
        return None
    if splitter is None:
        if len(options) != 1 or pump.direct_lpm is None:
            return None
        port, total = pump.direct_lpm, pump.direct_lpm
    else:
        fills = len(options) == splitter.ports or (splitter.may_cap and len(options) < splitter.ports)
        if not fills or pump.split_total_lpm is None:
            return None
        port, total = splitter.port_lpm, pump.split_total_lpm
    lows = [max(option.flow_low_lpm, port[0]) for option in options]
    highs = [min(option.flow_high_lpm, port[1]) for option in options]
    if any(low > high * (1 + _MEETS) for low, high in zip(lows, highs, strict=True)):
        return None
    if sum(lows) > total[1] * (1 + _MEETS) or sum(highs) < total[0] * (1 - _MEETS):
        return None
    middles = [min(max((low * high) ** 0.5, low), high) for low, high in zip(lows, highs, strict=True)]
    flows = middles
    if sum(middles) > total[1]:
        room = (total[1] - sum(lows)) / (sum(middles) - sum(lows))
        flows = [low + max(room, 0.0) * (mid - low) for low, mid in zip(lows, middles, strict=True)]
    elif sum(middles) < total[0]:
        room = (total[0] - sum(middles)) / (sum(highs) - sum(middles))
        flows = [mid + min(room, 1.0) * (high - mid) for mid, high in zip(middles, highs, strict=True)]
    return tuple(PortUse(option.name, flow) for option, flow in zip(options, flows, strict=True))


@dataclass(frozen=True)
class PortMap:
    """Samplers placed on pumps: for each pump its kind, its splitter and its ports with flows."""

    trains: tuple[tuple[str, str | None, tuple[PortUse, ...]], ...]
    cautions: tuple[str, ...]


def port_map(
    options: Sequence[SamplerOption],
    equipment: Equipment,
    *,
    pumps_at_once: int = 2,
    area: str | None = None,
    keep_apart: Sequence[str] = (),
) -> PortMap | None:
    """
    The fewest pumps that carry these samplers on one worker, ports and flows with it.

    Parameters
    ----------
    options : sequence of SamplerOption
    equipment : Equipment
    pumps_at_once : int
        Most pumps on the worker.
    area : str, optional
        Area class the pumps must be certified for.
    keep_apart : sequence of str
        Agents that should not all be lost when one pump fails; a caution says where they share a pump.

    Returns
    -------
    PortMap, or None
        ``None`` where nothing carries them all.
    """
    for count in range(1, pumps_at_once + 1):
        for blocks in partitions(len(options), count):
            found = _carry([[options[i] for i in block] for block in blocks], equipment, area)
            if found is not None:
                return PortMap(found, _cautions(found, options, keep_apart))
    return None


def partitions(items: int, blocks: int) -> list[list[list[int]]]:
    """All ways to put items 0 to n - 1 into exactly so many unordered, non-empty blocks."""
    if items == 0:
        return [[]] if blocks == 0 else []
    found = []
    for smaller in partitions(items - 1, blocks):
        for i in range(blocks):
            found.append([[*b, items - 1] if j == i else list(b) for j, b in enumerate(smaller)])
    for smaller in partitions(items - 1, blocks - 1) if blocks else []:
        found.append([*[list(b) for b in smaller], [items - 1]])
    return found


def _carry(
    blocks: list[list[SamplerOption]], equipment: Equipment, area: str | None
) -> tuple[tuple[str, str | None, tuple[PortUse, ...]], ...] | None:
    pumps = [p for p in equipment.pumps if area is None or area in p.certified_for]
    pairs = list(itertools.product(pumps, [None, *equipment.splitters]))
    for choice in itertools.product(pairs, repeat=len(blocks)):
        used_pumps = [pump.name for pump, _ in choice]
        used_splitters = [s.name for _, s in choice if s is not None]
        if any(used_pumps.count(p.name) > p.count for p in pumps):
            continue
        if any(used_splitters.count(s.name) > s.count for s in equipment.splitters):
            continue
        flows = [port_flows(block, p, s) for block, (p, s) in zip(blocks, choice, strict=True)]
        if all(flow is not None for flow in flows):
            return tuple(
                (p.name, s.name if s else None, flow or ()) for flow, (p, s) in zip(flows, choice, strict=True)
            )
    return None


def _cautions(
    trains: tuple[tuple[str, str | None, tuple[PortUse, ...]], ...],
    options: Sequence[SamplerOption],
    keep_apart: Sequence[str],
) -> tuple[str, ...]:
    agents = {option.name: option.agents for option in options}
    cautions = []
    for pump, splitter, ports in trains:
        on_pump = sorted(set(keep_apart) & {a for port in ports for a in agents[port.option]})
        if len(on_pump) > 1 or (on_pump and len(ports) > 1):
            cautions.append(
                f"{', '.join(on_pump)} hang{'s' if len(on_pump) == 1 else ''} on one {pump} with "
                f"{len(ports)} ports ({splitter or 'no splitter'}): if it stops, all are lost. Put the critical "
                "agent on a pump of its own."
            )
    return tuple(cautions)
