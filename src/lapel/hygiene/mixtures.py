"""Mixtures: agents that act alike are added up, each as a share of its own limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from lapel.figures import Figure, Formula, formula, number
from lapel.hygiene.shift import least


@dataclass(frozen=True, slots=True)
class MixtureComponent:
    """
    One agent of a mixture.

    Parameters
    ----------
    agent : str
        Its key or name.
    lower, upper : Figure or float
        Ends of its exposure; the same twice for a plain estimate. [mg/m3 or ppm]
    limit : Figure or float
        Its own limit, in the same unit.
    effect_groups : tuple of str
        Effects it is added up for; empty where they are not known.
    """

    agent: str
    lower: Figure | float
    upper: Figure | float
    limit: Figure | float
    effect_groups: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class MixtureIndex:
    """
    Sum of the shares of the limits in one effect group; above 1 is over the limit of the mixture.

    Attributes
    ----------
    effect_group : str
        Name of the effect.
    lower, upper : Figure
        Ends of the index, of unit 1; hold them against 1 with `compare`.
    agents : tuple of str
        Who is in it.
    shares : dict
        Agent to its part of the upper index, adding to 1; 0 everywhere when nothing was found.
    """

    effect_group: str
    lower: Figure
    upper: Figure
    agents: tuple[str, ...]
    shares: dict[str, float]


@dataclass(frozen=True, slots=True)
class MixtureGrouping:
    """Indices by effect group, and the agents that could not be put into one."""

    indices: tuple[MixtureIndex, ...]
    alone: tuple[str, ...]
    effects_unknown: tuple[str, ...]


@formula(
    "additive index",
    "Em = Σ Cᵢ/Lᵢ",
    unit="1",
    source="29 CFR 1910.1000(d)(2)(i)",
    falls_with=("limits",),
    symbols={"exposures": "C", "limits": "L"},
)
def _sum_of_shares(exposures: Sequence[Any], limits: Sequence[Any]) -> Any:
    total: Any = 0.0
    for exposure, limit in zip(exposures, limits, strict=True):
        total = total + exposure / limit
    return total


sum_of_shares: Formula[[Sequence[Any], Sequence[Any]]] = _sum_of_shares


def additive_index(pairs: Iterable[tuple[Figure | float, Figure | float]]) -> Figure:
    """
    Additive index of agents with like effects.

    Parameters
    ----------
    pairs : iterable of (exposure, limit)
        Both in one unit within a pair; different pairs may differ.

    Returns
    -------
    Figure
        Ratio; the exposure to the mixture is over its limit when it is above 1. Non-detects among the exposures make
        it an "at most".

    Raises
    ------
    ValueError
        No pairs, an exposure below 0, a limit not above 0, or units that differ within a pair.

    Notes
    -----
    Only for agents with like effects on the same organ; where effects are independent each agent stands alone.
    """
    listed = [(exposure, limit) for exposure, limit in pairs]
    if not listed:
        raise ValueError("`pairs` must hold at least one exposure and its limit; found none")
    for position, (exposure, limit) in enumerate(listed, start=1):
        check_pair(position, exposure, limit)
    return _sum_of_shares([exposure for exposure, _ in listed], [limit for _, limit in listed])


def additive_indices(components: Iterable[MixtureComponent]) -> MixtureGrouping:
    """
    Sort the agents of one exposure into effect groups and add each group up.

    Parameters
    ----------
    components : iterable of MixtureComponent
        Each agent once; one that has several effects counts in each of its groups.

    Returns
    -------
    MixtureGrouping
        An index for every group of two or more agents, in the order the groups first appear; agents that share no
        effect with another; agents whose effects are not known, which are in no sum.

    Raises
    ------
    ValueError
        An agent appears twice, or as in `additive_index`.
    """
    listed = list(components)
    names = [component.agent for component in listed]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise ValueError(f"each agent must appear once in a mixture; found twice: {', '.join(twice)}")
    members: dict[str, list[MixtureComponent]] = {}
    for component in listed:
        for group in dict.fromkeys(component.effect_groups):
            members.setdefault(group, []).append(component)
    indices = tuple(_index(group, several) for group, several in members.items() if len(several) > 1)
    summed = {agent for index in indices for agent in index.agents}
    return MixtureGrouping(
        indices,
        tuple(c.agent for c in listed if c.effect_groups and c.agent not in summed),
        tuple(c.agent for c in listed if not c.effect_groups),
    )


def _index(group: str, components: list[MixtureComponent]) -> MixtureIndex:
    upper = additive_index([(component.upper, component.limit) for component in components])
    lows = [least(component.lower, _unit(component.lower)) for component in components]
    if all(low is component.upper for low, component in zip(lows, components, strict=True)):
        lower = upper
    else:
        lower = additive_index(
            [(low, component.limit) for low, component in zip(lows, components, strict=True)]
        ).bounding("at least")
    shares = {
        component.agent: number(component.upper) / number(component.limit) / upper.value if upper.value else 0.0
        for component in components
    }
    return MixtureIndex(group, lower, upper, tuple(component.agent for component in components), shares)


def _unit(value: Figure | float) -> str:
    return value.unit if isinstance(value, Figure) else "mg/m3"


def check_pair(position: int, exposure: Figure | float, limit: Figure | float) -> None:
    """
    Refuse an exposure and a limit that cannot be divided.

    Raises
    ------
    ValueError
        The exposure is below 0, the limit not above 0, one is not finite, or their units differ.
    """
    if not 0.0 <= number(exposure) < math.inf:
        raise ValueError(f"exposure {position} must be finite and not below 0; found {number(exposure):g}")
    if not 0.0 < number(limit) < math.inf:
        raise ValueError(f"limit {position} must be finite and above 0; found {number(limit):g}")
    if isinstance(exposure, Figure) and isinstance(limit, Figure) and exposure.unit != limit.unit:
        raise ValueError(f"exposure {position} is in {exposure.unit} but its limit in {limit.unit}")
