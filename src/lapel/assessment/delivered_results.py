"""What a laboratory's report says, before anyone has decided what of it counts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

_NOT_ANALYSED = "not analysed: "


def not_analysed_note(sampler: str, agent: str) -> str:
    """Return the key of the survey's note that says why the laboratory has no result for an agent on a sampler."""
    return f"{_NOT_ANALYSED}{sampler}, {agent}"


def is_not_analysed_note(key: str) -> bool:
    """Say whether a note of a survey says why the laboratory has no result."""
    return key.startswith(_NOT_ANALYSED)


def not_analysed_of(key: str) -> tuple[str, str]:
    """Return the sampler and the agent that such a note is about."""
    sampler, _, agent = key.removeprefix(_NOT_ANALYSED).rpartition(", ")
    return sampler, agent


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveredResult:
    """
    One agent on one sampler, as read from a report; in canonical units, with the cells it was read from.

    Attributes
    ----------
    sampler, agent_printed : str
        As printed; `agent` is the survey's key, empty where none was recognised.
    front_ug, back_ug, total_ug : float or None
        Masses; with ``*_below`` set the number is the reporting limit. [ug]
    concentration_mg_m3, ppm : float or None
        As the laboratory printed them, for checking only; with ``*_below`` an upper bound.
    not_analysed : str
        The laboratory's words for why there is no result; empty where there is one.
    flags : tuple of str
        Letters beside the numbers, such as J (an estimate) and B (also in the blank).
    origin : str
        File, sheet and row.
    printed : str
        The cells as they came, “column: cell” separated by “; ”.
    """

    sampler: str
    agent: str
    agent_printed: str = ""
    front_ug: float | None = None
    front_below: bool = False
    back_ug: float | None = None
    back_below: bool = False
    total_ug: float | None = None
    total_below: bool = False
    reporting_limit_ug: float | None = None
    recovery: float | None = None
    relative_u: float | None = None
    volume_l: float | None = None
    concentration_mg_m3: float | None = None
    concentration_below: bool = False
    ppm: float | None = None
    ppm_below: bool = False
    medium: str = ""
    remark: str = ""
    analysed_on: date | None = None
    not_analysed: str = ""
    flags: tuple[str, ...] = ()
    origin: str = ""
    printed: str = ""

    @property
    def mass_ug(self) -> float | None:
        """Mass of both sections together, a section below its limit counting nothing; None where none is printed."""
        if self.front_ug is None and self.back_ug is None:
            return self.total_ug
        front = 0.0 if self.front_below or self.front_ug is None else self.front_ug
        return front + (0.0 if self.back_below or self.back_ug is None else self.back_ug)

    @property
    def is_below(self) -> bool:
        """Whether nothing was found above the reporting limit."""
        if self.front_ug is None:
            return self.total_below
        return self.front_below and (self.back_ug is None or self.back_below)
