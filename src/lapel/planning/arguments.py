"""The planning room's door: every number is looked at once, and a refusal says which, what and what is wanted."""

from __future__ import annotations

import math

from lapel.statistics import arguments


def _given(values: dict[str, float | None]) -> dict[str, float]:
    return {name: value for name, value in values.items() if value is not None}


def above(floor: float, **values: float | None) -> None:
    """
    Refuse values that are not finite and above a floor; ``None`` passes (not given).

    Raises
    ------
    ValueError
        Naming the argument, what was found and what is wanted.
    """
    arguments.above(floor, **_given(values))


def at_least(floor: float, **values: float | None) -> None:
    """
    Refuse values that are not finite or lie below a floor; ``None`` passes (not given).

    Raises
    ------
    ValueError
        Naming the argument, what was found and what is wanted.
    """
    arguments.at_least(floor, **_given(values))


def share(**values: float | None) -> None:
    """
    Refuse values that are not a share above 0 and at most 1; ``None`` passes (not given).

    Raises
    ------
    ValueError
        Naming the argument, what was found and what is wanted.
    """
    for name, value in values.items():
        if value is not None and not (math.isfinite(value) and 0 < value <= 1):
            raise ValueError(f"`{name}` must be a share above 0 and at most 1; it is {value!r}")


def ordered(low_name: str, low: float | None, high_name: str, high: float | None) -> None:
    """
    Refuse a window whose lower end lies above its upper end.

    Raises
    ------
    ValueError
        Naming both ends and what was found.
    """
    if low is not None and high is not None and low > high:
        raise ValueError(f"`{low_name}` ({low:g}) must not be above `{high_name}` ({high:g})")
