"""Units at the door: what people type or import becomes a canonical trade unit, exactly and never by guess."""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from types import MappingProxyType
from typing import Any

CANONICAL: Mapping[str, str] = MappingProxyType(
    {
        "flow": "L/min",
        "time": "min",
        "volume": "L",
        "mass": "ug",
        "concentration": "mg/m3",
        "mole ratio": "ppm",
        "temperature": "K",
        "pressure": "kPa",
        "molar mass": "g/mol",
        "ratio": "1",
        "fibre count": "fibre/cm3",
    }
)
"""What the kernel computes in, by kind of quantity."""

_SPELLINGS = {
    "ml/min": "mL/min", "cc/min": "mL/min", "ccm": "mL/min", "mlpm": "mL/min", "lpm": "L/min", "l/min": "L/min",
    "ug": "ug", "mcg": "ug", "µg": "ug", "μg": "ug", "mg/m3": "mg/m3", "mg/m³": "mg/m3", "mg/m^3": "mg/m3",
    "ug/m3": "ug/m3", "µg/m3": "ug/m3", "μg/m3": "ug/m3", "µg/m³": "ug/m3", "μg/m³": "ug/m3", "ug/m^3": "ug/m3",
    "c": "degC", "°c": "degC", "degc": "degC", "f": "degF", "°f": "degF", "degf": "degF", "k": "K",
    "%": "%", "ppm": "ppm", "ppb": "ppb", "l": "L", "ml": "mL", "m3": "m3", "m³": "m3",
    "inhg": "inHg", "mmhg": "mmHg", "hpa": "hPa", "mbar": "mbar", "kpa": "kPa", "pa": "Pa", "atm": "atm",
    "min": "min", "h": "h", "s": "s", "hours": "h", "minutes": "min", "seconds": "s",
}  # fmt: skip
_PINT_NAMES = {
    "mL/min": "milliliter/minute", "L/min": "liter/minute", "ug": "microgram", "mg/m3": "milligram/meter**3",
    "ug/m3": "microgram/meter**3", "%": "percent", "m3": "meter**3", "inHg": "inch_Hg_32F", "mmHg": "mmHg",
    "1": "dimensionless", "fibre/cm3": "fibre/centimeter**3", "g/mol": "gram/mole", "m3/h": "meter**3/hour",
}  # fmt: skip
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,3})?")


class UnitProblem(ValueError):  # noqa: N818 - reads as what it is
    """A text is not a number with a unit of the wanted kind; the message says what was found and what is wanted."""


@functools.cache
def _registry() -> Any:
    import pint  # takes a noticeable part of a second: only those who convert pay for it

    registry: Any = pint.UnitRegistry(non_int_type=Decimal, autoconvert_offset_to_baseunit=True)
    registry.define("fibre = [fibre_count]")
    registry.define("ppb = 1e-9")
    return registry


def spelled(unit: str) -> str:
    """Return our spelling of a unit as people type it ("ml/min", "µg", "°C"); unknown ones come back as typed."""
    text = unit.strip().replace(" ", "")
    return _SPELLINGS.get(text.lower(), text)


@functools.lru_cache(maxsize=512)
def conversion(unit: str, kind: str) -> tuple[Decimal, Decimal]:
    """
    Scale and offset from a unit to the canonical one of its kind: canonical = scale·x + offset.

    Parameters
    ----------
    unit : str
        As typed.
    kind : str
        A key of `CANONICAL`, such as "flow".

    Returns
    -------
    tuple of Decimal
        Exact where the definition is.

    Raises
    ------
    UnitProblem
        The unit is unknown or measures something else.
    """
    wanted = CANONICAL[kind]
    ours = spelled(unit)
    if ours == wanted:
        return Decimal(1), Decimal(0)
    registry = _registry()
    try:
        source = registry.Unit(_PINT_NAMES.get(ours, ours))
        target = registry.Unit(_PINT_NAMES.get(wanted, wanted))
        zero = registry.Quantity(Decimal(0), source).to(target).magnitude
        one = registry.Quantity(Decimal(1), source).to(target).magnitude
    except Exception as problem:  # pint raises many kinds, AttributeError subclasses among them
        raise UnitProblem(f"found the unit “{unit}”; wanted a unit of {kind}, as in “{wanted}”") from problem
    return Decimal(one) - Decimal(zero), Decimal(zero)


def parsed_number(text: str) -> Decimal:
    """
    Read a decimal number exactly as typed.

    Raises
    ------
    UnitProblem
        It is empty, has a decimal comma or thousands mark, or is no number at all. Nothing is guessed.
    """
    cell = text.strip()
    if _NUMBER.fullmatch(cell):
        return Decimal(cell)
    if re.fullmatch(r"[+-]?\d{1,3}([.,]\d{3})*[.,]\d+|[+-]?\d+,\d+", cell):
        raise UnitProblem(f"found “{cell}”; a comma could mean decimals or thousands: write a decimal point")
    raise UnitProblem(f"found “{cell}”; wanted a number with a decimal point, as in 0.25")


@functools.lru_cache(maxsize=8192)  # a log repeats its readings
def canonical(text: str | float, unit: str, kind: str) -> float:
    """
    Convert a typed number in a stated unit to the canonical unit of its kind.

    Parameters
    ----------
    text : str or float
        The number; text is read as typed, so 102.1 mL/min becomes 0.1021 L/min and no neighbour of it.
    unit : str
        The unit it was read in.
    kind : str
        A key of `CANONICAL`.

    Raises
    ------
    UnitProblem
        As `parsed_number` and `conversion`, or the number is not finite.
    """
    value = parsed_number(text) if isinstance(text, str) else _exact(text)
    scale, offset = conversion(unit, kind)
    converted = float(value * scale + offset)
    if not math.isfinite(converted):
        raise UnitProblem(f"found {text}; wanted a number of a size that can be")
    return converted


def parsed_quantity(text: str, kind: str) -> float:
    """
    Read “50 ppm” or “100 mL/min” as a quantity of a kind, in its canonical unit.

    Raises
    ------
    UnitProblem
        No number, no unit, or a unit of something else.
    """
    match = re.fullmatch(rf"\s*({_NUMBER.pattern}|[\d.,+-]+)\s*([^\d\s.,+-].*?)\s*", text)
    if not match:
        raise UnitProblem(f"found “{text.strip()}”; wanted a number and a unit of {kind}, as in “2 {CANONICAL[kind]}”")
    return canonical(match.group(1), match.group(match.lastindex or 0), kind)


def _exact(value: float) -> Decimal:
    try:
        exact = Decimal(repr(float(value)))
    except InvalidOperation:  # pragma: no cover - repr of a float is always a decimal or inf/nan
        exact = Decimal("NaN")
    if not exact.is_finite():
        raise UnitProblem(f"found {value}; wanted a finite number")
    return exact
