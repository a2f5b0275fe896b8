"""From readings and a laboratory's result to a concentration, for one sampler and agent under one set of choices."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.assessment.bench import FlowBench
from lapel.assessment.inputs import LaboratoryReport, LaboratoryResult, Method
from lapel.assessment.sample import (
    AirDrawn,
    BlankUse,
    DrawnSegment,
    air_drawn,
    as_mole_ratio,
    in_air,
    mass_on_sampler,
    own_method,
)
from lapel.figures import Figure
from lapel.hygiene import Air
from lapel.hygiene.flow import ChangeBasis, FlowRule
from lapel.said import said


@dataclass(frozen=True, slots=True)
class Chain:
    """One sampler and agent between readings and concentration, before any choice is made."""

    drawn: tuple[DrawnSegment, ...]
    result: LaboratoryResult | None
    report: LaboratoryReport | None
    method: Method
    blank: Figure | None
    air: Air | None
    molar_mass: float | None


@dataclass(frozen=True, slots=True)
class Worked:
    """A chain worked through under one set of choices; None where the record does not reach."""

    air: AirDrawn
    mass: Figure | None
    concentration: Figure | None
    ppm: Figure | None


def work(
    chain: Chain, bench: FlowBench, *, rule: FlowRule, basis: ChangeBasis, blank_use: BlankUse, notes: list[str]
) -> Worked:
    """
    Work a chain from its readings to the concentration.

    Parameters
    ----------
    bench : FlowBench
        What its flow readings are worth.
    rule, basis : FlowRule and ChangeBasis
        How a flow follows from the readings before and after, and what its change is a part of.
    blank_use : BlankUse
        What is done with the blank.
    notes : list of str
        Takes up what had to be assumed, and why no mass can be given.
    """
    drawn = air_drawn(chain.drawn, bench, rule=rule, basis=basis)
    if chain.result is None or chain.report is None:
        return Worked(drawn, None, None, None)
    try:
        mass = mass_on_sampler(
            chain.result, chain.report, chain.method, chain.blank, blank_use=blank_use, assumptions=notes
        )
    except ValueError as problem:
        notes.append(said("no mass can be given: {problem}", problem=problem.args[0]))  # keeps its template
        return Worked(drawn, None, None, None)
    method = own_method(chain.method)
    mass = mass.named(mass.name, source=method)
    mg_m3 = in_air(mass, drawn.volume) if drawn.volume is not None else None
    mg_m3 = None if mg_m3 is None else mg_m3.named(mg_m3.name, source=method)
    ppm = None
    if mg_m3 is not None and chain.molar_mass is not None and chain.air is not None:
        ppm = as_mole_ratio(mg_m3, chain.molar_mass, chain.air)
    return Worked(drawn, mass, mg_m3, ppm)
