"""What was sent to a laboratory, and the matters that come up when its report is held against it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Literal, TypeAlias

Weight: TypeAlias = Literal["settle", "ask", "note"]
"""settle: a person decides before anything is taken over; ask: a question for the laboratory; note: worth knowing."""


def short(value: float, figures: int = 4) -> str:
    """At most so many significant figures, in plain decimals: 29200, never 2.92e+04; no zero is added."""
    return f"{float(f'{value:.{figures}g}'):.15g}"


@dataclass(frozen=True, slots=True)
class SentSampler:
    """
    One sampler as we know it.

    Attributes
    ----------
    is_blank : bool
        Opened without drawing air.
    agents : frozenset of str
        Ordered on it; of a blank, those of its medium's methods.
    reporting_limits_ug : mapping of str to float
        By agent, as the laboratory had promised. [ug]
    volume_l : float or None
        Worked out from the field log. [L]
    """

    code: str
    is_blank: bool
    agents: frozenset[str]
    medium: str = ""
    parcel: str = ""
    volume_l: float | None = None
    sampled_on: date | None = None
    reporting_limits_ug: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Matter:
    """
    Something that does not agree, or is worth knowing.

    Attributes
    ----------
    kind : str
        Short name, one for all matters of a kind.
    found, wanted : str
        In words, with the numbers.
    asks : str
        The question to the laboratory; empty where there is none.
    """

    kind: str
    weight: Weight
    sampler: str
    agent: str
    found: str
    wanted: str = ""
    asks: str = ""
    origin: str = ""
