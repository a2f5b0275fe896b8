"""Measures of the sampler and the laboratory: medium, blanks, sections, transport, results."""

from __future__ import annotations

import math

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.measures.measure import CLAIM, NOT_RECORDED, Measured, always, measure, percent_off, shown_number
from lapel.hygiene.rulebook import RuleBook
from lapel.said import Said, said


@measure(
    "%",
    lambda facts, book, value: said("back section {share} of the front section", share=shown_number(value, "%")),
)
def back_over_front(facts: SampleFacts, book: RuleBook) -> Measured:
    """Mass on the back section in percent of the front section's."""
    if facts.two_sections is False or facts.back_over_front is None:
        return None
    return 100.0 * facts.back_over_front


@measure(
    "%",
    lambda facts, book, value: said("back section {share} of both sections together", share=shown_number(value, "%")),
)
def back_of_total(facts: SampleFacts, book: RuleBook) -> Measured:
    """Mass on the back section in percent of both sections together."""
    if facts.two_sections is False or facts.back_over_front is None:
        return None
    ratio = facts.back_over_front
    return 100.0 if ratio == math.inf else 100.0 * ratio / (1.0 + ratio)


@measure(CLAIM, always(said("the sampler has a back section, and no mass was reported for it")))
def back_not_reported(facts: SampleFacts, book: RuleBook) -> Measured:
    """A back section whose mass was not reported."""
    if not facts.two_sections or facts.result_present is False:
        return None
    return not facts.back_reported


def _wanted_blanks(facts: SampleFacts, book: RuleBook) -> int:
    return max(facts.blanks_wanted or 0, book.blanks_wanted(facts.samples_in_batch or 1))


def _blank_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    blanks, samples = facts.blanks_count or 0, facts.samples_in_batch or 1
    return said(
        "{blanks} for {samples}; {wanted} wanted",
        blanks=said("{n} field blank" if blanks == 1 else "{n} field blanks", n=blanks),
        samples=said("{n} sample" if samples == 1 else "{n} samples", n=samples),
        wanted=_wanted_blanks(facts, book),
    )


@measure(
    CLAIM,
    always(said("no field blank with a result for this medium, lot and batch")),
    unsaid="whether there was a field blank",
)
def blanks_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """No field blank for this medium, lot and batch."""
    return NOT_RECORDED if facts.blanks_count is None else facts.blanks_count == 0


@measure("blanks", _blank_words)
def blanks_short(facts: SampleFacts, book: RuleBook) -> Measured:
    """Field blanks short of the number the method or, if larger, the rule book wants; asked when there is one."""
    if not facts.blanks_count:
        return None
    return _wanted_blanks(facts, book) - facts.blanks_count


def _blank_sample_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    blank, sample = shown_number(facts.blank_ug, "µg"), shown_number(facts.sample_ug, "µg")
    share = shown_number(value, "%")
    return said("largest blank {blank}, {share} of the sample's {sample}", blank=blank, share=share, sample=sample)


@measure("%", _blank_sample_words)
def blank_of_sample(facts: SampleFacts, book: RuleBook) -> Measured:
    """Largest field blank in percent of the sample's mass; asked when the blank is above its reporting limit."""
    if facts.blank_ug is None or facts.blank_below_limit or facts.sample_ug is None:
        return None
    return 100.0 * facts.blank_ug / facts.sample_ug if facts.sample_ug else math.inf


def _blank_limit_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    blank, at_limit = shown_number(facts.blank_ug, "µg"), shown_number(facts.limit_equivalent_ug, "µg")
    return said(
        "largest blank {blank}, {share} of the {at_limit} the limit would leave on this sampler",
        blank=blank,
        share=shown_number(value, "%"),
        at_limit=at_limit,
    )


@measure("%", _blank_limit_words)
def blank_of_limit(facts: SampleFacts, book: RuleBook) -> Measured:
    """Largest field blank in percent of the mass the limit would leave; asked when it is above its reporting limit."""
    if facts.blank_ug is None or facts.blank_below_limit or not facts.limit_equivalent_ug:
        return None
    return 100.0 * facts.blank_ug / facts.limit_equivalent_ug


@measure(
    CLAIM,
    lambda facts, book, value: said("field blank with {mass}, not subtracted", mass=shown_number(facts.blank_ug, "µg")),
    unsaid="whether the blank was subtracted",
)
def blank_not_subtracted(facts: SampleFacts, book: RuleBook) -> Measured:
    """A field blank above its reporting limit that was not subtracted: the mass is then an upper bound."""
    if facts.blank_ug is None or facts.blank_below_limit is not False:
        return None
    return NOT_RECORDED if facts.blank_corrections is None else facts.blank_corrections == 0


@measure("", lambda facts, book, value: said("blank subtracted {n} times", n=shown_number(value)))
def blank_corrections(facts: SampleFacts, book: RuleBook) -> Measured:
    """How often a blank was subtracted on the way to the result."""
    return facts.blank_corrections


def _expiry_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    template = "used {n} day past the sampler's expiry" if value == 1 else "used {n} days past the sampler's expiry"
    return said(template, n=shown_number(value))


@measure("days", _expiry_words, unsaid="the sampler's expiry")
def past_expiry(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days past the sampler's expiry on the day of use; negative while it was good."""
    return NOT_RECORDED if facts.days_past_expiry is None else facts.days_past_expiry


@measure(
    CLAIM,
    lambda facts, book, value: said(
        "fitted with {fitted}; the method wants {wanted}",
        fitted=facts.medium_fitted or "",
        wanted=facts.medium_wanted or "",
    ),
    unsaid="which medium was fitted",
)
def wrong_medium(facts: SampleFacts, book: RuleBook) -> Measured:
    """Another medium fitted than the method wants."""
    if facts.medium_wanted is None:
        return None
    return NOT_RECORDED if facts.medium_fitted is None else facts.medium_fitted != facts.medium_wanted


def _medium_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    return said(
        "the laboratory describes {seen}; {fitted} was fitted",
        seen=facts.medium_seen_by_laboratory or "",
        fitted=facts.medium_fitted or "",
    )


@measure(CLAIM, _medium_words)
def medium_disagrees(facts: SampleFacts, book: RuleBook) -> Measured:
    """The laboratory describes another medium than was fitted."""
    if facts.medium_seen_by_laboratory is None or facts.medium_fitted is None:
        return None
    return facts.medium_seen_by_laboratory != facts.medium_fitted


@measure(CLAIM, always(said("the evidence says that this sampler changed places with another")))
def swapped(facts: SampleFacts, book: RuleBook) -> Measured:
    """Sampler exchanged with another."""
    return facts.swapped


@measure(CLAIM, always(said("the sampler did not arrive at the laboratory")))
def missing_at_laboratory(facts: SampleFacts, book: RuleBook) -> Measured:
    """Sampler missing at the laboratory."""
    return None if facts.at_laboratory is None else not facts.at_laboratory


def _missing_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    if not facts.not_analysed:
        return said("no result for {agent} on this sampler", agent=facts.agent)
    return said(
        "no result for {agent} on this sampler; the laboratory says: {why}", agent=facts.agent, why=facts.not_analysed
    )


@measure(CLAIM, _missing_words)
def result_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """No result for the agent; asked of samplers that did arrive."""
    if facts.at_laboratory is False or facts.result_present is None:
        return None
    return not facts.result_present


@measure(CLAIM, lambda facts, book, value: said("more than one result for {agent} on this sampler", agent=facts.agent))
def duplicate_result(facts: SampleFacts, book: RuleBook) -> Measured:
    """More than one result for the agent on one sampler."""
    return facts.duplicate_result


def _holding_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    days, allowed = shown_number(facts.holding_days), shown_number(facts.holding_days_max)
    return said("analysed {days} days after sampling; {allowed} allowed", days=days, allowed=allowed)


@measure("days", _holding_words, unsaid="the day of analysis")
def past_holding_time(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days past the holding time at analysis; negative while it was kept."""
    if facts.holding_days_max is None or facts.result_present is False:
        return None
    if facts.holding_days is None and facts.stop_unknown:
        return None  # the days run from the stop: that it is missing is said once, by its own rule
    return NOT_RECORDED if facts.holding_days is None else facts.holding_days - facts.holding_days_max


def _warm_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    degrees, allowed = facts.receipt_temperature_c, facts.receipt_temperature_max_c
    return said(
        "{degrees} on receipt; up to {allowed} allowed",
        degrees=shown_number(degrees, "°C"),
        allowed=shown_number(allowed, "°C"),
    )


@measure("°C", _warm_words, unsaid="the temperature on receipt")
def warm_on_receipt(facts: SampleFacts, book: RuleBook) -> Measured:
    """Degrees above the highest temperature allowed on receipt; negative while it was kept."""
    if facts.receipt_temperature_max_c is None or facts.at_laboratory is False:
        return None
    if facts.receipt_temperature_c is None:
        return NOT_RECORDED
    return facts.receipt_temperature_c - facts.receipt_temperature_max_c


@measure(
    "h",
    lambda facts, book, value: said("{time} of the way in nobody's recorded custody", time=shown_number(value, "h")),
    unsaid="who had the samples on their way",
)
def custody_gap(facts: SampleFacts, book: RuleBook) -> Measured:
    """Longest stretch of the way to the laboratory in nobody's recorded custody."""
    return NOT_RECORDED if facts.custody_gap_h is None else facts.custody_gap_h


@measure(CLAIM, always(said("the seal was broken on arrival")))
def seal_broken(facts: SampleFacts, book: RuleBook) -> Measured:
    """A seal broken before the laboratory opened it."""
    return None if facts.seal_intact is None else not facts.seal_intact


@measure("%", lambda facts, book, value: said("recovery {share}", share=shown_number(value, "%")))
def recovery(facts: SampleFacts, book: RuleBook) -> Measured:
    """Recovery (desorption efficiency) of the analysis."""
    return None if facts.recovery is None else 100.0 * facts.recovery


@measure(
    "%",
    lambda facts, book, value: said(
        "the laboratory's volume is {share} off the one worked out here", share=shown_number(value, "%")
    ),
)
def laboratory_volume_off(facts: SampleFacts, book: RuleBook) -> Measured:
    """Difference of the volume the laboratory printed from the one worked out here."""
    return None if facts.laboratory_volume_ratio is None else abs(percent_off(facts.laboratory_volume_ratio, 1.0))


@measure(
    "%",
    lambda facts, book, value: said(
        "the laboratory's concentration is {share} off the one worked out here", share=shown_number(value, "%")
    ),
)
def laboratory_concentration_off(facts: SampleFacts, book: RuleBook) -> Measured:
    """Difference of the concentration the laboratory printed from the one worked out here."""
    ratio = facts.laboratory_concentration_ratio
    return None if ratio is None else abs(percent_off(ratio, 1.0))
