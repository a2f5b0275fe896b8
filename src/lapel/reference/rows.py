"""Rows of the reference tables: substances, limits, methods, when workers must be told; each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

CONFIRM = "confirm with the authority"
"""What stands beside every packaged number: it was read on a day, and limits change."""

LimitType: TypeAlias = Literal[
    "TWA-8h", "TWA-10h", "STEL-15min", "STEL-60min", "ceiling", "peak", "action-level", "no-numeric-limit"
]


@dataclass(frozen=True, slots=True)
class Source:
    """
    Where a row comes from.

    Attributes
    ----------
    citation, edition
        Document and place, and which edition or copy of it was read.
    as_of
        Date of that edition or copy; None where it bears none.
    read_on
        Day on which it was read for this table; None for a user's own row that does not say.
    read_from
        "a copy" where the authority's own page was not what was read.
    url
        Page of the authority, empty where there is none.
    own
        Whether the row is the user's own and not a packaged one.
    """

    citation: str
    edition: str
    as_of: date | None
    read_on: date | None
    read_from: str
    url: str
    own: bool = False

    def __str__(self) -> str:
        age = f"as of {self.as_of.isoformat()}" if self.as_of else f"of unknown date ({self.edition or 'undated'})"
        copy = "; read from a copy" if self.read_from == "a copy" else ""
        return f"{self.citation}; {age}{copy}; {CONFIRM}"


@dataclass(frozen=True, slots=True)
class Substance:
    """A substance by its CAS number (or a key where it has none), with its molar mass in g/mol."""

    cas: str
    name: str
    formula: str
    molar_mass: float | None
    synonyms: tuple[str, ...]
    physical_form: str
    source: Source


@dataclass(frozen=True, slots=True)
class Limit:
    """
    One printed limit in one unit; a limit printed in ppm and mg/m3 is two rows.

    `value` is None where the authority names the substance and prints no number. `averaging_min` of a peak is the
    longest time it may last; None on a ceiling means an instant.
    """

    cas: str
    authority: str
    jurisdiction: str
    limit_type: LimitType
    value: float | None
    unit: str
    averaging_min: float | None
    fraction: str
    skin: str
    carcinogen: str
    note: str
    source: Source


@dataclass(frozen=True, slots=True)
class MethodRow:
    """A sampling and analytical method for one substance, as far as its page was read; empty means not seen."""

    method_id: str
    issuer: str
    cas: str
    sampler: str
    sorbent_front_mg: float | None
    sorbent_back_mg: float | None
    media_key: str
    flow_min_lpm: float | None
    flow_max_lpm: float | None
    volume_min_l: float | None
    volume_max_l: float | None
    detection_limit_ug: float | None
    detection_limit_note: str
    field_blanks: str
    shipment: str
    stability_days: float | None
    stability_condition: str
    overall_precision: str
    breakthrough_note: str
    can_share_with: str
    note: str
    source: Source


@dataclass(frozen=True, slots=True)
class MethodName:
    """A method an authority names for a substance, also where its page was not read."""

    cas: str
    issuer: str
    method: str
    source: Source


@dataclass(frozen=True, slots=True)
class NotificationRule:
    """
    How soon workers must be told, by one standard and event, as far as a text was read.

    `days` is None where the number was not seen, `kind_of_day` empty where the text gives a number without it.
    """

    standard: str
    substance: str
    industry: str
    days: int | None
    kind_of_day: str
    trigger: str
    note: str
    source: Source
