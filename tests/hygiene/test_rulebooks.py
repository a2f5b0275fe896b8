"""Every rule of every packaged rule book, at its tiers, beyond them and short of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import astuple

import pytest
from answering_facts import ANSWERING, UNRECORDED, WHOLE, facts

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.findings import judge
from lapel.hygiene.measures import CLAIM, MEASURES, NOT_RECORDED
from lapel.hygiene.rulebook import CERTAINTIES, CHOICES, EFFECTS, Rule, RuleBook, Tier
from lapel.reference import PACKAGED, rule_book
from lapel.said import told

BOOKS = [rule_book(key) for key in PACKAGED]
RULES = [pytest.param(book, rule, id=f"{book.key}-{rule.id}") for book in BOOKS for rule in book.rules]


def tiers() -> Iterator[object]:
    for book in BOOKS:
        for rule in book.rules:
            for number in range(len(rule.tiers)):
                yield pytest.param(book, rule, number, id=f"{book.key}-{rule.id}-{number + 1}")


def effect_at(book: RuleBook, rule: Rule, known: SampleFacts) -> str | None:
    finding = judge(known, book).of(rule.id)
    return finding.effect if finding else None


def step(rule: Rule) -> float:
    measure = MEASURES[rule.measure]
    return 1.0 if measure.unit in WHOLE or measure.key == "blank_corrections" else 0.01


def answer(rule: Rule, value: float) -> SampleFacts:
    return ANSWERING[rule.measure](value)


@pytest.mark.parametrize(("book", "rule", "number"), list(tiers()))
def test_a_tier_is_crossed_just_beyond_its_number_and_not_at_it(book: RuleBook, rule: Rule, number: int):
    tier: Tier = rule.tiers[number]
    milder = rule.tiers[number - 1].effect if number else None
    if tier.bound == "is":
        assert effect_at(book, rule, answer(rule, True)) == tier.effect
        assert effect_at(book, rule, answer(rule, False)) is None
        return
    assert tier.value is not None
    beyond = -step(rule) if tier.bound == "below" else step(rule)
    at = tier.effect if tier.bound == "from" else milder
    assert effect_at(book, rule, answer(rule, tier.value)) == at
    assert effect_at(book, rule, answer(rule, tier.value + beyond)) == tier.effect
    assert effect_at(book, rule, answer(rule, tier.value - beyond)) == milder


@pytest.mark.parametrize(("book", "rule", "number"), list(tiers()))
def test_a_finding_shows_its_number_and_what_is_wanted(book: RuleBook, rule: Rule, number: int):
    tier: Tier = rule.tiers[number]
    beyond = (-1.0 if tier.bound == "below" else 1.0) * step(rule)
    known = answer(rule, True if tier.value is None else tier.value + beyond)
    finding = judge(known, book).of(rule.id)
    assert finding is not None
    assert "{" not in finding.wanted
    assert "None" not in finding.found
    assert "nan" not in finding.found
    if rule.tiers[0].value:
        assert f"{rule.tiers[0].value:g}" in finding.wanted
    if tier.value:
        assert finding.words.startswith(f"{tier.bound} {tier.value:g}")
    if MEASURES[rule.measure].unit == "%":
        assert re.search(r"\d", finding.found)
    assert (finding.source, finding.remedy) == (str(tier.citation or rule.citation), tier.remedy)


@pytest.mark.parametrize(("book", "rule"), RULES)
def test_what_nobody_recorded_has_the_effect_the_book_says(book: RuleBook, rule: Rule):
    if rule.measure not in UNRECORDED:
        assert rule.unrecorded is None, "this measure never answers “not recorded”"
        return
    wanted = rule.unrecorded.effect if rule.unrecorded else None
    assert effect_at(book, rule, UNRECORDED[rule.measure]) == wanted
    if rule.unrecorded:
        finding = judge(UNRECORDED[rule.measure], book).of(rule.id)
        assert finding is not None
        assert finding.found == f"not recorded: {MEASURES[rule.measure].unsaid}"
        assert finding.value is None


@pytest.mark.parametrize("key", sorted(MEASURES))
def test_a_measure_answers_what_the_facts_say(key: str):
    """A new measure without a maker of facts fails here, and so do its rules."""
    book = rule_book("practice")
    measure = MEASURES[key]
    if measure.unit == CLAIM:
        assert measure.ask(ANSWERING[key](True), book) is True
        assert measure.ask(ANSWERING[key](False), book) in (False, None)
    else:
        for value in (1.0, 3.0, 7.0):
            assert measure.ask(ANSWERING[key](value), book) == pytest.approx(value)
    blank_page = measure.ask(UNRECORDED.get(key, facts()), book)
    assert (blank_page is NOT_RECORDED) == (key in UNRECORDED)
    assert bool(measure.unsaid) == (key in UNRECORDED)


@pytest.mark.parametrize("key", sorted(MEASURES))
def test_what_was_found_is_made_of_templates_and_of_the_facts_as_they_were_given(key: str):
    """With the words of every template taken out, a word that no fact holds would be English in every language."""
    measure = MEASURES[key]
    for answer in (True,) if measure.unit == CLAIM else (1.0, 2.0):
        known = ANSWERING[key](answer)
        given = re.findall(r"\w+", " ".join(texts_in(astuple(known))))
        for book in BOOKS:
            left = told(measure.found(known, book, float(answer)), lambda template: " ".join(NAME.findall(template)))
            assert not {word for word in re.findall(r"[a-z]{2,}", left) if word not in given}


NAME = re.compile(r"\{\w+\}")


def texts_in(values: object) -> Iterator[str]:
    if isinstance(values, str):
        yield values
    elif isinstance(values, tuple):
        for value in values:
            yield from texts_in(value)


def test_every_measure_is_asked_by_a_packaged_book_and_every_rule_asks_one_there_is():
    asked = {rule.measure for book in BOOKS for rule in book.rules}
    assert asked == set(MEASURES)
    assert set(ANSWERING) == set(MEASURES)


@pytest.mark.parametrize("book", BOOKS, ids=PACKAGED)
def test_a_book_names_a_source_and_its_certainty_with_everything(book: RuleBook):
    citations = [rule.citation for rule in book.rules] + [choice.citation for choice in book.choices.values()]
    citations += [tier.citation for rule in book.rules for tier in rule.tiers if tier.citation]
    for citation in citations:
        assert citation.document.strip()
        assert citation.certainty in CERTAINTIES
        if citation.certainty == "known":
            assert citation.clause_unread, f"{citation}: known but not re-read must be marked so"
        if citation.certainty == "judgement":
            assert not citation.clause_unread, f"{citation}: judgement has no clause to read"
        if citation.clause_unread:
            assert str(citation).endswith("[clause not read]")
    assert book.caution


@pytest.mark.parametrize("book", BOOKS, ids=PACKAGED)
def test_a_book_makes_every_choice_once_and_has_unique_rules(book: RuleBook):
    assert set(book.choices) == set(CHOICES)
    ids = [rule.id for rule in book.rules]
    assert len(ids) == len(set(ids))
    for rule in book.rules:
        assert all(tier.effect in EFFECTS for tier in rule.tiers)
        assert book.rule(rule.id) is rule


def test_a_book_has_no_rule_it_does_not_have():
    with pytest.raises(KeyError, match="has no rule “phase-of-the-moon”"):
        rule_book("uk").rule("phase-of-the-moon")


@pytest.mark.parametrize(
    ("key", "samples", "wanted"),
    [("us-osha", 1, 1), ("us-osha", 20, 1), ("us-osha", 21, 2), ("niosh", 5, 2), ("niosh", 45, 5), ("niosh", 400, 10),
     ("uk", 10, 1), ("uk", 11, 2), ("en-iso", 4, 2), ("en-iso", 80, 3)],
)  # fmt: skip
def test_blanks_wanted_for_a_batch(key: str, samples: int, wanted: int):
    """OSHA 1 for up to 20; NMAM 2 to 10 a set and 10 %; MDHS 1 for 10; ISO 22065 2 to 3 a batch."""
    assert rule_book(key).blanks_wanted(samples) == wanted


STATED = [
    # the convention most houses keep: mean within 5 %, screening to 10 %, no compliance decision beyond
    ("practice", "flow-change", {5.0: "qualified", 10.0: "void"}),
    ("us-osha", "flow-change", {5.0: "qualified", 10.0: "void"}),
    # NMAM 1401, step 13: W_b > W_f/10 is reported; laboratories of the US agency: 25 % is a minimum
    ("practice", "breakthrough", {10.0: "qualified", 25.0: "at least"}),
    ("niosh", "breakthrough", {10.0: "qualified", 25.0: "at least"}),
    ("us-osha", "breakthrough", {10.0: "qualified", 25.0: "at least"}),
    # ISO 16200-1: a back section over 10 % of the total
    ("en-iso", "breakthrough", {10.0: "at least"}),
    # EN 482 / ISO 20581: 50 % from 0.1 to 0.5 of the limit, 30 % from 0.5 to 2; short-term 50 %
    ("en-iso", "uncertainty-low-range", {50.0: "remark"}),
    ("en-iso", "uncertainty-high-range", {30.0: "remark"}),
    ("en-iso", "uncertainty-short-term", {50.0: "remark"}),
    # OSHA letter of interpretation, 23 January 1997: 7 of 8 hours
    ("us-osha", "sampled-share", {100.0 * 7 / 8: "partial"}),
    # OSHA Technical Manual, section II chapter 1: a look at the pump every 2 hours
    ("us-osha", "check-overdue", {2.0 * 60: "remark"}),
    # EN 482 / ISO 20581: a measuring range from a tenth of the limit
    ("en-iso", "reporting-limit-high", {10.0: "remark", 50.0: "qualified"}),
    # a limit older than a year is confirmed again
    ("practice", "limit-old", {365.0: "remark"}),
]


@pytest.mark.parametrize(("key", "rule", "steps"), STATED, ids=[f"{key}-{rule}" for key, rule, _ in STATED])
def test_the_steps_of_a_rule_are_those_its_source_states(key: str, rule: str, steps: dict[float, str]):
    assert {tier.value: tier.effect for tier in rule_book(key).rule(rule).tiers} == steps


REQUIRED = {
    "flow_change", "replicate_spread", "closing_round_missing", "readings_off_range", "certificate_overdue",
    "rotameter_uncorrected", "flow_below_method", "flow_above_method", "volume_below_method", "volume_above_method",
    "blank_of_sample", "blanks_missing", "blanks_short", "blank_corrections", "clock_counter_gap", "pump_faults",
    "pump_restarts", "held_minutes", "valve_touched", "pump_energy_renewed", "past_expiry", "wrong_medium", "swapped",
    "missing_at_laboratory", "past_holding_time", "warm_on_receipt", "custody_gap", "short_term_shortfall",
    "short_term_excess", "hours_since_charge", "warm_up", "post_check_missing", "check_gap", "sampled_share",
    "reporting_limit_share", "limit_without_source", "limit_age", "humidity_on_charcoal",
    "standard_condition_unknown",
}  # fmt: skip


@pytest.mark.parametrize("book", BOOKS, ids=PACKAGED)
def test_no_book_is_silent_on_what_every_sample_is_asked(book: RuleBook):
    asked = {rule.measure for rule in book.rules}
    assert asked >= REQUIRED
    assert asked & {"back_over_front", "back_of_total"}
