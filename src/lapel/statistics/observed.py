"""What was observed: results as numbers known exactly, from above, from below, or within bounds."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lapel.statistics.arguments import above, as_floats, finite, refuse
from lapel.statistics.sentences import listed, said

__all__ = ["Observations", "observed"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Observations:
    """
    Results of one group, one row a result, in the order they were given.

    Every row is a statement "the value lies between `lower` and `upper`": a
    measured result has ``lower == upper``; a result below the reporting limit
    has ``lower == 0`` and ``upper`` the limit; a shift average of which a part
    was not sampled has two bounds; a loaded sampler that lost material has
    ``upper == inf``. No row is ever replaced by a made-up number.

    Parameters
    ----------
    lower, upper : ndarray of float64, shape (n,)
        The bounds of each row. [mg/m3, or any one unit]

    Raises
    ------
    ValueError
        A row has no meaning: the bounds are not a number, crossed, negative,
        an exact value is zero, or both bounds are open (0 to infinity).
    """

    lower: Floats
    upper: Floats

    def __post_init__(self) -> None:
        lower = np.atleast_1d(as_floats("lower", self.lower))
        upper = np.atleast_1d(as_floats("upper", self.upper))
        if lower.ndim != 1 or lower.shape != upper.shape:
            raise ValueError(
                f"`lower` and `upper` must be two lists of one length; they have shapes {lower.shape} and {upper.shape}"
            )
        refuse("lower", lower, np.isfinite(lower) & (lower >= 0.0), "finite and at least 0")
        refuse(
            "upper",
            upper,
            upper > 0.0,
            "above 0 (a result of 0 is a result below a reporting limit: give the limit)",
        )
        crossed = np.flatnonzero(upper < lower)
        if crossed.size:
            i = int(crossed[0])
            raise ValueError(
                f"`upper` must be at least `lower`; item {i + 1} has lower {lower[i]:g} and upper {upper[i]:g}"
            )
        empty = np.flatnonzero((lower == 0.0) & np.isinf(upper))
        if empty.size:
            raise ValueError(
                f"a row must say something; item {int(empty[0]) + 1} lies between 0 and infinity: leave it out"
            )
        lower.setflags(write=False)
        upper.setflags(write=False)
        object.__setattr__(self, "lower", lower)
        object.__setattr__(self, "upper", upper)

    @classmethod
    def measured(cls, values: ArrayLike) -> Self:
        """
        Results known as numbers.

        Parameters
        ----------
        values : array_like, shape (n,)
            Results. [any one unit]

        Raises
        ------
        ValueError
            A value is not finite and above 0.
        """
        (exact,) = above(0.0, values=values)
        return cls(np.atleast_1d(exact), np.atleast_1d(exact))

    @classmethod
    def non_detects(cls, reporting_limits: ArrayLike) -> Self:
        """
        Results below the reporting limit: somewhere between 0 and that limit.

        Parameters
        ----------
        reporting_limits : array_like, shape (n,)
            The limit of each result, as an air concentration. [any one unit]

        Raises
        ------
        ValueError
            A limit is not finite and above 0.
        """
        (limits,) = above(0.0, reporting_limits=reporting_limits)
        return cls(np.zeros_like(np.atleast_1d(limits)), np.atleast_1d(limits))

    @classmethod
    def within(cls, lower: ArrayLike, upper: ArrayLike) -> Self:
        """
        Results known between two bounds, such as a shift average with an unsampled part.

        Parameters
        ----------
        lower, upper : array_like, shape (n,)
            Bounds; 0 is allowed below. [any one unit]

        Raises
        ------
        ValueError
            A bound is not finite, negative, or the two are crossed.
        """
        low, high = finite(lower=lower, upper=upper)
        return cls(np.atleast_1d(low), np.atleast_1d(high))

    @classmethod
    def at_least(cls, lower: ArrayLike) -> Self:
        """
        Results known only from below, such as a sampler that let material through.

        Parameters
        ----------
        lower : array_like, shape (n,)
            What was found; the truth is that or more. [any one unit]

        Raises
        ------
        ValueError
            A bound is not finite and above 0.
        """
        (low,) = above(0.0, lower=lower)
        return cls(np.atleast_1d(low), np.full_like(np.atleast_1d(low), np.inf))

    @property
    def n(self) -> int:
        """Number of rows."""
        return int(self.lower.size)

    def __len__(self) -> int:
        return self.n

    @property
    def is_measured(self) -> Mask:
        """Rows known as a number, shape (n,)."""
        return np.equal(self.lower, self.upper)

    @property
    def is_non_detect(self) -> Mask:
        """Rows known only to be below a reporting limit, shape (n,)."""
        return np.equal(self.lower, 0.0)

    @property
    def is_within(self) -> Mask:
        """Rows known between two bounds, both above 0 and finite, shape (n,)."""
        return (self.lower > 0.0) & (self.upper > self.lower) & np.isfinite(self.upper)

    @property
    def is_at_least(self) -> Mask:
        """Rows known only from below, shape (n,)."""
        return np.equal(self.upper, np.inf)

    @property
    def all_measured(self) -> bool:
        """Whether every row is a number."""
        return bool(np.all(self.is_measured))

    @property
    def values(self) -> Floats:
        """The numbers, rows in place, NaN where a row is not a number. Shape (n,)."""
        return np.where(self.is_measured, self.lower, np.nan)

    @property
    def non_detect_share(self) -> float:
        """Share of rows below the reporting limit; 0 with no rows. [-]"""
        return float(np.mean(self.is_non_detect)) if self.n else 0.0

    def rows(self, which: Sequence[int] | NDArray[np.int64] | Mask) -> Self:
        """Some of the rows, by position (from 0) or by a mask."""
        index = np.asarray(which)
        return type(self)(self.lower[index], self.upper[index])

    def followed_by(self, other: "Observations") -> Self:
        """These rows, then the others."""
        return type(self)(np.concatenate([self.lower, other.lower]), np.concatenate([self.upper, other.upper]))

    def scaled(self, factor: float) -> Self:
        """
        The same results in another unit.

        Raises
        ------
        ValueError
            `factor` is not finite and above 0.
        """
        (k,) = above(0.0, factor=factor)
        return type(self)(self.lower * k, self.upper * k)

    def in_words(self) -> str:
        """Counts by kind: "9 results: 5 measured, 3 below the reporting limit, 1 known within bounds"."""
        if self.n == 0:
            return said("no results")
        kinds = (
            (self.is_measured, said("measured")),
            (self.is_non_detect, said("below the reporting limit")),
            (self.is_within, said("known within bounds")),
            (self.is_at_least, said("known only from below")),
        )
        counts = [listed(" ", (str(int(mask.sum())), word)) for mask, word in kinds if mask.any()]
        template = "{n} result: {counts}" if self.n == 1 else "{n} results: {counts}"
        return said(template, n=self.n, counts=listed(", ", counts))

    def __str__(self) -> str:
        return self.in_words()


def observed(
    values: ArrayLike | Observations | None = None,
    *,
    lower: ArrayLike | None = None,
    upper: ArrayLike | None = None,
) -> Observations:
    """
    Results of one group, rows in place.

    Parameters
    ----------
    values : array_like, shape (n,), optional
        Measured results. NaN where the row is given by `lower` and `upper`
        instead. Observations are passed through. [any one unit]
    lower : array_like, shape (n,) or a single number, optional
        Lower bounds; 0 when left out beside `upper`. NaN in rows given by `values`.
    upper : array_like, shape (n,) or a single number, optional
        Upper bounds, the reporting limit of a non-detect; infinity when left
        out beside `lower`. NaN in rows given by `values`.

    Returns
    -------
    Observations

    Raises
    ------
    ValueError
        Nothing is given, a row is given twice or not at all, or a row has no meaning.
    TypeError
        Something is not a number; text such as "<0.5" is read elsewhere, where the file is known.

    Examples
    --------
    >>> print(observed([0.12, 0.31, float("nan")], upper=[float("nan"), float("nan"), 0.05]))
    3 results: 2 measured, 1 below the reporting limit
    """
    if isinstance(values, Observations):
        if lower is not None or upper is not None:
            raise ValueError("`lower` and `upper` must be left out when `values` are observations already")
        return values
    if values is None and lower is None and upper is None:
        raise ValueError("`values`, `lower` or `upper` must be given; none is")
    if lower is None and upper is None:
        assert values is not None
        return Observations.measured(values)
    size = max(np.size(a) for a in (values, lower, upper) if a is not None)
    exact = _column("values", values, size, fill=np.nan)
    is_exact = ~np.isnan(exact)
    low = _column("lower", lower, size, fill=np.nan)
    high = _column("upper", upper, size, fill=np.nan)
    for name, column, bound in (("lower", low, lower), ("upper", high, upper)):
        twice = np.flatnonzero(is_exact & ~np.isnan(column) & (column != exact))
        for_all = np.ndim(np.asarray(bound)) == 0  # one bound for every row that is not measured
        if bound is not None and not for_all and twice.size:
            i = int(twice[0])
            raise ValueError(
                f"`{name}` must be NaN where `values` holds a result; "
                f"item {i + 1} has value {exact[i]:g} and {name} {column[i]:g}"
            )
    nothing = np.flatnonzero(~is_exact & np.isnan(low) & np.isnan(high))
    if nothing.size:
        raise ValueError(f"every row must be given; item {int(nothing[0]) + 1} has no value and no bound")
    low = np.where(is_exact, exact, np.where(np.isnan(low), 0.0, low))
    high = np.where(is_exact, exact, np.where(np.isnan(high), np.inf, high))
    return Observations(low, high)


def _column(name: str, given: ArrayLike | None, size: int, *, fill: float) -> Floats:
    """One column of `size` rows; a single number stands for every row."""
    if given is None:
        return np.full(size, fill)
    array = as_floats(name, given)
    if array.ndim == 0:
        return np.full(size, float(array))
    if array.ndim != 1 or array.size != size:
        raise ValueError(f"`{name}` must have {size} rows like the others; it has shape {array.shape}")
    return array
