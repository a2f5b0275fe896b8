"""A rule book: one authority's (or one house's) thresholds, what follows beyond them, and where each is written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, Literal, TypeAlias

from lapel.said import Said, listed, said

Effect: TypeAlias = Literal["remark", "qualified", "at least", "at most", "partial", "void"]
"""What a finding does to a sample; a remark leaves it sound, "void" takes it out of use."""

EFFECTS: tuple[Effect, ...] = ("remark", "qualified", "at least", "at most", "partial", "void")

Bound: TypeAlias = Literal["above", "from", "below", "is", "not recorded"]
"""How a tier is crossed: above (>), from (>=) or below (<) a number; a claim that is true; a fact nobody recorded."""

Certainty: TypeAlias = Literal["read", "known", "judgement"]
"""Whether the clause was read, is known from the named document without having been re-read, or is judgement."""

CERTAINTIES: tuple[Certainty, ...] = ("read", "known", "judgement")

CERTAINTY_WORDS: dict[Certainty, str] = {
    "read": "read in the source or a public copy of it",
    "known": "known from the named document, not re-read",
    "judgement": "judgement about good practice, no authority behind it",
}


@dataclass(frozen=True, slots=True)
class Citation:
    """
    Where a rule or a choice stands, and how sure that is.

    `clause_unread` marks a number whose clause nobody has read in the current edition: confirm before calling it law.
    """

    document: str
    section: str
    certainty: Certainty
    clause_unread: bool

    def __str__(self) -> str:
        return str(self.words)

    @property
    def words(self) -> Said:
        """Document and section, and whether the clause was not read."""
        return _citation_words(self)


@lru_cache(maxsize=1024)  # one for every finding of a rule
def _citation_words(citation: Citation) -> Said:
    parts = (citation.document, citation.section) if citation.section else (citation.document,)
    place = listed(", ", (said(part) for part in parts))
    return said("{place} [clause not read]", place=place) if citation.clause_unread else place


@dataclass(frozen=True, slots=True)
class Tier:
    """
    One step of a rule: crossed at `value` (in the measure's unit), with what follows and what to do.

    `value` is None where the bound is "is" or "not recorded". `citation` is None where the rule's own holds.
    """

    bound: Bound
    value: float | None
    effect: Effect
    words: str
    remedy: str
    citation: Citation | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """
    One rule: a measure, its tiers from the mildest to the furthest, what it wants, and its source.

    `unrecorded` is what follows when the fact was not recorded; None when that is no finding of this book.
    """

    id: str
    title: str
    measure: str
    wanted: str
    tiers: tuple[Tier, ...]
    citation: Citation
    unrecorded: Tier | None = None
    note: str = ""

    @property
    def source(self) -> str:
        """Document and section, marked where the clause was not read."""
        return str(self.citation)

    @property
    def certainty(self) -> Certainty:
        """How sure the source is."""
        return self.citation.certainty

    @property
    def clause_unread(self) -> bool:
        """Whether nobody has read the clause in its current edition."""
        return self.citation.clause_unread


@dataclass(frozen=True, slots=True)
class Choice:
    """One choice a rule book makes for the whole calculation, with its source."""

    name: str
    value: Any
    words: str
    citation: Citation


@dataclass(frozen=True, slots=True)
class ChoiceSpec:
    """What a choice means and which values it may take (`allowed` words, or a whole/real number from `least` up)."""

    words: str
    allowed: tuple[str, ...] = ()
    kind: Literal["word", "number", "count", "words"] = "word"
    least: float = 0.0


CHOICES: dict[str, ChoiceSpec] = {
    "change_basis": ChoiceSpec(
        "what the percentage between the flows before and after is a percentage of", ("pre", "post", "mean")
    ),
    "flow_rule": ChoiceSpec(
        "which flow makes the volume, of those before and after", ("mean", "lower", "higher", "pre", "post")
    ),
    "unsampled_default": ChoiceSpec(
        "what stands in for shift time without a sample where the shift does not say", ("zero", "mean", "highest")
    ),
    "extended_shift": ChoiceSpec(
        "how a shift that is not 8 hours meets an 8-hour limit",
        (
            "eight-hour equivalent",
            "worst eight hours",
            "brief-scala-day",
            "brief-scala-week",
            "proportional-day",
            "proportional-week",
            "none",
        ),
    ),
    "decision": ChoiceSpec(
        "how one shift's result is held against a limit",
        ("sampling and analytical error", "expanded uncertainty"),
    ),
    "reference_min": ChoiceSpec("reference period of the long-term limits [min]", kind="number", least=1.0),
    "averaging_min": ChoiceSpec("averaging time of the short-term limits [min]", kind="number", least=1.0),
    "blanks_minimum": ChoiceSpec("fewest field blanks for a batch", kind="count"),
    "blanks_one_per": ChoiceSpec("one field blank for so many samples, or part of it", kind="count", least=1.0),
    "blanks_maximum": ChoiceSpec("number of field blanks beyond which no more are wanted", kind="count"),
    "clock_free_min": ChoiceSpec(
        "difference of clock and pump counter that their own reading explains [min]", kind="number"
    ),
    "notification": ChoiceSpec(
        "which rows of the notification table apply, by the beginning of the standard's name", kind="words"
    ),
}


@dataclass(frozen=True)
class RuleBook:
    """
    A whole rule book, checked.

    Attributes
    ----------
    key, title, authority, edition, source
        What it is called and where it comes from; `edition` is the date of this reading of it.
    caution
        What the reader must know before relying on it.
    rules
        Each with its own id.
    choices
        By name, all of `CHOICES`.
    origin
        The file it was read from.
    """

    key: str
    title: str
    authority: str
    edition: str
    source: str
    caution: str
    rules: tuple[Rule, ...]
    choices: Mapping[str, Choice]
    origin: str = ""

    def rule(self, rule_id: str) -> Rule:
        """
        Return one rule by its id.

        Raises
        ------
        KeyError
            The book has no such rule.
        """
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(f"rule book “{self.key}” has no rule “{rule_id}”")

    @cached_property
    def change_basis(self) -> Literal["pre", "post", "mean"]:
        """What the change of flow is a percentage of."""
        basis: Literal["pre", "post", "mean"] = self.choices["change_basis"].value
        return basis

    @property
    def flow_rule(self) -> str:
        """Which flow makes the volume: mean, lower, higher, pre or post."""
        return str(self.choices["flow_rule"].value)

    @property
    def unsampled_default(self) -> str:
        """Treatment of unsampled time where the shift does not say: zero, mean or highest."""
        return str(self.choices["unsampled_default"].value)

    @property
    def extended_shift(self) -> str:
        """How shifts that are not 8 hours are treated."""
        return str(self.choices["extended_shift"].value)

    @property
    def decision(self) -> str:
        """How one shift's result is held against a limit."""
        return str(self.choices["decision"].value)

    @property
    def reference_min(self) -> float:
        """Reference period of long-term limits. [min]"""
        return float(self.choices["reference_min"].value)

    @property
    def averaging_min(self) -> float:
        """Averaging time of short-term limits. [min]"""
        return float(self.choices["averaging_min"].value)

    @cached_property
    def clock_free_min(self) -> float:
        """Difference of clock and counter that needs no explanation. [min]"""
        return float(self.choices["clock_free_min"].value)

    @property
    def notification(self) -> tuple[str, ...]:
        """Standards of the notification table that apply, by the beginning of their names."""
        return tuple(self.choices["notification"].value)

    def blanks_wanted(self, samples: int) -> int:
        """
        Field blanks this book wants for a batch: a minimum, one for so many samples, up to a maximum.

        Parameters
        ----------
        samples : int
            Samples of the batch, blanks not counted.
        """
        by_share = -(-samples // int(self.choices["blanks_one_per"].value))
        most = int(self.choices["blanks_maximum"].value)
        return min(max(int(self.choices["blanks_minimum"].value), by_share), most)
