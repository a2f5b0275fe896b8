"""How long records of exposure are kept, by rule book: the packaged table, with its sources and how sure they are."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any, Literal, TypeAlias

CountedFrom: TypeAlias = Literal["measured", "exposure ended"]

CERTAINTY_OF_TABLE = {
    "read": "the text was read",
    "quoted": "read in somebody’s quotation",
    "known": "from memory of the trade, not read: confirm it",
    "judgement": "our judgement",
}
"""How sure a row is, in words."""


@dataclass(frozen=True, slots=True)
class RetentionRule:
    """
    One class of records with the years it is kept.

    Attributes
    ----------
    counted_from : str
        The last day sampled, or the end of exposure: a day nobody measures, so that what is worked out is the earliest.
    """

    key: str
    rule_books: tuple[str, ...]
    what: str
    years: int
    counted_from: CountedFrom
    source: str
    certainty: str
    note: str

    def kept_until(self, last_day: date) -> date:
        """Return the first day on which a record of a last day may be looked at for being let go."""
        try:
            return last_day.replace(year=last_day.year + self.years)
        except ValueError:  # 29 February
            return date(last_day.year + self.years, 3, 1)

    @property
    def certainty_words(self) -> str:
        """How sure it is, in words."""
        return CERTAINTY_OF_TABLE[self.certainty]


@cache
def retention_rules() -> tuple[RetentionRule, ...]:
    """Return the whole table."""
    text = files("lapel.reference").joinpath("data", "retention.toml").read_text(encoding="utf-8")
    data: dict[str, Any] = tomllib.loads(text)
    return tuple(
        RetentionRule(
            **{name: value for name, value in row.items() if name not in ("rule_books", "from")},
            rule_books=tuple(row["rule_books"]),
            counted_from=row["from"],
        )
        for row in data["kept"]
    )


def retention_for(rule_book: str) -> tuple[RetentionRule, ...]:
    """
    Return the classes of a rule book, the longest first.

    A rule book the table does not know, such as a house's own, is given what stands for no named law.
    """
    rules = retention_rules()
    mine = [rule for rule in rules if rule_book in rule.rule_books]
    mine = mine or [rule for rule in rules if "house" in rule.rule_books]
    return tuple(sorted(mine, key=lambda rule: -rule.years))
