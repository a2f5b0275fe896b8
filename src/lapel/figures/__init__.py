"""
The figure and its formulas: every number knows its unit, its uncertainty and where it came from.

Imports nothing else of Lapel; see ``docs/science/figures.md``.
"""

from lapel.figures.figure import Contribution, Derivation, Figure, Sense, Source, bare, number, reading
from lapel.figures.formula import (
    Condition,
    Formula,
    FormulaCard,
    GramsPerMole,
    In,
    Kelvin,
    Kilopascal,
    Litres,
    LitresPerMinute,
    Micrograms,
    MilligramsPerCubicMetre,
    Minutes,
    PartsPerMillion,
    Ratio,
    UnitMismatch,
    above_zero,
    finite,
    formula,
    fraction,
    joined,
    turned,
    zero_or_more,
)
from lapel.figures.naming import first_of
from lapel.figures.rounding import (
    at_decimals,
    display_unit,
    percent,
    shown,
    shown_with_uncertainty,
    significant,
    with_uncertainty,
)
from lapel.figures.units import CANONICAL, UnitProblem, canonical, parsed_number, parsed_quantity, spelled
from lapel.figures.working import EARLIER_STEP, Step, Term, Working, earlier_step, working

__all__ = [
    "CANONICAL", "EARLIER_STEP", "Condition", "Contribution", "Derivation", "Figure", "Formula", "FormulaCard",
    "GramsPerMole", "In", "Kelvin", "Kilopascal", "Litres", "LitresPerMinute", "Micrograms", "MilligramsPerCubicMetre",
    "Minutes", "PartsPerMillion", "Ratio", "Sense", "Source", "Step", "Term", "UnitMismatch", "UnitProblem", "Working",
    "above_zero", "at_decimals", "bare", "canonical", "display_unit", "earlier_step", "finite", "first_of", "formula",
    "fraction", "joined", "number", "parsed_number", "parsed_quantity", "percent", "reading", "shown",
    "shown_with_uncertainty", "significant", "spelled", "turned", "with_uncertainty", "working", "zero_or_more",
]  # fmt: skip
