"""Guards at the door of every function of this room: what was found, and what is wanted."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["above", "at_least", "between", "count", "finite", "one_limit", "share"]

Floats = NDArray[np.float64]


def as_floats(name: str, given: ArrayLike) -> Floats:
    """
    Read an argument as an array of float64, without guessing.

    Raises
    ------
    TypeError
        The argument holds something that is not a number (text, a missing value, a date, a ragged list).
    """
    try:
        array = np.asarray(given)
    except ValueError as problem:  # a ragged list
        raise TypeError(f"`{name}` must be numbers in one flat list or array; its rows differ in length") from problem
    if array.size and array.dtype.kind not in "fiu":
        items = np.asarray(given, dtype=object)  # numpy turns a list with one text in it into texts
        good = [_is_number(item) for item in items.ravel().tolist()]
        if not all(good):
            wrong = good.index(False)
            found = items.ravel().tolist()[wrong]
            raise TypeError(f"`{name}` must be numbers; {_place(items, wrong)} is {found!r}")
        return items.astype(np.float64)
    return array.astype(np.float64)


def _is_number(item: Any) -> bool:
    return isinstance(item, int | float | np.integer | np.floating) and not isinstance(item, bool)


def _place(array: NDArray[Any], flat_position: int) -> str:
    """How a person counts: from 1; the row and column of a table; nothing for a single number."""
    if array.ndim == 0:
        return "it"
    if array.ndim == 1:
        return f"item {flat_position + 1}"
    where = ", ".join(str(int(k) + 1) for k in np.unravel_index(flat_position, array.shape))
    return f"item ({where})"


def refuse(name: str, array: NDArray[Any], good: NDArray[np.bool_], wanted: str) -> None:
    """
    Raise a ValueError that names the argument, the first bad position and what was found there.

    Parameters
    ----------
    name : str
        The argument, as the caller wrote it.
    array : ndarray
        Its values.
    good : ndarray of bool, shape of `array`
        True where the value may stay.
    wanted : str
        What is wanted, to follow "must be".
    """
    if bool(np.all(good)):
        return
    position = int(np.flatnonzero(~np.ravel(good))[0])
    found = np.ravel(array)[position]
    raise ValueError(f"`{name}` must be {wanted}; {_place(array, position)} is {found:g}")


def finite(**arguments: ArrayLike) -> tuple[Floats, ...]:
    """
    Accept finite numbers of any sign.

    Returns
    -------
    tuple of ndarray of float64
        The arguments in the order given, as arrays.

    Raises
    ------
    ValueError
        A value is not finite.
    TypeError
        A value is not a number.
    """
    arrays = []
    for name, given in arguments.items():
        array = as_floats(name, given)
        refuse(name, array, np.isfinite(array), "finite")
        arrays.append(array)
    return tuple(arrays)


def above(bound: float, **arguments: ArrayLike) -> tuple[Floats, ...]:
    """
    Accept finite numbers above a bound: ``limit, gm = above(0.0, limit=limit, gm=gm)``.

    Returns
    -------
    tuple of ndarray of float64
        The arguments in the order given, as arrays.

    Raises
    ------
    ValueError
        A value is not finite, or not above `bound`.
    TypeError
        A value is not a number.
    """
    arrays = []
    for name, given in arguments.items():
        array = as_floats(name, given)
        refuse(name, array, np.isfinite(array) & (array > bound), f"finite and above {bound:g}")
        arrays.append(array)
    return tuple(arrays)


def at_least(bound: float, **arguments: ArrayLike) -> tuple[Floats, ...]:
    """
    Accept finite numbers at or above a bound.

    Returns
    -------
    tuple of ndarray of float64
        The arguments in the order given, as arrays.

    Raises
    ------
    ValueError
        A value is not finite, or below `bound`.
    TypeError
        A value is not a number.
    """
    arrays = []
    for name, given in arguments.items():
        array = as_floats(name, given)
        refuse(name, array, np.isfinite(array) & (array >= bound), f"finite and at least {bound:g}")
        arrays.append(array)
    return tuple(arrays)


def between(low: float, high: float, **arguments: ArrayLike) -> tuple[Floats, ...]:
    """
    Accept numbers strictly between two bounds: ``(confidence,) = between(0, 1, confidence=confidence)``.

    Returns
    -------
    tuple of ndarray of float64
        The arguments in the order given, as arrays.

    Raises
    ------
    ValueError
        A value is not strictly between `low` and `high`.
    TypeError
        A value is not a number.
    """
    arrays = []
    for name, given in arguments.items():
        array = as_floats(name, given)
        good = (array > low) & (array < high)
        refuse(name, array, good, f"between {low:g} and {high:g}, both excluded")
        arrays.append(array)
    return tuple(arrays)


def share(name: str, given: float) -> float:
    """
    Accept one number strictly between 0 and 1, such as a confidence or a coverage.

    Raises
    ------
    ValueError
        It is not one number, or not strictly between 0 and 1.
    """
    (array,) = between(0.0, 1.0, **{name: given})
    if array.size != 1:
        raise ValueError(f"`{name}` must be one number; it holds {array.size}")
    return float(array.reshape(()))


def count(bound: int, **arguments: ArrayLike) -> tuple[NDArray[np.int64], ...]:
    """
    Accept whole numbers at or above a bound.

    Returns
    -------
    tuple of ndarray of int64
        The arguments in the order given, as arrays.

    Raises
    ------
    ValueError
        A value is not a whole number, or is below `bound`.
    TypeError
        A value is not a number.
    """
    arrays = []
    for name, given in arguments.items():
        array = as_floats(name, given)
        good = np.isfinite(array) & (array >= bound) & (array == np.floor(array))
        refuse(name, array, good, f"a whole number of at least {bound}")
        arrays.append(array.astype(np.int64))
    return tuple(arrays)


def one_limit(limit: float) -> float:
    """
    Accept a limit.

    Raises
    ------
    ValueError
        It is not one number, or not above 0.
    """
    (array,) = above(0.0, limit=limit)
    if array.size != 1:
        raise ValueError(f"`limit` must be one number; it holds {array.size}")
    return float(array.reshape(()))
