"""Measures of the sampler and the laboratory: medium, blanks, sections, transport, results."""

from __future__ import annotations

import math

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.measures.measure import CLAIM, NOT_RECORDED, Measured, Words, measure, percent_off, shown_number
from lapel.hygiene.rulebook import RuleBook


@measure("%", lambda facts, book, value: f"back section {shown_number(value, '%')} of the front section")
def back_over_front(facts: SampleFacts, book: RuleBook) -> Measured:
    """Mass on the back section in percent of the front section's."""
    if facts.two_sections is False or facts.back_over_front is None:
        return None
    return 100.0 * facts.back_over_front


@measure("%", lambda facts, book, value: f"back section {shown_number(value, '%')} of both sections together")
def back_of_total(facts: SampleFacts, book: RuleBook) -> Measured:
    """Mass on the back section in percent of both sections together."""
    if facts.two_sections is False or facts.back_over_front is None:
        return None
    ratio = facts.back_over_front
    return 100.0 if ratio == math.inf else 100.0 * ratio / (1.0 + ratio)


@measure(CLAIM, lambda facts, book, value: "the sampler has a back section, and no mass was reported for it")
def back_not_reported(facts: SampleFacts, book: RuleBook) -> Measured:
    """A back section whose mass was not reported."""
    if not facts.two_sections or facts.result_present is False:
        return None
    return not facts.back_reported


def _wanted_blanks(facts: SampleFacts, book: RuleBook) -> int:
    return max(facts.blanks_wanted or 0, book.blanks_wanted(facts.samples_in_batch or 1))


def _blank_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    return (
        f"{facts.blanks_count} field blank{'' if facts.blanks_count == 1 else 's'} for "
        f"{facts.samples_in_batch or 1} sample{'' if (facts.samples_in_batch or 1) == 1 else 's'}; "
        f"{_wanted_blanks(facts, book)} wanted"
    )


@measure(
    CLAIM,
    lambda facts, book, value: "no field blank with a result for this medium, lot and batch",
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


def _blank_sample_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    blank, sample = shown_number(facts.blank_ug, "µg"), shown_number(facts.sample_ug, "µg")
    return f"largest blank {blank}, {shown_number(value, '%')} of the sample's {sample}"


@measure("%", _blank_sample_words)
def blank_of_sample(facts: SampleFacts, book: RuleBook) -> Measured:
    """Largest field blank in percent of the sample's mass; asked when the blank is above its reporting limit."""
    if facts.blank_ug is None or facts.blank_below_limit or facts.sample_ug is None:
        return None
    return 100.0 * facts.blank_ug / facts.sample_ug if facts.sample_ug else math.inf


def _blank_limit_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    blank, at_limit = shown_number(facts.blank_ug, "µg"), shown_number(facts.limit_equivalent_ug, "µg")
    return f"largest blank {blank}, {shown_number(value, '%')} of the {at_limit} the limit would leave on this sampler"


@measure("%", _blank_limit_words)
def blank_of_limit(facts: SampleFacts, book: RuleBook) -> Measured:
    """Largest field blank in percent of the mass the limit would leave; asked when it is above its reporting limit."""
    if facts.blank_ug is None or facts.blank_below_limit or not facts.limit_equivalent_ug:
        return None
    return 100.0 * facts.blank_ug / facts.limit_equivalent_ug


@measure(
    CLAIM,
    lambda facts, book, value: f"field blank with {shown_number(facts.blank_ug, 'µg')}, not subtracted",
    unsaid="whether the blank was subtracted",
)
def blank_not_subtracted(facts: SampleFacts, book: RuleBook) -> Measured:
    """A field blank above its reporting limit that was not subtracted: the mass is then an upper bound."""
    if facts.blank_ug is None or facts.blank_below_limit is not False:
        return None
    return NOT_RECORDED if facts.blank_corrections is None else facts.blank_corrections == 0


@measure("", lambda facts, book, value: f"blank subtracted {shown_number(value)} times")
def blank_corrections(facts: SampleFacts, book: RuleBook) -> Measured:
    """How often a blank was subtracted on the way to the result."""
    return facts.blank_corrections


def _expiry_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    return f"used {shown_number(value)} day{'' if value == 1 else 's'} past the sampler's expiry"


@measure("days", _expiry_words, unsaid="the sampler's expiry")
def past_expiry(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days past the sampler's expiry on the day of use; negative while it was good."""
    return NOT_RECORDED if facts.days_past_expiry is None else facts.days_past_expiry


@measure(
    CLAIM,
    lambda facts, book, value: f"fitted with {facts.medium_fitted}; the method wants {facts.medium_wanted}",
    unsaid="which medium was fitted",
)
def wrong_medium(facts: SampleFacts, book: RuleBook) -> Measured:
    """Another medium fitted than the method wants."""
    if facts.medium_wanted is None:
        return None
    return NOT_RECORDED if facts.medium_fitted is None else facts.medium_fitted != facts.medium_wanted


def _medium_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    return f"the laboratory describes {facts.medium_seen_by_laboratory}; {facts.medium_fitted} was fitted"


@measure(CLAIM, _medium_words)
def medium_disagrees(facts: SampleFacts, book: RuleBook) -> Measured:
    """The laboratory describes another medium than was fitted."""
    if facts.medium_seen_by_laboratory is None or facts.medium_fitted is None:
        return None
    return facts.medium_seen_by_laboratory != facts.medium_fitted


@measure(CLAIM, lambda facts, book, value: "the evidence says that this sampler changed places with another")
def swapped(facts: SampleFacts, book: RuleBook) -> Measured:
    """Sampler exchanged with another."""
    return facts.swapped


@measure(CLAIM, lambda facts, book, value: "the sampler did not arrive at the laboratory")
def missing_at_laboratory(facts: SampleFacts, book: RuleBook) -> Measured:
    """Sampler missing at the laboratory."""
    return None if facts.at_laboratory is None else not facts.at_laboratory


def _missing_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    because = f"; the laboratory says: {facts.not_analysed}" if facts.not_analysed else ""
    return f"no result for {facts.agent} on this sampler{because}"


@measure(CLAIM, _missing_words)
def result_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """No result for the agent; asked of samplers that did arrive."""
    if facts.at_laboratory is False or facts.result_present is None:
        return None
    return not facts.result_present


@measure(CLAIM, lambda facts, book, value: f"more than one result for {facts.agent} on this sampler")
def duplicate_result(facts: SampleFacts, book: RuleBook) -> Measured:
    """More than one result for the agent on one sampler."""
    return facts.duplicate_result


def _holding_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    days, allowed = shown_number(facts.holding_days), shown_number(facts.holding_days_max)
    return f"analysed {days} days after sampling; {allowed} allowed"


@measure("days", _holding_words, unsaid="the day of analysis")
def past_holding_time(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days past the holding time at analysis; negative while it was kept."""
    if facts.holding_days_max is None or facts.result_present is False:
        return None
    if facts.holding_days is None and facts.stop_unknown:
        return None  # the days run from the stop: that it is missing is said once, by its own rule
    return NOT_RECORDED if facts.holding_days is None else facts.holding_days - facts.holding_days_max


def _warm_words(facts: SampleFacts, book: RuleBook, value: float) -> str:
    degrees, allowed = facts.receipt_temperature_c, facts.receipt_temperature_max_c
    return f"{shown_number(degrees, '°C')} on receipt; up to {shown_number(allowed, '°C')} allowed"


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
    lambda facts, book, value: f"{shown_number(value, 'h')} of the way in nobody's recorded custody",
    unsaid="who had the samples on their way",
)
def custody_gap(facts: SampleFacts, book: RuleBook) -> Measured:
    """Longest stretch of the way to the laboratory in nobody's recorded custody."""
    return NOT_RECORDED if facts.custody_gap_h is None else facts.custody_gap_h


@measure(CLAIM, lambda facts, book, value: "the seal was broken on arrival")
def seal_broken(facts: SampleFacts, book: RuleBook) -> Measured:
    """A seal broken before the laboratory opened it."""
    return None if facts.seal_intact is None else not facts.seal_intact


@measure("%", lambda facts, book, value: f"recovery {shown_number(value, '%')}")
def recovery(facts: SampleFacts, book: RuleBook) -> Measured:
    """Recovery (desorption efficiency) of the analysis."""
    return None if facts.recovery is None else 100.0 * facts.recovery


def _off_words(what: str) -> Words:
    return lambda facts, book, value: (
        f"the laboratory's {what} is {shown_number(value, '%')} off the one worked out here"
    )


@measure("%", _off_words("volume"))
def laboratory_volume_off(facts: SampleFacts, book: RuleBook) -> Measured:
    """Difference of the volume the laboratory printed from the one worked out here."""
    return None if facts.laboratory_volume_ratio is None else abs(percent_off(facts.laboratory_volume_ratio, 1.0))


@measure("%", _off_words("concentration"))
def laboratory_concentration_off(facts: SampleFacts, book: RuleBook) -> Measured:
    """Difference of the concentration the laboratory printed from the one worked out here."""
    ratio = facts.laboratory_concentration_ratio
    return None if ratio is None else abs(percent_off(ratio, 1.0))
