"""The window of every sample a plan may take: question x method, and the kinds of samplers that follow from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapel.assessment.inputs import LimitChoice, Method
from lapel.assessment.plan_inputs import CrewTimes, PlanInputs, Question
from lapel.figures import significant
from lapel.hygiene.concentration import to_mg_m3
from lapel.planning import (
    AgentMethod,
    Margin,
    MethodWindow,
    PortWindow,
    Purpose,
    SamplerOption,
    co_vapour_margin,
    full_shift,
    humidity_margin,
    port_window,
    safe_maximum_volume,
    sampler_options,
    short_term,
    task,
    temperature_margin,
)

LIMIT_KINDS = {"full shift": ("TWA",), "short term": ("STEL", "ceiling"), "task": ("STEL", "ceiling", "TWA")}
"""Which kinds of limit a purpose is compared with."""


@dataclass(frozen=True, slots=True)
class LimitInAir:
    """A limit as its authority states it, and in mg/m3 for the plan."""

    choice: LimitChoice
    mg_m3: float

    @property
    def words(self) -> str:
        """Authority, kind and number as printed."""
        unit = "mg/m³" if self.choice.unit == "mg/m3" else self.choice.unit
        return f"{self.choice.authority} {self.choice.kind} {self.choice.value:g} {unit}"


@dataclass(frozen=True, slots=True)
class PlannedWindow:
    """
    The window of one question by one method.

    `limits` holds every limit the sample is compared with, the lowest first: that one sets the least volume, so that
    all of them can be seen. `agent_key` names what is wanted (agent and purpose) in the campaign.
    """

    question: Question
    method: Method
    agent_key: str
    limits: tuple[LimitInAir, ...]
    window: PortWindow
    terms: AgentMethod


def agent_key(question: Question) -> str:
    """What a question wants, as the campaign counts it: the agent, with purpose and task where not the full shift."""
    if question.purpose == "full shift":
        return question.agent
    return f"{question.agent}, {question.purpose}" + (f" ({question.task})" if question.task else "")


def limits_of(question: Question, inputs: PlanInputs) -> tuple[LimitInAir, ...]:
    """Limits a question's samples are compared with, in mg/m3 at 25 °C and 101.325 kPa, the lowest first."""
    kinds = LIMIT_KINDS[question.purpose]
    mine = [limit for limit in inputs.limits if limit.agent == question.agent and limit.kind in kinds]
    return tuple(sorted((LimitInAir(limit, in_mg_m3(limit, inputs)) for limit in mine), key=lambda each: each.mg_m3))


def in_mg_m3(limit: LimitChoice, inputs: PlanInputs) -> float:
    """A limit in mg/m3; ppm is turned with the agent's molar mass, which the reader has made sure of."""
    if limit.unit == "mg/m3":
        return limit.value
    molar_mass = inputs.agents[limit.agent].molar_mass
    return float(to_mg_m3(limit.value, molar_mass).value)


def windows_of(inputs: PlanInputs) -> tuple[PlannedWindow, ...]:
    """
    Windows of every question by every method it may use.

    Parameters
    ----------
    inputs : PlanInputs

    Returns
    -------
    tuple of PlannedWindow
        In the order of the questions; infeasible ones too, with what to relax.
    """
    return tuple(
        _window(question, method, inputs)
        for question in inputs.questions
        for method in inputs.methods.values()
        if method.agent == question.agent and (not question.methods or method.code in question.methods)
    )


def shift_minutes(question: Question, inputs: PlanInputs) -> float:
    """Length of the shift a question is about. [min]"""
    group = question.group or inputs.group_of(question.worker)
    return inputs.shifts_of(group)[0].minutes


def _window(question: Question, method: Method, inputs: PlanInputs) -> PlannedWindow:
    limits = limits_of(question, inputs)
    laboratory = inputs.laboratory_terms[method.code]
    key = agent_key(question)
    loq_ug = laboratory.reporting_limit_ug or method.reporting_limit_ug or 0.0
    stated = MethodWindow(
        agent=key,
        method=method.code,
        flow_min_lpm=method.flow_min_lpm or 0.0,
        flow_max_lpm=method.flow_max_lpm or 0.0,
        loq_ug=loq_ug,
        volume_min_l=method.volume_min_l or None,
        volume_max_l=method.volume_max_l,
        breakthrough_l=laboratory.breakthrough_l,
    )
    low, high = port_range(inputs)
    window = port_window(
        stated,
        purpose_of(question, limits[0].mg_m3, inputs),
        safe_volume=safe_maximum_volume(
            method_max_l=method.volume_max_l,
            breakthrough_l=laboratory.breakthrough_l,
            margins=margins_of(question, method, limits[0].mg_m3, inputs),
        ),
        port_min_lpm=low,
        port_max_lpm=high,
    )
    medium = inputs.medium_terms.get(method.medium)
    terms = AgentMethod(
        window,
        method.medium,
        laboratory.desorption,
        laboratory.laboratory,
        laboratory.shared_analysis or None,
        medium.cost if medium else 0.0,
        laboratory.cost,
    )
    return PlannedWindow(question, method, key, limits, window, terms)


def purpose_of(question: Question, limit_mg_m3: float, inputs: PlanInputs) -> Purpose:
    """The kernel's purpose of a question: period, limit, share of it to be seen."""
    if question.purpose == "full shift":
        return full_shift(
            limit_mg_m3,
            minutes=shift_minutes(question, inputs),
            fraction=question.see_share or 0.1,
            least_share=question.least_share,
            samplers_max=question.samplers_max or 8,
            shorter_min=float(inputs.crew.after_min),
            longer_min=longer_min(inputs.crew),
            slip_min=float(inputs.crew.hang_min + _act_under_way(inputs.crew)),
        )
    if question.purpose == "short term":
        return short_term(limit_mg_m3, minutes=question.minutes or 15.0, fraction=question.see_share or 0.5)
    return task(
        limit_mg_m3,
        minutes=question.minutes or 0.0,
        fraction=question.see_share or 0.1,
        samplers_max=question.samplers_max or 1,
    )


def longer_min(crew: CrewTimes) -> float:
    """
    Most minutes a pump runs beyond its shift: hung as early as may be, stopped in turn. [min]

    Notes
    -----
    One technician hangs one pump each ``hang_min`` and stops them in the same order, so that who waits for the stop
    was hung later by as much, unless stopping takes longer than hanging.
    """
    turns = max(1, (crew.before_min + crew.after_min) // crew.hang_min)
    waits = (turns - 1) * max(0, crew.take_down_min - crew.hang_min)
    return float(max(0, crew.before_min - crew.hang_min) + waits)


def _act_under_way(crew: CrewTimes) -> int:
    """Minutes a stop or change waits for an act the technician has begun."""
    return max(crew.check_min, crew.change_min)


def margins_of(question: Question, method: Method, limit_mg_m3: float, inputs: PlanInputs) -> tuple[Margin, ...]:
    """Margins taken off the most air a sampler may see, for the humidity, the warmth and the neighbours expected."""
    families = {lot.family for lot in inputs.media_lots.values() if lot.medium == method.medium}
    kind = "charcoal" if any(family.casefold() == "charcoal" for family in families) else "other"
    tested = inputs.laboratory_terms[method.code].tested_humidity_percent
    margins = []
    if inputs.air_humidity_percent is not None:
        margins.append(humidity_margin(inputs.air_humidity_percent, medium_kind=kind, tested_at_percent=tested))
    if inputs.air_temperature_k is not None:
        margins.append(temperature_margin(inputs.air_temperature_k))
    neighbours = co_vapour_margin(2.0 * limit_mg_m3, question.others_mg_m3)
    if question.others_mg_m3:
        own = significant(2.0 * limit_mg_m3)
        words = (
            f"{question.others_mg_m3:g} mg/m³ of other vapours share the bed with {own} of this one, twice its limit"
        )
        neighbours = replace(neighbours, reason=words)
    margins.append(neighbours)
    return tuple(margins)


def port_range(inputs: PlanInputs) -> tuple[float, float]:
    """Lowest and highest flow any port or pump of this equipment holds. [L/min]"""
    lows = [pump.flow_min_lpm for pump in inputs.pumps.values() if pump.flow_min_lpm]
    highs = [pump.flow_max_lpm for pump in inputs.pumps.values() if pump.flow_max_lpm]
    terms = inputs.splitter_terms
    if inputs.splitters and terms.port_min_lpm and terms.port_max_lpm:
        lows.append(terms.port_min_lpm)
        highs.append(terms.port_max_lpm)
    return min(lows), max(highs)


@dataclass(frozen=True, slots=True)
class SamplerKind:
    """One kind of sampler the plan may hang: its short code, the kernel's option, and the windows behind it."""

    code: str
    option: SamplerOption
    windows: tuple[PlannedWindow, ...]

    @property
    def minutes_each(self) -> float:
        """Minutes of one sampler. [min]"""
        return self.option.minutes / self.option.samplers

    @property
    def agents(self) -> tuple[str, ...]:
        """Agents determined from it, by key of agents.csv."""
        return tuple(dict.fromkeys(window.question.agent for window in self.windows))

    @property
    def methods(self) -> tuple[Method, ...]:
        """Methods by which they are."""
        return tuple({window.method.code: window.method for window in self.windows}.values())

    @property
    def purpose(self) -> str:
        """What it is compared with, and the task where there is one."""
        question = self.windows[0].question
        return question.purpose + (f": {question.task}" if question.task else "")


class SamplerKinds:
    """The kinds of samplers of a plan, each named once however many workers wear it."""

    def __init__(self) -> None:
        self._by_content: dict[SamplerOption, str] = {}
        self.by_code: dict[str, SamplerKind] = {}

    def add(self, windows: Sequence[PlannedWindow]) -> tuple[str, ...]:
        """
        Name the kinds that answer these windows together.

        Returns
        -------
        tuple of str
            Codes K1, K2 ...; the same kind gets the same code.
        """
        codes = []
        for option in sampler_options([window.terms for window in windows]):
            content = replace(option, name="")
            code = self._by_content.setdefault(content, f"K{len(self._by_content) + 1}")
            if code not in self.by_code:
                behind = tuple(w for w in windows if w.agent_key in option.agents and w.terms.medium == option.medium)
                self.by_code[code] = SamplerKind(code, replace(option, name=code), _answering(behind, option))
            codes.append(code)
        return tuple(dict.fromkeys(codes))


def _answering(windows: Sequence[PlannedWindow], option: SamplerOption) -> tuple[PlannedWindow, ...]:
    """Of several methods for one agent on this medium, the one whose volume window the option keeps."""
    kept: dict[str, PlannedWindow] = {}
    for window in windows:
        fits = (
            window.window.volume_low_l <= option.volume_low_l * (1 + 1e-12)
            and window.window.volume_high.litres >= option.volume_high_l * (1 - 1e-12)
            and any(run.samplers == option.samplers for run in window.window.runs)
        )
        if fits:
            kept.setdefault(window.agent_key, window)
    return tuple(kept.values())
