"""Roots of monotone functions, bracketed, so that they always come home."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["bracketed_root", "rising_roots"]

Floats = NDArray[np.float64]


def bracketed_root(function: Callable[[float], float], low: float, high: float, *, relative: float = 1e-14) -> float:
    """
    Root of a function between two places where its signs differ: false position after Illinois.

    Parameters
    ----------
    function : callable
        Continuous, of one number.
    low, high : float
        Where its values have opposite signs (or one is 0).
    relative : float
        Width of the final bracket, relative to its ends.

    Returns
    -------
    float

    Raises
    ------
    ArithmeticError
        The signs at the two ends are the same.
    """
    at_low, at_high = function(low), function(high)
    if at_low == 0.0:
        return low
    if at_high == 0.0:
        return high
    if (at_low > 0.0) == (at_high > 0.0):
        raise ArithmeticError(f"no change of sign between {low!r} ({at_low!r}) and {high!r} ({at_high!r})")
    rising, side = at_high > 0.0, 0
    for step in range(300):
        if high - low <= relative * (abs(low) + abs(high)):
            break
        x = (low * at_high - high * at_low) / (at_high - at_low)
        if step % 8 == 7 or not low < x < high:
            x = (low + high) / 2.0
        if not low < x < high:
            break
        value = function(x)
        if value == 0.0:
            return x
        if (value < 0.0) == rising:
            low, at_low = x, value
            at_high = at_high / 2.0 if side == 1 else at_high
            side = 1
        else:
            high, at_high = x, value
            at_low = at_low / 2.0 if side == -1 else at_low
            side = -1
    return (low + high) / 2.0


def rising_roots(gap: Callable[[Floats], Floats], start: Floats, width: Floats) -> Floats:
    """
    Root of a rising function, element by element: bracket by doubling, then false position and bisection.

    Parameters
    ----------
    gap : callable
        Takes and returns arrays of one shape; each element rises with its argument.
    start, width : ndarray
        First guess and how far to look at first.

    Returns
    -------
    ndarray of float64, shape of `start`
    """
    low, high = start - width, start + width
    gap_low, gap_high = gap(low), gap(high)
    reach = width
    for _ in range(60):
        too_high, too_low = gap_low > 0.0, gap_high < 0.0
        if not (too_high.any() or too_low.any()):
            break
        reach = reach * 2.0
        low = np.where(too_high, low - reach, low)
        high = np.where(too_low, high + reach, high)
        gap_low, gap_high = gap(low), gap(high)
    for step in range(200):
        span = high - low
        if np.all(span <= 4e-15 * np.maximum(np.abs(low), np.abs(high)) + 1e-300):
            break
        middle = (low + high) / 2.0
        if step % 3:  # two steps of false position, one of bisection: safe and fast
            with np.errstate(divide="ignore", invalid="ignore"):
                guess = low - gap_low * span / (gap_high - gap_low)
            # A hair towards the far end, so that both ends of the bracket keep moving.
            hair = 1e-3 * span if step % 3 == 1 else 1e-7 * span
            guess = guess + np.where(np.abs(gap_low) < np.abs(gap_high), hair, -hair)
            middle = np.where((guess > low) & (guess < high), guess, middle)
        value = gap(middle)
        falls = value < 0.0
        low, gap_low = np.where(falls, middle, low), np.where(falls, value, gap_low)
        high, gap_high = np.where(falls, high, middle), np.where(falls, gap_high, value)
    return np.asarray((low + high) / 2.0)
