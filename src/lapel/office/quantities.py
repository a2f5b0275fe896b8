"""Form fields for what the records keep in canonical units and people write otherwise: per cent, mL/min, °C, codes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

_PARTS = re.compile(r"[;,\s]+")


class ScaledField(forms.FloatField):
    """
    A number written in another unit than it is kept in: written = kept * factor + shift.

    Bounds are those of the written number.
    """

    factor = 1.0
    shift = 0.0

    def __init__(self, *, low: float | None = None, high: float | None = None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.low, self.high = low, high

    def prepare_value(self, value: Any) -> Any:
        """Show a kept number as it is written."""
        return float(f"{value * self.factor + self.shift:.12g}") if isinstance(value, (int, float)) else value

    def to_python(self, value: Any) -> Any:
        """Read a written number into the unit it is kept in; one that was not touched stays to the last bit."""
        written = super().to_python(value)
        if written is None:
            return None
        if (self.low is not None and written < self.low) or (self.high is not None and written > self.high):
            raise forms.ValidationError(f"Found {written:g}. Wanted {_range(self.low, self.high)}.")
        return self.kept(written)

    def kept(self, written: float) -> float:
        """The kept number, worked out in decimals, so that a folder written from it reads back the same."""
        return float((Decimal(repr(written)) - Decimal(repr(self.shift))) / Decimal(repr(self.factor)))


class PercentField(ScaledField):
    """A share, written in per cent."""

    factor = 100.0

    def __init__(self, *, low: float | None = 0.0, high: float | None = 100.0, **kwargs: Any) -> None:
        super().__init__(low=low, high=high, **kwargs)

    def kept(self, written: float) -> float:
        """The share, by the division a folder's reader does."""
        return written / 100.0


class MlField(ScaledField):
    """A flow, written in mL/min and kept in L/min."""

    factor = 1000.0

    def __init__(self, *, low: float | None = 0.0, high: float | None = 20000.0, **kwargs: Any) -> None:
        super().__init__(low=low, high=high, **kwargs)


class CelsiusField(ScaledField):
    """A temperature, written in °C and kept in K."""

    shift = -273.15

    def __init__(self, *, low: float | None = -60.0, high: float | None = 70.0, **kwargs: Any) -> None:
        super().__init__(low=low, high=high, **kwargs)


class CodesField(forms.CharField):
    """Several codes in one line, parted by spaces, commas or semicolons; each one of those known, if any are named."""

    def __init__(self, *, known: Iterable[str] | None = None, about: str = "code", **kwargs: Any) -> None:
        super().__init__(**{"required": False, **kwargs})
        self.known = None if known is None else set(known)
        self.about = about

    def prepare_value(self, value: Any) -> Any:
        """Show kept codes in a line."""
        return "; ".join(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        """Read the codes of a line, each once."""
        if isinstance(value, list):
            return value
        codes = list(dict.fromkeys(part for part in _PARTS.split(super().to_python(value) or "") if part))
        strangers = [code for code in codes if self.known is not None and code not in self.known]
        if strangers:
            there = ", ".join(sorted(self.known or ())) or "none yet"
            raise forms.ValidationError(f"Found {', '.join(strangers)}. Wanted a {self.about} that is there: {there}.")
        return codes

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether other codes are written than are kept."""
        try:
            return bool(self.to_python(data or "") != list(initial or []))
        except forms.ValidationError:
            return True


class DaysField(CodesField):
    """Several days in one line, as 2026-06-02."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"help_text": "Days, as in 2026-06-02; 2026-06-03.", **kwargs})

    def to_python(self, value: Any) -> Any:
        """Read the days of a line."""
        days = super().to_python(value)
        for day in days:
            try:
                date.fromisoformat(day)
            except ValueError:
                raise forms.ValidationError(f"Found “{day}”. Wanted days as in 2026-06-02.") from None
        return days


class WordsField(forms.CharField):
    """Several words or phrases in one line, parted by semicolons."""

    def prepare_value(self, value: Any) -> Any:
        """Show kept words in a line."""
        return "; ".join(value) if isinstance(value, list) else value

    def to_python(self, value: Any) -> Any:
        """Read the words of a line, each once."""
        if isinstance(value, list):
            return value
        return list(dict.fromkeys(part.strip() for part in (super().to_python(value) or "").split(";") if part.strip()))

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether other words are written than are kept."""
        return bool(self.to_python(data or "") != list(initial or []))


def _range(low: float | None, high: float | None) -> str:
    if low is None:
        return f"at most {high:g}"
    return f"at least {low:g}" if high is None else f"{low:g} to {high:g}"
