"""Sizes of a laboratory's numbers: volumes, concentrations, limits and sections against each other and against ours."""

from __future__ import annotations

import math
from collections.abc import Iterator

from lapel.assessment.delivered_results import DeliveredResult
from lapel.assessment.inputs import Survey
from lapel.assessment.reconcile_matters import Matter, SentSampler, short

VOLUME_TOLERANCE = 0.05
"""Relative difference of the laboratory's volume from ours that is asked about; judgement."""
CONCENTRATION_TOLERANCE = 0.05
"""Relative difference of a printed concentration from mass over volume; leaves room for rounding to two digits."""
SECTIONS_TOLERANCE = 0.02
PPM_TOLERANCE = 0.09
"""Room for another reference air: 20 °C instead of 25 °C makes 1.7 %, altitude is the laboratory's to state."""
THOUSAND_WITHIN = 0.10
"""How near a ratio must be to 1,000 or 1/1,000 to be called a unit slip."""
FAR_ABOVE_LIMIT = 300.0
"""Times the limit from which on a result is asked to be looked at for its unit; judgement."""
NTP_MOLAR_VOLUME = 24.465
"""Molar volume at 25 °C and 101.325 kPa. [L/mol]"""


def size_matters(result: DeliveredResult, sampler: SentSampler, survey: Survey, name: str) -> Iterator[Matter]:
    """Say which sizes of one result do not fit, with the factor of 1,000 named where it is one."""
    yield from _volume(result, sampler)
    yield from _concentration(result, sampler, name)
    yield from _mole_ratio(result, sampler, survey, name)
    yield from _limit(result, sampler, name)
    yield from _sections(result, sampler, name)
    yield from _far_above(result, sampler, survey, name)


def _matter(kind: str, sampler: SentSampler, result: DeliveredResult, found: str, wanted: str, asks: str) -> Matter:
    return Matter(kind, "ask" if asks else "note", sampler.code, result.agent, found, wanted, asks, result.origin)


def thousand(ratio: float) -> bool:
    """Whether a ratio is 1,000 or 1/1,000, about: a slip between µg and mg, mL and L, L and m3."""
    return ratio > 0.0 and abs(abs(math.log10(ratio)) - 3.0) <= math.log10(1.0 + THOUSAND_WITHIN)


def _volume(result: DeliveredResult, sampler: SentSampler) -> Iterator[Matter]:
    theirs, ours = result.volume_l, sampler.volume_l
    if not theirs or not ours or abs(theirs / ours - 1.0) <= VOLUME_TOLERANCE:
        return
    slip = " That is a factor of 1,000: mL, L or m3?" if thousand(theirs / ours) else ""
    yield _matter(
        "volume",
        sampler,
        result,
        f"the laboratory's volume of {sampler.code} is {short(theirs)} L, ours {short(ours)} L "
        f"({_change(theirs / ours)}).{slip}",
        "the volume on the form",
        f"Which volume did you use for {sampler.code}: {short(theirs)} L? Ours is {short(ours)} L.{slip}",
    )


def _concentration(result: DeliveredResult, sampler: SentSampler, name: str) -> Iterator[Matter]:
    printed, mass, volume = result.concentration_mg_m3, result.mass_ug, result.volume_l or sampler.volume_l
    if not printed or not mass or not volume or result.concentration_below or result.is_below:
        return
    whose = "your" if result.volume_l else "our"
    ratio = printed / (mass / volume)
    if abs(ratio - 1.0) <= CONCENTRATION_TOLERANCE:
        return
    if thousand(ratio):
        why = " A factor of 1,000: µg or mg, L or m3?"
    elif result.recovery and abs(ratio * result.recovery - 1.0) <= CONCENTRATION_TOLERANCE:
        why = " It fits if the mass was divided by the recovery on the way."
    elif (
        result.front_ug
        and result.back_ug
        and abs(printed / (result.front_ug / volume) - 1.0) <= CONCENTRATION_TOLERANCE
    ):
        why = " It fits if the back section was left out."
    elif (
        result.volume_l and sampler.volume_l and abs(printed / (mass / sampler.volume_l) - 1) <= CONCENTRATION_TOLERANCE
    ):
        why = f" It fits with our volume of {short(sampler.volume_l)} L, not with the printed one."
    else:
        why = ""
    yield _matter(
        "concentration",
        sampler,
        result,
        f"{name} on {sampler.code}: {short(printed)} mg/m³ printed, {short(mass)} µg in {short(volume)} L make "
        f"{short(mass / volume)} "
        f"mg/m³.{why}",
        "mass over volume",
        f"{name} on {sampler.code}: {short(mass)} µg in {whose} {short(volume)} L make {short(mass / volume)} mg/m³; "
        f"you print {short(printed)} mg/m³.{why} Which number is right?",
    )


def _mole_ratio(result: DeliveredResult, sampler: SentSampler, survey: Survey, name: str) -> Iterator[Matter]:
    agent = survey.agents.get(result.agent)
    molar_mass = agent.molar_mass if agent else None
    if not result.ppm or not result.concentration_mg_m3 or not molar_mass or result.ppm_below:
        return
    expected = result.concentration_mg_m3 * NTP_MOLAR_VOLUME / molar_mass
    if abs(result.ppm / expected - 1.0) <= PPM_TOLERANCE:
        return
    slip = " A factor of 1,000: ppm or ppb?" if thousand(result.ppm / expected) else ""
    yield _matter(
        "ppm",
        sampler,
        result,
        f"{name} on {sampler.code}: {short(result.ppm)} ppm and {short(result.concentration_mg_m3)} mg/m³ do not go "
        f"together at "
        f"{molar_mass:g} g/mol: {short(expected)} ppm would.{slip}",
        "the same amount in both units",
        f"{name} on {sampler.code}: at which temperature and pressure, and with which molar mass, is "
        f"{short(result.ppm)} ppm?{slip}",
    )


def _limit(result: DeliveredResult, sampler: SentSampler, name: str) -> Iterator[Matter]:
    printed, promised = result.reporting_limit_ug, sampler.reporting_limits_ug.get(result.agent)
    if not printed or not promised:
        return
    ratio = printed / promised
    if thousand(ratio):
        yield _matter(
            "reporting limit",
            sampler,
            result,
            f"{name} on {sampler.code}: reporting limit {short(printed)} µg, promised {short(promised)} µg: a factor "
            f"of 1,000. "
            "The unit of the masses may be another.",
            f"{short(promised)} µg",
            f"Is the reporting limit of {name} {short(printed)} µg or {short(promised)} µg? Please confirm the unit "
            f"of all masses.",
        )
    elif ratio > 1.0 + 1e-9:
        yield _matter(
            "reporting limit",
            sampler,
            result,
            f"{name} on {sampler.code}: reporting limit {short(printed)} µg, promised {short(promised)} µg",
            f"at most {short(promised)} µg",
            f"For {name} a reporting limit of {short(promised)} µg was agreed; {sampler.code} has "
            f"{short(printed)} µg. Why?",
        )


def _sections(result: DeliveredResult, sampler: SentSampler, name: str) -> Iterator[Matter]:
    front, back, total = result.front_ug, result.back_ug, result.total_ug
    both = result.mass_ug if front is not None and back is not None else None
    if both and total is not None and not result.total_below and abs(total / both - 1.0) > SECTIONS_TOLERANCE:
        yield _matter(
            "sections",
            sampler,
            result,
            f"{name} on {sampler.code}: front and back make {short(both)} µg, the total is printed as "
            f"{short(total)} µg",
            "front plus back",
            f"{name} on {sampler.code}: front and back section make {short(both)} µg, the total says "
            f"{short(total)} µg. Which is right, and was anything subtracted?",
        )
    if back is not None and front is not None and not result.back_below and back > front:
        yield _matter(
            "back above front",
            sampler,
            result,
            f"{name} on {sampler.code}: {short(back)} µg on the back section, {short(front)} µg on the front",
            "less on the back section than on the front",
            f"{name} on {sampler.code} has more on the back section than on the front. Were the sections told "
            f"apart by the "
            "direction of flow, or was the tube turned round?",
        )
    if result.front_ug == 0.0 and not result.front_below and not result.reporting_limit_ug:
        yield _matter(
            "zero",
            sampler,
            result,
            f"{name} on {sampler.code} is printed as 0 without a reporting limit",
            "“<” and the reporting limit",
            f"{name} on {sampler.code} is printed as 0. Below which mass can it not be told?",
        )


def _far_above(result: DeliveredResult, sampler: SentSampler, survey: Survey, name: str) -> Iterator[Matter]:
    mass, volume = result.mass_ug, sampler.volume_l
    if not mass or not volume or result.is_below:
        return
    limits = [limit.value for limit in survey.limits if limit.agent == result.agent and limit.unit == "mg/m3"]
    if limits and mass / volume > FAR_ABOVE_LIMIT * max(limits):
        yield _matter(
            "size",
            sampler,
            result,
            f"{name} on {sampler.code}: {short(mass)} µg in {short(volume)} L make {short(mass / volume)} mg/m³, "
            f"{mass / volume / max(limits):,.0f} times the limit",
            "a unit that fits",
            f"Please confirm the unit of {name} on {sampler.code}: {short(mass)} µg would be very much.",
        )


def _change(ratio: float) -> str:
    return f"{100 * (ratio - 1):+.0f} %".replace("-", "−")
