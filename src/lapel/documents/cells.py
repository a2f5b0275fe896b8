"""Cells: figures, flows, shares and limits as text, rounded here, once, for people."""

from __future__ import annotations

import math

from lapel.assessment.results import SegmentFlow
from lapel.figures import Figure, at_decimals, percent, shown, significant, with_uncertainty
from lapel.figures.rounding import display_unit
from lapel.said import Said, listed, said, worded

NOTHING = "–"
"""Cell of a number that is not there."""


def cell(figure: Figure | None, *, figures: int = 3) -> str:
    """A figure as a cell, with its unit; a dash where it is missing."""
    return NOTHING if figure is None else shown(figure, figures=figures)


def cell_with_spread(figure: Figure | None) -> str:
    """A figure with its expanded uncertainty (k = 2), “1.24 ± 0.16 mg/m³”; a bound without one."""
    if figure is None:
        return NOTHING
    if figure.sense != "exactly" or figure.uncertainty == 0.0:
        return shown(figure)
    value, spread = with_uncertainty(figure.value, figure.expanded())
    return f"{value} ± {spread} {display_unit(figure.unit)}".strip()


def cell_as_sure(figure: Figure | None) -> str:
    """A figure to the digit its expanded uncertainty reaches, without writing that beside it; a bound as any bound."""
    if figure is None or figure.sense != "exactly" or figure.uncertainty == 0.0:
        return cell(figure)
    return f"{with_uncertainty(figure.value, figure.expanded())[0]} {display_unit(figure.unit)}".strip()


def flow_cell(figure: Figure | None) -> str:
    """A flow in mL/min below 1 L/min, as the trade reads it."""
    if figure is None:
        return NOTHING
    if figure.value < 1.0:
        return f"{significant(1000.0 * figure.value, 4)} mL/min"
    return f"{significant(figure.value, 4)} L/min"


def share_cell(low: float, high: float, lcl: float, ucl: float) -> str:
    """Share of the limit: the estimate or interval, and in brackets what 95 % one-sided confidence leaves."""
    if math.isinf(high):
        core = f"≥ {ratio_cell(low)}"
    elif high - low > 1e-12 * max(high, 1e-300):
        core = range_cell(ratio_cell(low), ratio_cell(high)) if low > 0.0 else f"< {ratio_cell(high)}"
    else:
        core = ratio_cell(high)
    top = "∞" if math.isinf(ucl) else ratio_cell(ucl)
    return listed("", (core, " (", range_cell(ratio_cell(max(0.0, lcl)), top), ")"))


def kind_cell(authority: str, kind: str) -> Said:
    """Whose limit it is, and of what kind."""
    return said("{authority} {kind}", authority=said(authority), kind=said(kind))


def range_cell(low: str, high: str) -> Said:
    """Two ends of an interval, each rounded already."""
    return said("{low} to {high}", low=low, high=high)


def ratio_cell(value: float) -> str:
    """A share of a limit: two figures below 10, whole above."""
    return "0" if value == 0.0 else significant(value, 2) if value < 10 else at_decimals(value, 0)


def change_cell(segments: tuple[SegmentFlow, ...]) -> str:
    """Largest change of flow over the segments, signed, in percent."""
    changes = [part.change for part in segments if part.change is not None]
    if not changes:
        return NOTHING
    worst = max(changes, key=abs)
    text = at_decimals(100.0 * worst, 1)
    return f"{text if worst < 0 or text == '0.0' else '+' + text} %"


def significant_as_stated(limit: Figure) -> str:
    """A limit with the digits its authority printed; a shortened one with three."""
    unit = display_unit(limit.unit)
    text = f"{limit.value:g}" if limit.derivation is None else significant(limit.value, 3)
    return f"{text} {unit}"


def interval_cell(lower: Figure, upper: Figure) -> str:
    """An average as a cell: an estimate with its uncertainty, an interval, or a least value."""
    if lower is upper:
        return cell_with_spread(upper)
    unit = display_unit(upper.unit)
    if upper.sense in ("at least", "unknown"):
        return f"≥ {significant(lower.value)} {unit}".strip()
    if lower.value <= 0.0:
        return f"< {significant(upper.value)} {unit}".strip()
    return range_cell(significant(lower.value), f"{significant(upper.value)} {unit}".strip())


def budget_cells(figure: Figure) -> list[tuple[str, str, float]]:
    """Uncertainty budget as cells: cause, share of the variance as text, and the share as a number for a bar."""
    return [(worded(row.cause), percent(row.share), row.share) for row in figure.budget()]


def minutes_cell(minutes: float | None) -> str:
    """Whole minutes; a dash where an end is not known."""
    return NOTHING if minutes is None else at_decimals(minutes, 0)


def counted(n: int, one: str, many: str = "") -> Said:
    """So many of something: “1 sample”, “3 samples”, “2 entries”."""
    return said(f"{{n}} {one if n == 1 else many or one + 's'}", n=n)
