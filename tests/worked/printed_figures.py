"""How a number that was printed rounded is compared with one that was not."""

from decimal import Decimal

from lapel.hygiene import NTP, to_mg_m3


def rounding_range(printed: str, *, figures: int | None = None) -> tuple[float, float]:
    """Every number that prints as this one; `figures` where trailing zeros of a whole number are not significant."""
    exact = Decimal(printed)
    exponent = int(exact.as_tuple().exponent)
    if figures is not None:
        exponent = exact.adjusted() - figures + 1
    half = Decimal(5).scaleb(exponent - 1)
    return float(exact - half), float(exact + half)


def prints_as(calculated: float, printed: str, *, figures: int | None = None) -> bool:
    low, high = rounding_range(printed, figures=figures)
    return low <= calculated <= high


def print_the_same_air(ppm: str, mg_m3: str, molar_mass: float, *, air=NTP) -> bool:
    """Whether a printed ppm and a printed mg/m3 can both be roundings of one concentration."""
    low_ppm, high_ppm = rounding_range(ppm)
    low, high = rounding_range(mg_m3)
    return to_mg_m3.raw(low_ppm, molar_mass, air=air) <= high and to_mg_m3.raw(high_ppm, molar_mass, air=air) >= low
