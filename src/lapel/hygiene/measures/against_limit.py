"""Measures of how well the result can be held against the limit: reporting limit, uncertainty, the limit itself."""

from __future__ import annotations

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.measures.measure import CLAIM, NOT_RECORDED, Measured, always, measure, shown_number
from lapel.hygiene.rulebook import RuleBook
from lapel.said import Said, said

WELL_MEASURED = 3.0
"""A mass of so many times its reporting limit is a measurement: the reporting limit no longer touches it. Judgement."""


def _reporting_limit_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    share = shown_number(value, "%")
    if not facts.reporting_limit_of:
        return said("reporting limit {share} of the exposure limit", share=share)
    return said("reporting limit {share} of {limit}", share=share, limit=facts.reporting_limit_of)


@measure("%", _reporting_limit_words)
def reporting_limit_share(facts: SampleFacts, book: RuleBook) -> Measured:
    """Reporting limit in air, in percent of the exposure limit; asked of less than 3 times the reporting limit."""
    if facts.reporting_limit_share is None or (facts.mass_over_reporting_limit or 0.0) >= WELL_MEASURED:
        return None
    return 100.0 * facts.reporting_limit_share


@measure(CLAIM, always(said("the limit names no source")))
def limit_without_source(facts: SampleFacts, book: RuleBook) -> Measured:
    """A limit that names no source."""
    return None if facts.limit_has_source is None else not facts.limit_has_source


@measure(
    "days",
    lambda facts, book, value: said("the limit's source was last seen {days} days ago", days=shown_number(value)),
    unsaid="when the limit's source was seen",
)
def limit_age(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days since the source of the limit was last seen."""
    if not facts.limit_has_source:
        return None
    return NOT_RECORDED if facts.limit_age_days is None else facts.limit_age_days


def _uncertainty_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    share = facts.exposure_share_of_limit
    if share is None:
        return said("expanded uncertainty {u} (k = 2)", u=shown_number(value, "%"))
    return said(
        "expanded uncertainty {u} (k = 2) at {share} of the limit",
        u=shown_number(value, "%"),
        share=shown_number(100.0 * share, "%"),
    )


def _expanded(facts: SampleFacts, low: float, high: float) -> Measured:
    share = facts.exposure_share_of_limit
    if facts.expanded_relative_u is None or share is None or not low <= share <= high:
        return None
    return 100.0 * facts.expanded_relative_u


@measure("%", _uncertainty_words)
def uncertainty_low_range(facts: SampleFacts, book: RuleBook) -> Measured:
    """Expanded uncertainty of a long-term result between a tenth and half of the limit."""
    if facts.purpose == "short term" or facts.exposure_share_of_limit == 0.5:
        return None
    return _expanded(facts, 0.1, 0.5)


@measure("%", _uncertainty_words)
def uncertainty_high_range(facts: SampleFacts, book: RuleBook) -> Measured:
    """Expanded uncertainty of a long-term result between half and twice the limit."""
    return None if facts.purpose == "short term" else _expanded(facts, 0.5, 2.0)


@measure("%", _uncertainty_words)
def uncertainty_short_term(facts: SampleFacts, book: RuleBook) -> Measured:
    """Expanded uncertainty of a short-term result between half and twice the limit."""
    return _expanded(facts, 0.5, 2.0) if facts.purpose == "short term" else None


@measure("%", _uncertainty_words)
def uncertainty_at_limit(facts: SampleFacts, book: RuleBook) -> Measured:
    """Expanded uncertainty of a result at or above the limit."""
    return _expanded(facts, 1.0, float("inf"))
