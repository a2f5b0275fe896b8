"""A formula is an ordinary function; called with numbers or figures it returns a figure."""

from __future__ import annotations

import functools
import inspect
import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Generic, ParamSpec, TypeAlias, get_type_hints

from lapel.figures.figure import Derivation, Figure, Sense, bare, number

P = ParamSpec("P")


@dataclass(frozen=True, slots=True)
class FormulaCard:
    """Name, expression, unit and source of a formula, as they are shown beside its result."""

    name: str
    expression: str
    unit: str
    source: str
    symbols: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class In:
    """The unit an argument travels in; written as ``Annotated[..., In("L/min")]``."""

    unit: str


LitresPerMinute: TypeAlias = Annotated[Any, In("L/min")]
Minutes: TypeAlias = Annotated[Any, In("min")]
Litres: TypeAlias = Annotated[Any, In("L")]
Micrograms: TypeAlias = Annotated[Any, In("ug")]
MilligramsPerCubicMetre: TypeAlias = Annotated[Any, In("mg/m3")]
PartsPerMillion: TypeAlias = Annotated[Any, In("ppm")]
Kelvin: TypeAlias = Annotated[Any, In("K")]
Kilopascal: TypeAlias = Annotated[Any, In("kPa")]
GramsPerMole: TypeAlias = Annotated[Any, In("g/mol")]
Ratio: TypeAlias = Annotated[Any, In("1")]


class UnitMismatch(ValueError):  # noqa: N818 - reads as what it is
    """A figure came in another unit than the formula works in."""


@dataclass(frozen=True, slots=True)
class Condition:
    """A range an argument must lie in, and how to say so."""

    holds: Callable[[float], bool]
    words: str


above_zero = Condition(lambda x: 0.0 < x < math.inf, "finite and above 0")
zero_or_more = Condition(lambda x: 0.0 <= x < math.inf, "finite and not below 0")
fraction = Condition(lambda x: 0.0 <= x <= 1.0, "between 0 and 1")
finite = Condition(math.isfinite, "finite")


class Formula(Generic[P]):
    """
    A named, sourced formula.

    Called with numbers or figures it checks its arguments, computes, and returns a `Figure` that remembers them.
    `.raw` is the bare function: no checks, no derivation; arrays welcome.

    Attributes
    ----------
    raw : callable
        The function as it was written.
    card : FormulaCard
        Name, expression, unit and source.
    """

    def __init__(
        self,
        raw: Callable[P, Any],
        card: FormulaCard,
        needs: Mapping[str, Condition],
        falls_with: frozenset[str],
    ) -> None:
        self.raw = raw
        self.card = card
        self._needs = dict(needs)
        self._falls_with = falls_with
        self.__signature__ = inspect.signature(raw)
        self._names = list(self.__signature__.parameters)
        self._positional = [
            p.name for p in self.__signature__.parameters.values() if p.kind is not inspect.Parameter.KEYWORD_ONLY
        ]
        unknown = (set(needs) | falls_with | set(card.symbols)) - set(self.__signature__.parameters)
        if unknown:
            raise TypeError(f"formula “{card.name}” names arguments it does not have: {sorted(unknown)}")
        self._defaults = {
            p.name: p.default
            for p in self.__signature__.parameters.values()
            if p.default is not inspect.Parameter.empty
        }
        functools.update_wrapper(self, raw)

    @functools.cached_property
    def _units(self) -> dict[str, str]:
        """Argument to the unit its annotation names."""
        hints = get_type_hints(self.raw, include_extras=True)
        return {
            name: extra.unit
            for name, hint in hints.items()
            for extra in getattr(hint, "__metadata__", ())
            if isinstance(extra, In)
        }

    @functools.cached_property
    def _units_in_order(self) -> tuple[tuple[str, str | None], ...]:
        """Every argument in its order, with the unit its annotation names."""
        return tuple((name, self._units.get(name)) for name in self._names)

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> Figure:
        """Compute the figure; see the formula's own documentation for arguments and errors."""
        if len(args) > len(self._positional) or any(name in kwargs for name in self._positional[: len(args)]):
            self.__signature__.bind(*args, **kwargs)  # raises the usual TypeError
        sense: Sense = "exactly"
        inputs: dict[str, Any] = {}
        bare_values: dict[str, Any] = dict(zip(self._positional, args, strict=False))
        left = len(kwargs)
        for name, unit in self._units_in_order:
            if name in bare_values:
                value = bare_values[name]
            elif name in kwargs:
                value = kwargs[name]
                left -= 1
            else:
                value = self._default(name)
            kind = type(value)
            if kind is float or kind is int or value is None:
                inputs[name] = bare_values[name] = value
            elif kind is Figure:
                if unit is not None and value.unit != unit:
                    raise self._mismatch(name, value)
                inputs[name] = value
                bare_values[name] = value.amount
                if value.sense != "exactly":
                    sense = joined(sense, turned(value.sense) if name in self._falls_with else value.sense)
            else:
                bare_values[name] = bare(value)
                sense = self._spread_out(name, value, inputs, sense)
        if left:
            self.__signature__.bind(*args, **kwargs)  # raises the usual TypeError
        for name, condition in self._needs.items():
            value = inputs[name] if name in inputs else self._given(name, args, kwargs)
            if type(value) is Figure:
                if not condition.holds(value.value):
                    raise self._outside(name, condition, value.value)
            else:
                self._check(name, condition, value)
        amount = self.raw(**bare_values)  # type: ignore[call-arg]
        return Figure(
            amount, self.card.unit, name=self.card.name, sense=sense, derivation=Derivation(self.card, inputs)
        )

    def _given(self, name: str, args: tuple[Any, ...], kwargs: Mapping[str, Any]) -> Any:
        """Return an argument as it was handed in."""
        at = self._names.index(name)
        return args[at] if at < len(args) else kwargs.get(name, self._defaults.get(name))

    def _default(self, name: str) -> Any:
        """Value of an argument that was left out; the usual error where it may not be."""
        if name not in self._defaults:
            raise TypeError(f"{self.raw.__name__}() missing a required argument: '{name}'")
        return self._defaults[name]

    def _spread_out(self, name: str, value: Any, inputs: dict[str, Any], sense: Sense) -> Sense:
        """Note the single numbers of a list, of air, or of a figure of another kind."""
        if isinstance(value, Figure) and value.unit != self._units.get(name, value.unit):
            raise self._mismatch(name, value)
        for label, leaf in leaves(name, value):
            inputs[label] = leaf
            if isinstance(leaf, Figure) and leaf.sense != "exactly":
                sense = joined(sense, turned(leaf.sense) if name in self._falls_with else leaf.sense)
        return sense

    def _mismatch(self, name: str, value: Figure) -> UnitMismatch:
        wanted = self._units[name]
        return UnitMismatch(f"`{name}` of “{self.card.name}” must be in {wanted}; “{value.name}” is in {value.unit}")

    def _check(self, name: str, condition: Condition, value: Any) -> None:
        kind = type(value)
        if value is None or ((kind is float or kind is int) and condition.holds(value)):
            return  # an optional argument that was left out, or a plain number in its range
        if kind is list and all(type(item) is Figure and condition.holds(item.value) for item in value):
            return
        for label, leaf in leaves(name, value):
            found = number(leaf)
            if not condition.holds(found):
                raise self._outside(label, condition, found)

    def _outside(self, label: str, condition: Condition, found: float) -> ValueError:
        return ValueError(f"`{label}` of “{self.card.name}” must be {condition.words}; found {found:g}")

    def __repr__(self) -> str:
        return f"<formula {self.card.name}: {self.card.expression}>"


def formula(
    name: str,
    expression: str,
    *,
    unit: str,
    source: str,
    needs: Mapping[str, Condition] | None = None,
    falls_with: tuple[str, ...] = (),
    symbols: Mapping[str, str] | None = None,
) -> Callable[[Callable[P, Any]], Formula[P]]:
    """
    Turn a function that reads like its textbook line into a formula.

    Parameters
    ----------
    name : str
        What comes out, in the trade's words.
    expression : str
        The line as the book prints it.
    unit : str
        Canonical unit of the result; "1" for a ratio.
    source : str
        Document and section.
    needs : mapping of argument to Condition, optional
        Range each argument must lie in, checked for every call but not in `.raw`.
    falls_with : tuple of str
        Arguments the result falls with: an upper bound there makes a lower bound of the result.
    symbols : mapping of argument to letter, optional
        The expression's letters, for the worked calculation.

    Returns
    -------
    callable
        Decorator giving a `Formula` with the function's own signature.
    """
    card = FormulaCard(name, expression, unit, source, dict(symbols or {}))

    def decorate(raw: Callable[P, Any]) -> Formula[P]:
        return Formula(raw, card, needs or {}, frozenset(falls_with))

    return decorate


def leaves(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    """Yield the single numbers behind an argument, each under the name it has in a worked calculation."""
    if isinstance(value, Figure | float | int):
        yield name, value
    elif isinstance(value, list | tuple):
        for position, item in enumerate(value, start=1):
            yield from leaves(f"{name}[{position}]", item)
    elif (parts := getattr(value, "parts", None)) is not None:
        for part, item in parts().items():
            yield from leaves(f"{name}.{part}", item)
    else:
        yield name, value


def turned(sense: Sense) -> Sense:
    """Return the claim seen through a falling relation: at most becomes at least."""
    if sense == "at most":
        return "at least"
    return "at most" if sense == "at least" else sense


def joined(one: Sense, other: Sense) -> Sense:
    """Return the claim of a result made from two claims; opposite bounds leave neither."""
    if one == other or other == "exactly":
        return one
    return other if one == "exactly" else "unknown"
