"""The figure: a value, its unit, how sure it is, and where it came from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from uncertainties import UFloat, ufloat

from lapel.said import in_order

if TYPE_CHECKING:
    from lapel.figures.formula import FormulaCard

Sense: TypeAlias = Literal["exactly", "at most", "at least", "unknown"]
"""What a value claims: the best estimate, an upper bound, a lower bound, or neither bound (two bounds met)."""

Source: TypeAlias = str | tuple[str, ...]
"""
Where a number comes from: a text, or the template of a sentence with what stands for its names, in their order.

The latter becomes a sentence when somebody reads it: a survey has very many readings, and few are looked up.
"""


@dataclass(frozen=True, slots=True)
class Derivation:
    """
    How a figure was made: the formula and everything that went into it.

    Parameters
    ----------
    card : FormulaCard
        Name, expression, unit and source of the formula.
    inputs : dict
        Argument name (``segments[2]``, ``air.pressure_kpa`` for nested ones) to a `Figure` or a plain value.
    """

    card: FormulaCard
    inputs: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of an uncertainty budget: a cause, its standard uncertainty in the figure's unit, its share."""

    cause: str
    uncertainty: float
    share: float


class Figure:
    """
    A number that knows its unit, its standard uncertainty and its derivation.

    Figures are not compared and not added with operators: formulas take them in and give them back, so that every
    step has a name and a source. Comparisons use `.value`, which is never rounded.

    Attributes
    ----------
    value : float
        Best estimate, or the bound where `sense` says so, in `unit`.
    unit : str
        A canonical trade unit (L/min, min, L, ug, mg/m3, ppm, K, kPa) or "1" for a ratio.
    uncertainty : float
        Standard uncertainty (k = 1) in `unit`, linear propagation with correlations kept.
    sense : Sense
        "exactly" for an estimate, "at most" for an upper bound such as a non-detect, "at least" for a lower one.
    name : str
        What the number is, in the trade's words.
    source : str
        Where a number that was not calculated comes from: a log entry, a report, a certificate. Given as `Source`.
    derivation : Derivation or None
        None for a number that was read, typed or reported.
    """

    __slots__ = ("_source", "_uncertainty", "amount", "derivation", "name", "sense", "unit")

    def __init__(
        self,
        amount: Any,
        unit: str,
        *,
        name: str,
        sense: Sense = "exactly",
        source: Source = "",
        derivation: Derivation | None = None,
    ) -> None:
        self.amount = amount
        self.unit = unit
        self.name = name
        self.sense = sense
        self._source = source
        self.derivation = derivation
        self._uncertainty: float | None = None

    @property
    def source(self) -> str:
        """Where a number that was not calculated comes from, in words."""
        return self._source if isinstance(self._source, str) else in_order(*self._source)

    @property
    def value(self) -> float:
        """Best estimate or bound, unrounded."""
        amount = self.amount
        return amount if type(amount) is float else float(getattr(amount, "nominal_value", amount))

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty (k = 1), 0 for a number taken as exact."""
        if self._uncertainty is None:
            amount = self.amount
            if type(amount) is UFloat:  # not a variable itself
                self._uncertainty = math.sqrt(sum([part**2 for _, part in self._components(amount)]))
            else:
                self._uncertainty = float(getattr(amount, "std_dev", 0.0))
        return self._uncertainty

    @property
    def relative_uncertainty(self) -> float:
        """Standard uncertainty as a fraction of the value; infinite when only the value is 0."""
        if self.uncertainty == 0.0:
            return 0.0
        return self.uncertainty / abs(self.value) if self.value else math.inf

    def expanded(self, coverage_factor: float = 2.0) -> float:
        """Expanded uncertainty U = k·u (JCGM 100:2008, 6.2.1), in the figure's unit."""
        return coverage_factor * self.uncertainty

    def budget(self) -> list[Contribution]:
        """
        Share of the variance each cause brings, largest first.

        Variables that carry the same cause (one meter behind two ports) are added as the one thing they are.

        Returns
        -------
        list of Contribution
            Shares add to 1; empty when nothing is uncertain. (JCGM 100:2008, 5.1.2 and 5.2.2.)
        """
        if not isinstance(self.amount, UFloat):
            return []
        by_cause: dict[str, float] = {}
        for variable, component in self._components(self.amount):
            cause = variable.tag or "unnamed cause"
            by_cause[cause] = by_cause.get(cause, 0.0) + component**2
        total = sum(by_cause.values())
        if total == 0.0:
            return []
        rows = [Contribution(cause, math.sqrt(part), part / total) for cause, part in by_cause.items() if part]
        return sorted(rows, key=lambda row: (-row.share, row.cause))

    @staticmethod
    def _components(amount: Any) -> list[tuple[Any, float]]:
        """Each variable with what it brings to the standard uncertainty (JCGM 100:2008, 5.1.2), without its sign."""
        return [
            (variable, abs(derivative * spread) if (spread := variable.std_dev) else 0.0)
            for variable, derivative in amount.derivatives.items()
        ]

    def ancestors(self) -> Iterator[Figure]:
        """Every figure this one rests on, each once, causes before their consequences; this one comes last."""
        seen: set[int] = set()
        stack: list[tuple[Figure, bool]] = [(self, False)]
        while stack:
            figure, opened = stack.pop()
            if opened:
                yield figure
            elif id(figure) not in seen:
                seen.add(id(figure))
                stack.append((figure, True))
                if figure.derivation:
                    children = [item for item in figure.derivation.inputs.values() if isinstance(item, Figure)]
                    stack.extend((child, False) for child in reversed(children) if id(child) not in seen)

    def named(self, name: str, *, source: Source | None = None) -> Figure:
        """Return the same number under the name it has in this place; derivation and shared causes are kept."""
        return Figure(
            self.amount,
            self.unit,
            name=name,
            sense=self.sense,
            source=self._source if source is None else source,
            derivation=self.derivation,
        )

    def bounding(self, sense: Sense) -> Figure:
        """Return the same number, claimed as a bound (or again as an estimate)."""
        return Figure(
            self.amount,
            self.unit,
            name=self.name,
            sense=sense,
            source=self._source,
            derivation=self.derivation,
        )

    def __repr__(self) -> str:
        mark = {"exactly": "", "at most": "<= ", "at least": ">= ", "unknown": "? "}[self.sense]
        return f"Figure({self.name}: {mark}{self.value!r} ± {self.uncertainty:.3g} {self.unit})"


def reading(
    value: float,
    unit: str,
    *,
    name: str,
    uncertainty: float = 0.0,
    cause: str | None = None,
    source: Source = "",
    sense: Sense = "exactly",
) -> Figure:
    """
    Make a figure of something read, typed or reported.

    Parameters
    ----------
    value : float
        The number, already in `unit`.
    unit : str
        Canonical trade unit.
    name : str
        What it is.
    uncertainty : float
        Standard uncertainty (k = 1), in `unit`.
    cause : str, optional
        What makes it uncertain, as it should stand in a budget; the name if left out.
    source : Source
        Log entry, report, certificate or table it stands in.
    sense : Sense
        "at most" for a non-detect's reporting limit.

    Returns
    -------
    Figure
        With a variable of its own when it is uncertain: use the *same* figure wherever the same cause acts.

    Raises
    ------
    ValueError
        The value is not finite, or the uncertainty is negative or not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"`{name}` must be a finite number; found {value}")
    if not (uncertainty >= 0.0 and math.isfinite(uncertainty)):
        raise ValueError(f"uncertainty of `{name}` must be 0 or more and finite; found {uncertainty}")
    amount: Any = ufloat(value, uncertainty, tag=cause or name) if uncertainty else float(value)
    return Figure(amount, unit, name=name, sense=sense, source=source)


def bare(value: Any) -> Any:
    """Take figures apart, also inside lists, tuples and objects that know how (`Air`); other values pass through."""
    kind = type(value)
    if kind is float or kind is int:
        return value
    if isinstance(value, Figure):
        return value.amount
    if kind is list or kind is tuple:
        return kind(bare(item) for item in value)
    take_apart = getattr(value, "bare", None)
    return take_apart() if take_apart is not None else value


def number(value: Any) -> float:
    """Plain float behind a number, a figure or an uncertain amount."""
    amount = value.amount if isinstance(value, Figure) else value
    return amount if type(amount) is float else float(getattr(amount, "nominal_value", amount))
