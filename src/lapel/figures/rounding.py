"""Rounding, once and last: what a person reads. Nothing rounded is ever compared or computed with."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

from lapel.figures.figure import Figure

MINUS = "\u2212"
SENSE_MARK = {"exactly": "", "at most": "< ", "at least": "≥ ", "unknown": "? "}


def significant(value: float, figures: int = 3) -> str:
    """
    Write a number with so many significant figures, trailing zeros kept.

    Parameters
    ----------
    value : float
        Any finite number.
    figures : int
        At least 1.

    Returns
    -------
    str
        Plain decimals between 1e-4 and 1e6, else “3.20×10⁻⁶” style; ties go to the even digit.

    Raises
    ------
    ValueError
        ``figures`` is below 1 or the value is not finite.
    """
    if figures < 1:
        raise ValueError(f"`figures` must be 1 or more; found {figures}")
    if not math.isfinite(value):
        raise ValueError(f"`value` must be finite; found {value}")
    if value == 0:
        return "0"
    exact = Decimal(repr(float(value)))
    last = exact.adjusted() - figures + 1
    rounded = exact.quantize(Decimal(1).scaleb(last), rounding=ROUND_HALF_EVEN)
    if rounded.adjusted() == exact.adjusted():
        return _written(rounded, last, figures)
    return _at_exponent(exact, last + 1, figures)  # 9.996 became 10.00, which is one figure more


def at_decimals(value: float, decimals: int) -> str:
    """Write a number with so many decimals; ties go to the even digit."""
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_EVEN)
    return _signed(f"{rounded:f}")


def with_uncertainty(value: float, uncertainty: float) -> tuple[str, str]:
    """
    Write a value and its uncertainty to the same decimal, the uncertainty with two significant figures.

    Source: JCGM 100:2008, 7.2.6 (at most two significant digits; estimates rounded to be consistent).
    A value far below its own uncertainty is shown to that decimal all the same.
    """
    if uncertainty <= 0:
        return significant(value), "0"
    exact = Decimal(repr(float(uncertainty)))
    last = _leading_exponent(exact, 2) - 1
    if last >= -6 and abs(value) < 1e6:
        decimals = max(0, -last)
        step = Decimal(1).scaleb(last)
        texts = [
            _signed(f"{Decimal(repr(float(x))).quantize(step, rounding=ROUND_HALF_EVEN):.{decimals}f}")
            for x in (value, uncertainty)
        ]
        return texts[0], texts[1]
    return significant(value, 3), significant(uncertainty, 2)


def percent(share: float, figures: int = 2) -> str:
    """Write a ratio as a percentage, “12 %”."""
    return f"{significant(100 * share, figures)} %"


def shown(figure: Figure, *, figures: int = 3) -> str:
    """Write a figure as one reads it: bound mark, value, unit; “< 0.12 mg/m3”."""
    unit = "" if figure.unit == "1" else f" {display_unit(figure.unit)}"
    return f"{SENSE_MARK[figure.sense]}{significant(figure.value, figures)}{unit}"


def shown_with_uncertainty(figure: Figure, *, coverage_factor: float = 2.0) -> str:
    """Write a figure with its expanded uncertainty, “1.24 ± 0.16 mg/m3 (k = 2)”."""
    unit = "" if figure.unit == "1" else f" {display_unit(figure.unit)}"
    if figure.uncertainty == 0.0:
        return shown(figure)
    value, spread = with_uncertainty(figure.value, figure.expanded(coverage_factor))
    return f"{SENSE_MARK[figure.sense]}{value} ± {spread}{unit} (k = {coverage_factor:g})"


def display_unit(unit: str) -> str:
    """Canonical unit in print: mg/m³, µg."""
    return {"mg/m3": "mg/m³", "ug": "µg", "1": "", "ug/m3": "µg/m³", "degC": "°C"}.get(unit, unit)


def _leading_exponent(exact: Decimal, figures: int) -> int:
    """Power of ten of the first digit, after rounding to so many figures (9.996 becomes 10.0)."""
    exponent = exact.adjusted()
    rounded = exact.quantize(Decimal(1).scaleb(exponent - figures + 1), rounding=ROUND_HALF_EVEN)
    return rounded.adjusted()


def _at_exponent(exact: Decimal, last: int, figures: int) -> str:
    return _written(exact.quantize(Decimal(1).scaleb(last), rounding=ROUND_HALF_EVEN), last, figures)


def _written(rounded: Decimal, last: int, figures: int) -> str:
    size = rounded.adjusted()
    if -5 < size < 6:
        return _signed(f"{rounded:.{max(0, -last)}f}")
    mantissa = rounded.scaleb(-size)
    return f"{_signed(f'{mantissa:.{figures - 1}f}')}×10{_superscript(size)}"


def _superscript(power: int) -> str:
    return str(power).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))


def _signed(text: str) -> str:
    return MINUS + text[1:] if text.startswith("-") else text
