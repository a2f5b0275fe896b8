"""From the laboratory's sections, blanks and recovery to the mass that was collected: each correction exactly once."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, Literal, ParamSpec, TypeAlias

from lapel.figures import (
    Condition,
    Figure,
    Formula,
    Micrograms,
    Ratio,
    above_zero,
    finite,
    formula,
    number,
    reading,
    zero_or_more,
)
from lapel.hygiene.blank import is_at_most
from lapel.said import said

P = ParamSpec("P")

Corrector: TypeAlias = Literal["laboratory", "nobody"]
"""Who has already made a correction to the reported mass."""

usable_recovery = Condition(
    lambda r: 0.0 < r <= 1.2,
    "above 0 and not above 1.2 (a fraction: 0.95, not 95; 75 to 105 % is what methods accept)",
)
"""A recovery anyone would divide by; what lies outside is a slip or a failed method, and is refused."""


class NetMassFormula(Formula[P]):
    """A formula that subtracts a blank; called, it refuses a blank larger than the mass it is taken from."""

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> Figure:
        """Compute the figure, which is never below 0."""
        figure = super().__call__(*args, **kwargs)
        if figure.value < 0.0 and figure.derivation is not None:
            inputs = figure.derivation.inputs
            raise ValueError(
                said(
                    "`blank_ug` of “{name}” must not be larger than `mass_ug`; found a blank of {blank} ug on a mass "
                    "of {mass} ug: report such a sample as below its reporting limit",
                    name=self.card.name,
                    blank=f"{number(inputs['blank_ug']):g}",
                    mass=f"{number(inputs['mass_ug']):g}",
                )
            )
        return figure


def net_mass_formula(*args: Any, **options: Any) -> Callable[[Callable[P, Any]], NetMassFormula[P]]:
    """Make a `NetMassFormula`; arguments as `lapel.figures.formula`."""
    make = formula(*args, **options)

    def decorate(raw: Callable[P, Any]) -> NetMassFormula[P]:
        plain = make(raw)
        return NetMassFormula(
            plain.raw, plain.card, options.get("needs") or {}, frozenset(options.get("falls_with", ()))
        )

    return decorate


@formula(
    "mass on both sections",
    "m = m_front + m_back",
    unit="ug",
    source="both sections of one sampler added (NMAM, calculations of its sorbent methods)",
    needs={"front_ug": zero_or_more, "back_ug": zero_or_more},
    symbols={"front_ug": "m_front", "back_ug": "m_back"},
)
def total_mass(front_ug: Micrograms, back_ug: Micrograms = 0.0) -> Any:
    """
    Mass on a tube's front and back section together.

    Parameters
    ----------
    front_ug, back_ug : float or Figure
        As reported, 0 or more; a section below its reporting limit is that limit, "at most". [ug]

    Returns
    -------
    Figure
        "At most" as soon as one section is. `sections_together` keeps a detected front section an estimate. [ug]

    Raises
    ------
    ValueError
        A mass is negative or not finite.
    """
    return front_ug + back_ug


def sections_together(front_ug: Any, back_ug: Any = None) -> Figure:
    """
    Mass of a tube whose back section may be below its reporting limit.

    Parameters
    ----------
    front_ug, back_ug : float or Figure, or None for a back section that was not reported
        A section below its reporting limit is that limit, "at most". [ug]

    Returns
    -------
    Figure
        Front detected, back not: an estimate with nothing added for the back section, whose limit L stands as an
        uncertainty of L/√3 (anything from 0 to L, seen from 0). In every other case the sum of both, which is "at
        most" where a section is. [ug]

    Raises
    ------
    ValueError
        A mass is negative or not finite.
    """
    if back_ug is None:
        return total_mass(front_ug)
    if is_at_most(back_ug) and not is_at_most(front_ug):
        limit = number(back_ug)
        back_ug = reading(
            0.0,
            "ug",
            name="back section, below its reporting limit",
            uncertainty=limit / math.sqrt(3.0),
            cause="back section below its reporting limit",
            source=("reported as below {limit} ug: between 0 and that, seen from 0", f"{limit:g}"),
        )
    return total_mass(front_ug, back_ug)


@formula(
    "breakthrough",
    "b = m_back / m_front",
    unit="1",
    source="NMAM sorbent tube methods, calculations (1401, step 13: W_b > W_f/10, report breakthrough, possible loss)",
    needs={"front_ug": above_zero, "back_ug": zero_or_more},
    falls_with=("front_ug",),
    symbols={"front_ug": "m_front", "back_ug": "m_back"},
)
def breakthrough_fraction(front_ug: Micrograms, back_ug: Micrograms) -> Any:
    """
    Back section as a fraction of the front section.

    Parameters
    ----------
    front_ug : float or Figure
        Above 0. [ug]
    back_ug : float or Figure
        0 or more; the limit, "at most", where below it. [ug]

    Returns
    -------
    Figure
        NMAM asks at 0.1; laboratories of the US agency treat 0.25 as "result is a minimum". [-]

    Raises
    ------
    ValueError
        The front section is not above 0, or the back section negative.
    """
    return back_ug / front_ug


@formula(
    "share of the total on the back section",
    "b_t = m_back / (m_front + m_back)",
    unit="1",
    source="definition; 10 % of the front section is 9.1 % of the total, 25 % is 20 %",
    needs={"front_ug": above_zero, "back_ug": zero_or_more},
    falls_with=("front_ug",),
    symbols={"front_ug": "m_front", "back_ug": "m_back"},
)
def back_share_of_total(front_ug: Micrograms, back_ug: Micrograms) -> Any:
    """
    Back section as a fraction of both sections, the basis some standards use.

    Parameters
    ----------
    front_ug : float or Figure
        Above 0. [ug]
    back_ug : float or Figure
        0 or more. [ug]

    Returns
    -------
    Figure
        [-]

    Raises
    ------
    ValueError
        The front section is not above 0, or the back section negative.
    """
    return back_ug / (front_ug + back_ug)


@net_mass_formula(
    "collected mass",
    "m = (m_rep − b) / r",
    unit="ug",
    source="mass less blank, over recovery (NMAM, calculations of its sorbent methods)",
    needs={"mass_ug": zero_or_more, "blank_ug": zero_or_more, "recovery": usable_recovery},
    falls_with=("blank_ug", "recovery"),
    symbols={"mass_ug": "m_rep", "blank_ug": "b", "recovery": "r"},
)
def collected_mass(mass_ug: Micrograms, *, blank_ug: Micrograms = 0.0, recovery: Ratio = 1.0) -> Any:
    """
    Mass that was in the sampled air.

    Parameters
    ----------
    mass_ug : float or Figure
        On both sections, as measured, 0 or more. [ug]
    blank_ug : float or Figure
        Not larger than the mass; 0 where the laboratory has subtracted it already. [ug]
    recovery : float or Figure
        Desorption efficiency, above 0 and not above 1.2; 1 where the laboratory has divided by it already. [-]

    Returns
    -------
    Figure
        [ug]

    Raises
    ------
    ValueError
        The mass or blank is negative, the blank larger than the mass, or the recovery outside its range.
    """
    return (mass_ug - blank_ug) / recovery


@formula(
    "mass below the reporting limit after the blank",
    "m ≤ L / r",
    unit="ug",
    source="what is left after the blank is below what the laboratory can tell: a bound, not an estimate",
    needs={"limit_ug": zero_or_more, "recovery": usable_recovery, "mass_ug": zero_or_more, "blank_ug": finite},
    falls_with=("recovery",),
    symbols={"mass_ug": "m_rep", "blank_ug": "b", "limit_ug": "L", "recovery": "r"},
)
def _mass_bound(mass_ug: Any, *, blank_ug: Any, limit_ug: Any, recovery: Any) -> Any:
    return limit_ug / recovery


def laboratory_mass(
    front_ug: Any,
    back_ug: Any = None,
    *,
    blank_ug: Any = None,
    recovery: Any = None,
    blank_corrected_by: Corrector,
    recovery_corrected_by: Corrector,
    reporting_limit_ug: Any = None,
) -> Figure:
    """
    Collected mass from a laboratory's figures, each correction made once by whoever has not made it yet.

    Parameters
    ----------
    front_ug, back_ug : float or Figure, or None for a back section that was not reported
        As reported; a section below its reporting limit is that limit, "at most". [ug]
    blank_ug : float or Figure, optional
        `mean_blank` of the survey's blanks. None where there is none. [ug]
    recovery : float or Figure, optional
        Desorption efficiency, above 0 and not above 1.2. None where none was stated. [-]
    blank_corrected_by, recovery_corrected_by : {"laboratory", "nobody"}
        As the report says. "laboratory": the blank, or recovery, is left alone here.
    reporting_limit_ug : float or Figure, optional
        Where given, a mass that is smaller after the blank becomes "at most" this limit. [ug]

    Returns
    -------
    Figure
        [ug] An estimate, or "at most":

        - A result below its limit stays a bound. No blank is subtracted from a bound; only the recovery divides it.
        - A blank below its own reporting limit L is not subtracted. It stays as an uncertainty of L/√3.
        - A mass the blank takes to the reporting limit or below becomes that limit, "at most".

    Raises
    ------
    ValueError
        A mass is negative, the recovery outside its range, a corrector is neither word, or the blank is larger than
        the mass and no reporting limit is given to fall back on.
    """
    for name, corrector in (
        ("blank_corrected_by", blank_corrected_by),
        ("recovery_corrected_by", recovery_corrected_by),
    ):
        if corrector not in ("laboratory", "nobody"):
            raise ValueError(f"`{name}` must be “laboratory” or “nobody”; found “{corrector}”")
    reported = sections_together(front_ug, back_ug)
    to_divide = 1.0 if recovery is None or recovery_corrected_by == "laboratory" else recovery
    if reported.sense == "at most" or blank_ug is None or blank_corrected_by == "laboratory":
        return collected_mass(reported, recovery=to_divide)
    if is_at_most(blank_ug):
        return collected_mass(reported, blank_ug=_unseen_blank(number(blank_ug)), recovery=to_divide)
    if reporting_limit_ug is not None and number(reported) - number(blank_ug) <= number(reporting_limit_ug):
        limit = reporting_limit_ug if isinstance(reporting_limit_ug, Figure) else _limit(reporting_limit_ug)
        return _mass_bound(reported, blank_ug=blank_ug, limit_ug=limit.bounding("at most"), recovery=to_divide).named(
            "collected mass"
        )
    return collected_mass(reported, blank_ug=blank_ug, recovery=to_divide)


def _limit(value: float) -> Figure:
    return reading(float(value), "ug", name="reporting limit", source="laboratory's report", sense="at most")


def _unseen_blank(limit: float) -> Figure:
    return reading(
        0.0,
        "ug",
        name="blank, below its reporting limit",
        uncertainty=limit / math.sqrt(3.0),
        cause="blank",
        source=("all blanks below {limit} ug: not subtracted; between 0 and that, seen from 0", f"{limit:g}"),
    )
