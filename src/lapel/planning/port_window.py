"""The window of a sample: which flows over which minutes answer the question, and if none do, what to relax."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapel.figures import Figure
from lapel.planning.arguments import above, ordered
from lapel.planning.diffusion import DIFFUSION_FLOW_LPM, DiffusionShare, diffusion_share, diffusive_uptake
from lapel.planning.safe_volume import SafeVolume, safe_maximum_volume
from lapel.planning.volume_window import MethodWindow, Purpose, expected_mass, required_volume

# A window whose ends meet is a window: 12 L at 0.1 L/min is exactly 120 min, whatever the last bit says.
_MEETS = 1e-12


@dataclass(frozen=True)
class SamplerRun:
    """One way to cover the period: so many samplers one after the other, and the flows that do it."""

    samplers: int
    minutes_each: float
    flow_low_lpm: float
    flow_high_lpm: float

    def allows(self, flow_lpm: float) -> bool:
        """Whether this flow keeps every sampler inside its volume window."""
        return self.flow_low_lpm * (1 - _MEETS) <= flow_lpm <= self.flow_high_lpm * (1 + _MEETS)


@dataclass(frozen=True)
class ExpectedMass:
    """Mass on one sampler at a share of the limit, against the reporting limit."""

    limit_share: float
    low_ug: float
    high_ug: float
    low_over_loq: float


@dataclass(frozen=True)
class PortWindow:
    """
    The feasible region of flow and time for one agent, method and purpose.

    ``runs`` holds every number of consecutive samplers that works, fewest first; empty when nothing does,
    and then ``relax`` says what would have to give.
    """

    method: MethodWindow
    purpose: Purpose
    volume_low_l: float
    volume_high: SafeVolume
    flow_low_lpm: float
    flow_high_lpm: float
    runs: tuple[SamplerRun, ...]
    cautions: tuple[str, ...]
    relax: tuple[str, ...]

    @property
    def is_feasible(self) -> bool:
        """Whether some flow answers the question over the period."""
        return bool(self.runs)

    @property
    def fewest(self) -> SamplerRun:
        """
        The run with the fewest samplers.

        Raises
        ------
        ValueError
            Nothing is feasible.
        """
        if not self.runs:
            raise ValueError(f"{self.method.agent}, {self.purpose.name}: not feasible; {' '.join(self.relax)}")
        return self.runs[0]

    def minutes_at(self, flow_lpm: float) -> tuple[float, float] | None:
        """
        Minutes one sampler may run at a flow: (least, most), the most cut at the period's end.

        Returns ``None`` where the flow is outside the window or the least exceeds the most. [min]
        """
        above(0.0, flow_lpm=flow_lpm)
        if not self.flow_low_lpm * (1 - _MEETS) <= flow_lpm <= self.flow_high_lpm * (1 + _MEETS):
            return None
        least = self.volume_low_l / flow_lpm
        most = min(self.volume_high.litres / flow_lpm, self.purpose.minutes)
        return (least, most) if least <= most * (1 + _MEETS) else None

    def flows_at(self, minutes: float) -> tuple[float, float] | None:
        """Flows that keep one sampler of so many minutes inside its window: (low, high), or ``None``. [L/min]"""
        above(0.0, minutes=minutes)
        low = max(self.flow_low_lpm, self.volume_low_l / minutes)
        high = min(self.flow_high_lpm, self.volume_high.litres / minutes)
        return (low, high) if low <= high * (1 + _MEETS) else None

    def expected_masses(self, run: SamplerRun) -> tuple[ExpectedMass, ...]:
        """Mass on one sampler at 0.1, 0.5 and 1 times the limit, at both ends of the run's flow window."""
        volumes = (run.flow_low_lpm * run.minutes_each, run.flow_high_lpm * run.minutes_each)
        masses = []
        for level in (0.1, 0.5, 1.0):
            low_ug, high_ug = (
                float(expected_mass.raw(self.purpose.limit_mg_m3, litres, limit_share=level)) for litres in volumes
            )
            masses.append(ExpectedMass(level, low_ug, high_ug, low_ug / self.method.loq_ug))
        return tuple(masses)

    def diffusion(self, flow_lpm: float, *, uptake_lpm: float | None = None) -> DiffusionShare:
        """What diffusion may add at this flow."""
        return diffusion_share(flow_lpm, uptake_lpm=uptake_lpm)

    @property
    def required(self) -> Figure:
        """The volume the reporting limit asks for, with its working."""
        return required_volume(self.method.loq_ug, self.purpose.limit_mg_m3, fraction=self.purpose.fraction)

    @property
    def verdict(self) -> str:
        """One sentence for the page."""
        head = f"{self.method.agent} by {self.method.method}, {self.purpose.name}"
        if not self.runs:
            return f"{head}: not feasible. {' '.join(self.relax)}"
        run = self.runs[0]
        count = "one sampler" if run.samplers == 1 else f"{run.samplers} samplers one after the other"
        return (
            f"{head}: feasible with {count} of {run.minutes_each:.4g} min at "
            f"{run.flow_low_lpm * 1000:.4g} to {run.flow_high_lpm * 1000:.4g} mL/min."
        )


def port_window(
    method: MethodWindow,
    purpose: Purpose,
    *,
    safe_volume: SafeVolume | None = None,
    port_min_lpm: float | None = None,
    port_max_lpm: float | None = None,
) -> PortWindow:
    """
    Feasible flows and minutes for one agent, one method and one purpose.

    Parameters
    ----------
    method : MethodWindow
        Flow and volume window of the method, and the laboratory's reporting limit.
    purpose : Purpose
        Period, limit and share of the limit to be seen.
    safe_volume : SafeVolume, optional
        Upper volume with its margins; the method's own and its breakthrough volume where not given.
    port_min_lpm, port_max_lpm : float, optional
        What the port of this pump and splitter can do. [L/min]

    Returns
    -------
    PortWindow
        All feasible numbers of consecutive samplers with their flow windows; cautions; what to relax.

    Raises
    ------
    ValueError
        A port flow is not above 0, or its window is upside down.

    Notes
    -----
    k samplers of t = T/k minutes at flow Q are feasible when V_low <= Q·t <= V_high and Q lies in the
    method's and the port's flow window. The volume a sampler needs, LOQ/(f·L), holds for each of them:
    every one of the k results must be able to show its share of the limit. Where a run may come out shorter or
    longer than planned, V_low holds for the shortest and V_high for the longest. Where the purpose lets part
    of the period go unsampled, the whole period is taken if it works and otherwise the least that must be.
    """
    above(0.0, port_min_lpm=port_min_lpm, port_max_lpm=port_max_lpm)
    ordered("port_min_lpm", port_min_lpm, "port_max_lpm", port_max_lpm)
    high = safe_volume or safe_maximum_volume(method_max_l=method.volume_max_l, breakthrough_l=method.breakthrough_l)
    needed_l = float(required_volume.raw(method.loq_ug, purpose.limit_mg_m3, fraction=purpose.fraction))
    low_l = max(needed_l, method.volume_min_l or 0.0)
    flow_low = max(method.flow_min_lpm, port_min_lpm or 0.0)
    flow_high = min(method.flow_max_lpm, port_max_lpm if port_max_lpm is not None else math.inf)
    runs = tuple(_runs(purpose, low_l, high.litres, flow_low, flow_high))
    window = PortWindow(method, purpose, low_l, high, flow_low, flow_high, runs, _cautions(high, runs), ())
    if runs:
        return window
    relax = _what_to_relax(window, needed_l, port_min_lpm, port_max_lpm)
    return PortWindow(method, purpose, low_l, high, flow_low, flow_high, (), window.cautions, relax)


def _runs(purpose: Purpose, low_l: float, high_l: float, flow_low: float, flow_high: float) -> list[SamplerRun]:
    if flow_low > flow_high or low_l > high_l * (1 + _MEETS):
        return []
    runs = []
    for samplers in range(1, purpose.samplers_max + 1):
        # The whole period where it works; otherwise the part that must be sampled, which leaves most room.
        for minutes in dict.fromkeys((purpose.minutes, purpose.least_min)):
            shortest = purpose.shortest_each(minutes, samplers)
            if shortest <= 0:
                continue
            low = max(flow_low, low_l / shortest)
            high = min(flow_high, high_l / purpose.longest_each(minutes, samplers))
            if low <= high * (1 + _MEETS):
                runs.append(SamplerRun(samplers, minutes / samplers, low, max(low, high)))
                break
    return runs


def _period(purpose: Purpose) -> str:
    """The period's minutes, from shortest to longest run where they differ."""
    shortest, longest = purpose.shortest_each(purpose.minutes, 1), purpose.longest_each(purpose.minutes, 1)
    return f"{shortest:g}" if shortest == longest else f"{shortest:g} to {longest:g}"


def _cautions(high: SafeVolume, runs: tuple[SamplerRun, ...]) -> tuple[str, ...]:
    cautions = []
    if math.isinf(high.litres):
        cautions.append(
            "No maximum volume is known: breakthrough cannot be ruled out. Ask the laboratory, or plan a "
            "back-up section and read it."
        )
    if runs and runs[0].flow_low_lpm < DIFFUSION_FLOW_LPM:
        bound = diffusion_share(runs[0].flow_low_lpm).at_most
        cautions.append(
            f"Below {DIFFUSION_FLOW_LPM * 1000:g} mL/min diffusion adds to the pumped amount: up to "
            f"{100 * bound:.0f} % at {runs[0].flow_low_lpm * 1000:.3g} mL/min for a 4 mm bore with 10 mm free entry "
            f"(about {diffusive_uptake.raw() * 1000:.2g} mL/min); and pumps are not tested so low."
        )
    changes = runs[0].samplers - 1 if runs else 0
    if changes:
        cautions.append(
            f"{changes} sampler change{'s' if changes > 1 else ''} in the shift: hold or clamp the port for each, "
            "and record its time."
        )
    return tuple(cautions)


def _what_to_relax(
    window: PortWindow, needed_l: float, port_min: float | None, port_max: float | None
) -> tuple[str, ...]:
    method, purpose, words = window.method, window.purpose, []
    limit, low_l, high_l = purpose.limit_mg_m3, window.volume_low_l, window.volume_high.litres
    if window.flow_low_lpm > window.flow_high_lpm:
        words.append(
            f"The method wants {method.flow_min_lpm * 1000:g} to {method.flow_max_lpm * 1000:g} mL/min and the "
            f"port gives {(port_min or 0) * 1000:g} to {(port_max or math.inf) * 1000:g}: use another pump, "
            "splitter or method."
        )
        return tuple(words)
    shortest = max(purpose.shortest_each(purpose.minutes, 1), 0.0)
    most_l = min(high_l, window.flow_high_lpm * shortest)
    if low_l > most_l:
        why = (
            f"a sampler may see at most {high_l:.4g} L"
            if high_l <= window.flow_high_lpm * shortest
            else f"{shortest:g} min at {window.flow_high_lpm * 1000:g} mL/min draw {most_l:.4g} L"
        )
        words.append(f"Too little air: {why}, and {low_l:.4g} L are needed.")
        if needed_l > most_l > 0:
            reached = method.loq_ug / (limit * most_l)
            words.append(
                f"Ask the laboratory for a reporting limit of {purpose.fraction * limit * most_l:.3g} µg or "
                f"lower (now {method.loq_ug:g}), or accept that only {100 * reached:.0f} % of the limit is seen "
                f"instead of {100 * purpose.fraction:.0f} %."
            )
        if (method.volume_min_l or 0.0) > most_l:
            words.append(f"The method's least volume is {method.volume_min_l:g} L: ask whether less is valid.")
        if high_l < low_l:
            words.append("Or choose a larger sampler or a method with more capacity.")
        else:
            words.append("Or sample longer, or choose a method with a higher flow.")
        return tuple(words)
    # A sampler that holds the slip alone holds nothing of the period, and no number of them does.
    longest, holds = purpose.longest_each(purpose.least_min, 1), high_l / window.flow_low_lpm - purpose.slip_min
    least_samplers = math.ceil((longest - purpose.slip_min) / holds * (1 - _MEETS)) if holds > 0 else math.inf
    if least_samplers > purpose.samplers_max:
        lowest = high_l / purpose.longest_each(purpose.least_min, purpose.samplers_max)
        words.append(
            f"Too much air: {longest:g} min at the lowest flow, {window.flow_low_lpm * 1000:g} mL/min, "
            f"draw {longest * window.flow_low_lpm:.4g} L and a sampler may see {high_l:.4g} L."
        )
        more = (
            f"Allow {least_samplers} samplers one after the other (now at most {purpose.samplers_max}), or use"
            if holds > 0
            else "Use"
        )
        words.append(
            f"{more} a port that holds {lowest * 1000:.3g} mL/min if the method allows it, or a larger sampler, or "
            "sample a shorter part of the period."
        )
        return tuple(words)
    words.append(
        f"No whole number of samplers up to {purpose.samplers_max} keeps each between {low_l:.4g} and "
        f"{high_l:.4g} L over {_period(purpose)} min. Sample part of the period, ask for a lower reporting "
        "limit, or use a larger sampler."
    )
    return tuple(words)
