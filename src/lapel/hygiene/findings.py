"""The standing of a sample: its facts held against a rule book, with every finding, its source and what to do."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal, Protocol, TypeAlias

from lapel.figures.rounding import significant
from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.measures import CLAIM, MEASURES, NOT_RECORDED, Measure
from lapel.hygiene.measures.measure import Question, not_recorded_words, shown_number, source_words
from lapel.hygiene.rulebook import Certainty, Effect, Rule, RuleBook, Tier
from lapel.said import Said, said

Level: TypeAlias = Literal["sound", "qualified", "void"]
StandingBound: TypeAlias = Literal["exactly", "at least", "at most", "unknown"]

LEVELS: tuple[Level, ...] = ("sound", "qualified", "void")

ROUNDING_SLACK = 1e-9
"""Relative room for binary fractions: 0.100 to 0.105 is 5 %, not 5.000000000000004 %, and does not exceed 5 %."""


class Override(Protocol):
    """A person's decision that a finding does not have its usual effect on a sample, and why."""

    @property
    def sampler(self) -> str:
        """Which sampler it is about."""

    @property
    def rule(self) -> str:
        """Id of the rule whose finding is overridden."""

    @property
    def person(self) -> str:
        """Who decided."""

    @property
    def reason(self) -> str:
        """Why."""


@dataclass(frozen=True, slots=True)
class Finding:
    """
    One thing a rule found about a sample.

    Attributes
    ----------
    rule, title
        Id and name of the rule.
    found, wanted
        What was found, with its numbers, and what the rule wants.
    value
        The number behind `found`, unrounded, in the measure's unit; None for claims and for what was not recorded.
    effect
        What it does to the sample when nobody overrides it.
    words
        What that means.
    remedy
        What to do.
    source, certainty, clause_unread
        Where the rule stands, how sure that is, and whether its clause has gone unread.
    overridden_by, override_reason
        Who took the effect away, and why; empty as a rule.
    """

    rule: str
    title: str
    found: str
    wanted: str
    value: float | None
    effect: Effect
    words: str
    remedy: str
    source: str
    certainty: Certainty
    clause_unread: bool
    overridden_by: str = ""
    override_reason: str = ""

    @property
    def counts(self) -> bool:
        """Whether the finding still has its effect."""
        return not self.overridden_by


@dataclass(frozen=True, slots=True)
class Standing:
    """
    What a sample may be used for.

    Attributes
    ----------
    level
        "sound" (nothing but remarks), "qualified" (usable with a stated limitation) or "void" (must not be used).
    bound
        "exactly", "at least" or "at most" where a finding makes the result a bound; "unknown" where two findings pull
        opposite ways.
    partial
        The sample stands for a part of the period only.
    findings
        All of them, in the rule book's order, overridden ones included.
    rule_book
        Key of the rule book.
    idle_overrides
        Rules somebody wanted to override here and that found nothing; shown, so that none lies in wait unseen.
    """

    level: Level
    bound: StandingBound
    partial: bool
    findings: tuple[Finding, ...]
    rule_book: str
    idle_overrides: tuple[str, ...] = ()

    def of(self, rule: str) -> Finding | None:
        """Return the finding of one rule, None where it found nothing."""
        return next((finding for finding in self.findings if finding.rule == rule), None)


def judge(facts: SampleFacts, rule_book: RuleBook, overrides: Iterable[Override] = ()) -> Standing:
    """
    Hold one sample's facts against a rule book.

    Parameters
    ----------
    facts : SampleFacts
        What is known about the sampler and agent.
    rule_book : RuleBook
        Whose rules.
    overrides : iterable of Override
        Those of other samplers are passed over.

    Returns
    -------
    Standing
        With every finding. An overridden finding stays in the list, with its person and reason, and has no effect.

    Raises
    ------
    ValueError
        A fact is not a number (NaN), or an override names no person or no reason.
    """
    findings = [
        _finding(facts, rule_book, rule, tier, measure, measured)
        for rule, measure, tier, measured in _fired(facts, rule_book)
    ]
    idle: tuple[str, ...] = ()
    mine = [override for override in overrides if override.sampler == facts.sampler] if overrides else []
    if mine:
        findings, idle = _overridden(findings, mine)
    return _standing(rule_book.key, findings, idle)


def side_by_side(
    facts: SampleFacts, rule_books: Sequence[RuleBook], overrides: Iterable[Override] = ()
) -> dict[str, Standing]:
    """
    Hold one sample's facts against several rule books.

    Returns
    -------
    dict of str to Standing
        By rule book key, in the order given. An override acts under every book that has a rule of that id.
    """
    kept = tuple(overrides)
    return {book.key: judge(facts, book, kept) for book in rule_books}


def worst_of(standings: Iterable[Standing]) -> Standing:
    """
    Put together what several samples give one average: the worst level, the bounds met, every finding once.

    A void sample voids the average that needs it. Whoever leaves the void sample out of the average must leave it out
    here as well, and has a shorter sampled time instead.

    Raises
    ------
    ValueError
        No standing was given, or they come from different rule books.
    """
    parts = list(standings)
    if not parts:
        raise ValueError("`standings` must hold at least one standing; found none")
    books = sorted({part.rule_book for part in parts})
    if len(books) > 1:
        raise ValueError(f"`standings` must come from one rule book; found {', '.join(books)}")
    findings = list(dict.fromkeys(finding for part in parts for finding in part.findings))
    level = max((part.level for part in parts), key=LEVELS.index)
    idle = tuple(dict.fromkeys(rule for part in parts for rule in part.idle_overrides))
    bounds = {part.bound for part in parts} - {"exactly"}
    bound: StandingBound = "exactly" if not bounds else bounds.pop() if len(bounds) == 1 else "unknown"
    return Standing(level, bound, any(part.partial for part in parts), tuple(findings), books[0], idle)


# How a fired tier is found. A rule is compiled once a book to (rule, question, sign, gate, steps): with the sign, every
# bound reads "signed answer above gate", and most samples leave at that one comparison.


@dataclass(frozen=True, slots=True)
class _Compiled:
    rule: Rule
    measure: Measure
    ask: Question
    sign: float
    gate: float
    steps: tuple[tuple[float, Tier], ...]  # furthest first


def _gate(tier: Tier) -> float:
    if tier.bound == "is":
        return 0.5
    assert tier.value is not None  # the loader and `RuleBook` tests hold this
    slack = ROUNDING_SLACK * abs(tier.value)
    if tier.bound == "from":
        return tier.value - slack - 1e-300
    return tier.value + slack if tier.bound == "above" else -tier.value + slack


@lru_cache(maxsize=64)
def _compile(rules: tuple[Rule, ...]) -> tuple[tuple[Question, float, float, _Compiled], ...]:
    compiled = []
    for rule in rules:
        measure = MEASURES[rule.measure]
        sign = -1.0 if any(tier.bound == "below" for tier in rule.tiers) else 1.0
        steps = tuple(sorted(((_gate(tier), tier) for tier in rule.tiers), key=lambda step: -step[0]))
        gate = steps[-1][0] if steps else float("inf")
        compiled.append((measure.ask, sign, gate, _Compiled(rule, measure, measure.ask, sign, gate, steps)))
    return tuple(compiled)


def _compiled_rules(rule_book: RuleBook) -> tuple[tuple[Question, float, float, _Compiled], ...]:
    kept: tuple[tuple[Question, float, float, _Compiled], ...] | None = rule_book.__dict__.get("_compiled")
    if kept is None:
        kept = _compile(rule_book.rules)
        rule_book.__dict__["_compiled"] = kept
    return kept


def _fired(facts: SampleFacts, rule_book: RuleBook) -> list[tuple[Rule, Measure, Tier, float | None]]:
    fired: list[tuple[Rule, Measure, Tier, float | None]] = []
    for ask, sign, gate, entry in _compiled_rules(rule_book):
        answer = ask(facts, rule_book)
        if answer is None or answer is False:
            continue
        if answer is NOT_RECORDED:
            if entry.rule.unrecorded is not None:
                fired.append((entry.rule, entry.measure, entry.rule.unrecorded, None))
            continue
        signed = sign * answer  # a number or True from here on
        if signed <= gate:
            continue
        if signed != signed:
            raise ValueError(f"facts of {facts.sampler}: `{entry.rule.measure}` must be a number; found {answer}")
        tier = next(tier for beyond, tier in entry.steps if signed > beyond)
        fired.append((entry.rule, entry.measure, tier, float(answer)))
    return fired


def _finding(
    facts: SampleFacts, book: RuleBook, rule: Rule, tier: Tier, measure: Measure, measured: float | None
) -> Finding:
    found = not_recorded_words(measure.unsaid) if measured is None else measure.found(facts, book, measured)
    citation = tier.citation or rule.citation
    return Finding(
        rule=rule.id,
        title=rule.title,
        found=found,
        wanted=_wanted_words(rule, measure, book.change_basis),
        value=None if measured is None or measure.unit == CLAIM else measured,
        effect=tier.effect,
        words=_tier_words(tier, measure, measured),
        remedy=tier.remedy,
        source=source_words(citation, facts),
        certainty=citation.certainty,
        clause_unread=citation.clause_unread,
    )


def _tier_words(tier: Tier, measure: Measure, measured: float | None) -> str:
    """Say which step was crossed and what that means, also where rounding for the eye would hide the crossing."""
    if not tier.value or measured is None:
        return tier.words
    step = f"{tier.bound} {shown_number(tier.value, measure.unit)}"
    hidden = math.isfinite(measured) and significant(measured) == significant(tier.value) and tier.bound != "from"
    return f"{step}{', by less than rounding shows' if hidden else ''}: {tier.words}"


def wanted_words(rule: Rule, measure: Measure, book: RuleBook) -> str:
    """Say what a rule wants, with the number of its first tier and the book's basis of the change in their places."""
    return _wanted_words(rule, measure, book.change_basis)


@lru_cache(maxsize=1024)  # one for every finding of a rule
def _wanted_words(rule: Rule, measure: Measure, change_basis: str) -> Said:
    first = rule.tiers[0].value if rule.tiers else None
    limit = "" if first is None else shown_number(first, measure.unit)
    basis = {"pre": "the flow before", "post": "the flow after", "mean": "the mean of both flows"}[change_basis]
    return said(rule.wanted, limit=limit, basis=said(basis))


def _overridden(findings: list[Finding], overrides: list[Override]) -> tuple[list[Finding], tuple[str, ...]]:
    by_rule: dict[str, Override] = {}
    for override in overrides:
        if not override.person.strip() or not override.reason.strip():
            raise ValueError(
                f"override of `{override.rule}` on {override.sampler} must name a person and a reason; "
                f"found person “{override.person}”, reason “{override.reason}”"
            )
        by_rule[override.rule] = override
    changed = [
        replace(finding, overridden_by=by_rule[finding.rule].person, override_reason=by_rule[finding.rule].reason)
        if finding.rule in by_rule
        else finding
        for finding in findings
    ]
    found = {finding.rule for finding in findings}
    return changed, tuple(rule for rule in by_rule if rule not in found)


def _standing(key: str, findings: list[Finding], idle: tuple[str, ...]) -> Standing:
    effects = {finding.effect for finding in findings if finding.counts}
    level: Level = "void" if "void" in effects else "qualified" if effects - {"remark"} else "sound"
    low, high = "at least" in effects, "at most" in effects
    bound: StandingBound = "unknown" if low and high else "at least" if low else "at most" if high else "exactly"
    return Standing(level, bound, "partial" in effects, tuple(findings), key, idle)
