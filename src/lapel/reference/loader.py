"""The library of substances, limits and methods: the packaged rows with a user's own beside them, and the search."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Literal, TypeAlias

from lapel.reference import tables
from lapel.reference.rows import Limit, MethodName, MethodRow, Substance

HowFound: TypeAlias = Literal["exact", "begins with", "close"]

CLOSENESS = 0.72
"""Least likeness of a close match (difflib ratio of the names as compared)."""


@dataclass(frozen=True, slots=True)
class Found:
    """A substance found, the name or number it was found by, and how: only an exact one may be taken without asking."""

    substance: Substance
    by: str
    how: HowFound


@dataclass(frozen=True)
class Library:
    """
    Substances, limits and methods, packaged and own.

    Own rows stand beside the packaged ones and never replace them; `source.own` tells them apart.
    """

    own_substances: tuple[Substance, ...] = ()
    own_limits: tuple[Limit, ...] = ()
    own_methods: tuple[MethodRow, ...] = ()

    @property
    def substances(self) -> tuple[Substance, ...]:
        """All substances, own ones first."""
        return self.own_substances + tables.substances()

    @property
    def limits(self) -> tuple[Limit, ...]:
        """All limits, own ones first."""
        return self.own_limits + tables.limits()

    @property
    def methods(self) -> tuple[MethodRow, ...]:
        """All methods, own ones first."""
        return self.own_methods + tables.methods()

    def limits_for(self, cas: str, *, authority: str | None = None) -> tuple[Limit, ...]:
        """Limits of one substance, all authorities' or one's."""
        return tuple(row for row in self._limits_by_cas.get(cas, ()) if authority in (None, row.authority))

    def methods_for(self, cas: str) -> tuple[MethodRow, ...]:
        """Methods for one substance that were read."""
        return tuple(row for row in self.methods if row.cas == cas)

    def method_names_for(self, cas: str) -> tuple[MethodName, ...]:
        """Methods an authority names for one substance, also where the method itself was not read."""
        return tuple(row for row in tables.method_names() if row.cas == cas)

    def search(self, text: str, *, at_most: int = 8) -> tuple[Found, ...]:
        """
        Find substances by name, synonym or CAS number.

        Parameters
        ----------
        text : str
            As typed; capitals, spaces and hyphens make no difference.
        at_most : int
            How many close matches to name at the most.

        Returns
        -------
        tuple of Found
            The exact matches; where there is none those that begin so; where there is none of these either, those that
            are close, the closest first, each labelled as such. Empty where nothing comes near.
        """
        wanted = _compared(text)
        if not wanted:
            return ()
        exact = self._matches(lambda name: name == wanted, "exact")
        if exact:
            return exact
        begins = self._matches(lambda name: name.startswith(wanted), "begins with")
        if begins or re.fullmatch(r"[\d-]+", text.strip()):
            return begins  # numbers that only look alike are other substances
        near = difflib.get_close_matches(wanted, list(self._names), n=at_most, cutoff=CLOSENESS)
        found = [Found(substance, by, "close") for name in near for substance, by in self._names[name]]
        return tuple({item.substance.cas: item for item in reversed(found)}.values())[::-1]

    def substance(self, text: str) -> Substance:
        """
        Return the one substance of exactly this name, synonym or CAS number.

        Raises
        ------
        LookupError
            There is none, or more than one; the message names those that come near. None of them is taken.
        """
        found = self.search(text)
        exact = {item.substance.cas: item.substance for item in found if item.how == "exact"}
        if len(exact) == 1:
            return next(iter(exact.values()))
        if exact:
            names = ", ".join(f"{item.name} ({item.cas})" for item in exact.values())
            raise LookupError(f"“{text}” names more than one substance: {names}. Give the CAS number.")
        near = ", ".join(f"{item.substance.name} ({item.substance.cas})" for item in found)
        digit = ""
        if re.fullmatch(r"\d{2,7}-\d{2}-\d", text.strip()) and not tables.cas_check_digit_holds(text.strip()):
            digit = " Its check digit does not fit: look for a slip of the pen."
        hint = f" Do you mean {near}?" if near else " Add it to your own substances if it is right."
        raise LookupError(f"no substance “{text}” is known.{digit}{hint}")

    def _matches(self, fits: Callable[[str], bool], how: HowFound) -> tuple[Found, ...]:
        found: dict[tuple[str, bool], Found] = {}
        for name, owners in self._names.items():
            if fits(name):
                for substance, by in owners:
                    found.setdefault((substance.cas, substance.source.own), Found(substance, by, how))
        return tuple(found.values())

    @cached_property
    def _names(self) -> dict[str, list[tuple[Substance, str]]]:
        names: dict[str, list[tuple[Substance, str]]] = {}
        for substance in self.substances:
            for name in (substance.name, substance.cas, *substance.synonyms):
                names.setdefault(_compared(name), []).append((substance, name))
        return names

    @cached_property
    def _limits_by_cas(self) -> dict[str, tuple[Limit, ...]]:
        by_cas: dict[str, list[Limit]] = {}
        for row in self.limits:
            by_cas.setdefault(row.cas, []).append(row)
        return {cas: tuple(rows) for cas, rows in by_cas.items()}


def library(
    *,
    own_substances: Iterable[str | Path] = (),
    own_limits: Iterable[str | Path] = (),
    own_methods: Iterable[str | Path] = (),
) -> Library:
    """
    Open the library, with a user's own tables beside the packaged ones.

    Parameters
    ----------
    own_substances, own_limits, own_methods : iterable of path
        CSV files in the layouts of docs/how-to/add-your-own-limits-and-methods.md.

    Raises
    ------
    UnusableFileError
        A table cannot be used; every fault of it is named with row and column.
    """
    return Library(
        tuple(row for path in own_substances for row in tables.own_substances(path)),
        tuple(row for path in own_limits for row in tables.own_limits(path)),
        tuple(row for path in own_methods for row in tables.own_methods(path)),
    )


def _compared(text: str) -> str:
    """Name as it is compared: small letters, no spaces and hyphens."""
    return re.sub(r"[\s\-‐–]+", "", text).casefold()
