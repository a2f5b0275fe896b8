"""What findings do to a sample, how they are overridden, and how several rule books stand side by side."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations

import pytest
from answering_facts import facts, pair
from hypothesis import given
from hypothesis import strategies as st

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.findings import LEVELS, Standing, judge, side_by_side, worst_of
from lapel.hygiene.rulebook import EFFECTS, Citation, Effect, Rule, RuleBook, Tier
from lapel.reference import PACKAGED, rule_book

OSHA = rule_book("us-osha")


@dataclass(frozen=True)
class Decided:
    sampler: str
    rule: str
    person: str
    reason: str


def sound_facts(**changed: object) -> SampleFacts:
    """A sample with nothing to say against it, under any packaged rule book."""
    known = facts(
        purpose="full shift", flow_pairs=(pair(0.100, 0.101, pre_spread=0.01, post_spread=0.01, pre_n=3, post_n=3),),
        closing_round=True, valve_touched=False, recharged=False, battery_changed=False, same_meter=True,
        post_done=True, leak_check_passed=True, certificate_days_left=100, certificate_missing=False,
        meter_kinds=("piston",),
        flow_lpm=0.1005, method_flow_min_lpm=0.01, method_flow_max_lpm=0.2, port_flow_ratio=2.0, volume_l=11.0,
        method_volume_min_l=1.0, method_volume_max_l=12.0, air_assumed=False, back_over_front=0.01, back_reported=True,
        two_sections=True, blanks_count=2, blanks_wanted=2, samples_in_batch=6, blank_ug=0.5, blank_below_limit=True,
        sample_ug=80.0, limit_equivalent_ug=400.0, blank_corrections=0, clock_min=465.0, counter_min=465.0,
        stop_from_counter=False, faults=0, restarts=0, held_min=0.0, touched_in_run=False, days_past_expiry=-90,
        medium_wanted="charcoal 100/50", medium_fitted="charcoal 100/50", medium_seen_by_laboratory="charcoal 100/50",
        sorbent_family="charcoal", at_laboratory=True, result_present=True, holding_days=5.0, holding_days_max=14.0,
        receipt_temperature_c=3.0, receipt_temperature_max_c=6.0, custody_gap_h=0.0, seal_intact=True,
        hours_since_charge=10.0, warm_up_min=6.0, first_check_min=20.0, longest_check_gap_min=110.0,
        sampled_share=465.0 / 480.0, reporting_limit_share=0.02, limit_has_source=True, limit_age_days=30,
        humidity_percent=45.0, recovery=0.97, laboratory_volume_ratio=1.0, laboratory_concentration_ratio=1.0,
        swapped=False, duplicate_result=False, expanded_relative_u=0.18, exposure_share_of_limit=0.2,
    )  # fmt: skip
    return replace(known, **changed)  # type: ignore[arg-type]


def book_with(*effects: Effect) -> RuleBook:
    """A book whose n-th rule fires with the n-th effect on any sample at all."""
    citation = Citation("test", "", "judgement", False)
    tiers = [(Tier("is", None, effect, "so", "nothing"),) for effect in effects]
    rules = tuple(
        Rule(f"rule-{no}", "any", "rotameter_as_standard", "none", tier, citation) for no, tier in enumerate(tiers)
    )
    return replace(OSHA, key="made", rules=rules)


ANY_ROTAMETER = facts(meter_kinds=("rotameter",))


@pytest.mark.parametrize("key", PACKAGED)
def test_a_sample_with_nothing_against_it_is_sound_under_every_book(key: str):
    standing = judge(sound_facts(), rule_book(key))
    assert standing.findings == ()
    assert (standing.level, standing.bound, standing.partial, standing.rule_book) == ("sound", "exactly", False, key)


def test_exactly_five_percent_in_print_is_not_over_five_percent():
    """0.100 to 0.105 L/min is 5 % although the binary fractions differ by 5.000000000000004 %."""
    assert judge(sound_facts(flow_pairs=(pair(0.100, 0.105),)), OSHA).of("flow-change") is None
    assert judge(sound_facts(flow_pairs=(pair(0.100, 0.095),)), OSHA).of("flow-change") is None
    assert judge(sound_facts(flow_pairs=(pair(0.100, 0.1051),)), OSHA).of("flow-change") is not None


@pytest.mark.parametrize(("basis", "percent"), [("pre", "14"), ("post", "16.3"), ("mean", "15.1")])
def test_the_basis_of_the_change_decides_its_percentage_and_is_printed(basis: str, percent: str):
    """100 to 86 is 14.0 % of pre, 16.3 % of post, 15.1 % of the mean (closed form)."""
    choice = replace(OSHA.choices["change_basis"], value=basis)
    book = replace(OSHA, choices={**OSHA.choices, "change_basis": choice})
    finding = judge(sound_facts(flow_pairs=(pair(0.100, 0.086),)), book).of("flow-change")
    assert finding is not None
    assert f"−{percent} % of" in finding.found.replace(".0 %", " %")
    words = {"pre": "the flow before", "post": "the flow after", "mean": "the mean of both"}[basis]
    assert words in finding.found
    assert words in finding.wanted


def test_the_worst_segment_speaks_for_the_sample():
    pairs = (pair(0.100, 0.101), pair(0.100, 0.092), pair(0.100, None), pair(0.100, 0.104))
    finding = judge(sound_facts(flow_pairs=pairs), OSHA).of("flow-change")
    assert finding is not None
    assert finding.effect == "qualified"
    assert finding.value == pytest.approx(8.0)
    assert "100 mL/min before, 92 mL/min after" in finding.found


def test_one_set_of_facts_stands_differently_side_by_side():
    """7 % down: screening under OSHA practice, void in the house that samples again beyond 5 %."""
    known = sound_facts(flow_pairs=(pair(0.100, 0.093),))
    standings = side_by_side(known, [OSHA, rule_book("house"), rule_book("uk")])
    assert {key: standing.level for key, standing in standings.items()} == {
        "us-osha": "qualified", "house": "void", "uk": "qualified",
    }  # fmt: skip


def test_back_section_of_a_tenth_of_the_front_is_not_a_tenth_of_the_total():
    """10 % of front is 9.1 % of total: within ISO 16200-1's tenth of the total; 25 % of front is 20 % of total."""
    standings = side_by_side(sound_facts(back_over_front=0.105), [OSHA, rule_book("en-iso")])
    assert standings["us-osha"].level == "qualified"
    assert standings["en-iso"].level == "sound"
    standings = side_by_side(sound_facts(back_over_front=0.15), [OSHA, rule_book("en-iso")])
    assert [standing.bound for standing in standings.values()] == ["exactly", "at least"]


@given(st.lists(st.sampled_from(EFFECTS), max_size=5))
def test_level_and_bound_follow_from_the_effects(effects: list[Effect]):
    standing = judge(ANY_ROTAMETER, book_with(*effects))
    met = set(effects)
    assert (standing.level == "void") == ("void" in met)
    assert (standing.level == "sound") == (not met - {"remark"})
    assert standing.partial == ("partial" in met)
    both = {"at least", "at most"} & met
    assert standing.bound == ("exactly" if not both else both.pop() if len(both) == 1 else "unknown")
    assert [finding.effect for finding in standing.findings] == effects


@given(st.lists(st.sampled_from(EFFECTS), min_size=1, max_size=4), st.integers(0, 3))
def test_one_more_finding_never_makes_a_sample_better(effects: list[Effect], drop: int):
    fewer = [effect for no, effect in enumerate(effects) if no != drop]
    level = [LEVELS.index(judge(ANY_ROTAMETER, book_with(*some)).level) for some in (fewer, effects)]
    assert level[0] <= level[1]


def test_an_override_takes_the_effect_away_and_stays_visible():
    known = sound_facts(days_past_expiry=3)
    assert judge(known, OSHA).level == "void"
    standing = judge(known, OSHA, [Decided("S-1", "expired", "M. Osei", "maker's letter of 3 May covers this lot")])
    assert standing.level == "sound"
    finding = standing.of("expired")
    assert finding is not None
    assert not finding.counts
    assert finding.effect == "void"
    assert (finding.overridden_by, finding.override_reason) == ("M. Osei", "maker's letter of 3 May covers this lot")


def test_an_override_leaves_the_other_findings_their_effect():
    known = sound_facts(days_past_expiry=3, swapped=True)
    standing = judge(known, OSHA, [Decided("S-1", "expired", "M. Osei", "maker's letter")])
    assert standing.level == "void"


def test_an_override_of_another_sampler_does_nothing():
    standing = judge(sound_facts(days_past_expiry=3), OSHA, [Decided("S-2", "expired", "M. Osei", "letter")])
    assert (standing.level, standing.idle_overrides) == ("void", ())


def test_an_override_that_meets_no_finding_is_shown():
    standing = judge(sound_facts(), OSHA, [Decided("S-1", "expired", "M. Osei", "just in case")])
    assert standing.idle_overrides == ("expired",)


@pytest.mark.parametrize(("person", "reason"), [("", "a reason"), ("M. Osei", "  ")])
def test_an_override_without_person_or_reason_is_refused(person: str, reason: str):
    with pytest.raises(ValueError, match="`expired` on S-1 must name a person and a reason"):
        judge(sound_facts(days_past_expiry=3), OSHA, [Decided("S-1", "expired", person, reason)])


def test_a_fact_that_is_no_number_is_refused_and_named():
    with pytest.raises(ValueError, match="facts of S-1: `humidity_on_charcoal` must be a number; found nan"):
        judge(sound_facts(humidity_percent=float("nan")), OSHA)


def test_a_front_section_with_nothing_on_it_is_told_in_words():
    finding = judge(sound_facts(back_over_front=float("inf")), OSHA).of("breakthrough")
    assert finding is not None
    assert (finding.effect, finding.found) == (
        "at least",
        "back section more than can be expressed of the front section",
    )


def test_a_flow_that_was_nothing_before_is_void_and_no_division_by_zero():
    finding = judge(sound_facts(flow_pairs=(pair(0.0, 0.1),)), OSHA).of("flow-change")
    assert finding is not None
    assert finding.effect == "void"
    assert judge(sound_facts(flow_pairs=(pair(0.0, 0.0),)), OSHA).of("flow-change") is None


def test_a_crossing_smaller_than_the_rounding_says_so():
    finding = judge(sound_facts(humidity_percent=60.01), OSHA).of("humid-charcoal")
    assert finding is not None
    assert finding.words.startswith("above 60 %, by less than rounding shows: ")
    assert finding.value == 60.01


def test_not_recorded_and_does_not_apply_are_not_the_same():
    """No cold way was wanted: no temperature is missing. One was wanted and nobody noted it: a finding."""
    assert judge(sound_facts(receipt_temperature_c=None, receipt_temperature_max_c=None), OSHA).findings == ()
    standing = judge(sound_facts(receipt_temperature_c=None), OSHA)
    assert [(finding.rule, finding.found) for finding in standing.findings] == [
        ("warm-on-receipt", "not recorded: the temperature on receipt")
    ]


@pytest.mark.parametrize(
    ("field", "rule", "level"),
    [("closing_round", "closing-round-missing", "qualified"), ("blanks_count", "blanks-missing", "qualified"),
     ("valve_touched", "valve-touched", "qualified"), ("certificate_days_left", "certificate-overdue", "qualified"),
     ("leak_check_passed", "leak-check", "sound"), ("days_past_expiry", "expired", "sound")],
)  # fmt: skip
def test_what_a_record_is_silent_on_is_found(field: str, rule: str, level: str):
    standing = judge(sound_facts(**{field: None}), OSHA)
    assert [finding.rule for finding in standing.findings] == [rule]
    assert standing.level == level


def test_a_sample_nobody_wrote_anything_about_is_void():
    assert judge(facts(), OSHA).level == "void"


def test_clock_and_counter_may_differ_by_what_their_reading_explains():
    """One minute of 15 is 6.7 %, and still only the reading of both; two minutes are not."""
    short = {"purpose": "short term", "averaging_min": 15.0, "sampled_share": None}
    assert judge(sound_facts(clock_min=15.0, counter_min=14.0, **short), OSHA).findings == ()
    finding = judge(sound_facts(clock_min=15.0, counter_min=13.0, **short), OSHA).of("clock-and-counter")
    assert finding is not None
    assert finding.effect == "void"
    assert finding.found == "15 min by the clock, 13 min by the pump, 13.3 % apart"


def test_a_short_term_sample_of_seventeen_minutes_is_qualified_and_keeps_its_value():
    standing = judge(sound_facts(purpose="short term", averaging_min=15.0, clock_min=17.0, counter_min=17.0), OSHA)
    assert [finding.rule for finding in standing.findings] == ["short-term-too-long"]
    assert (standing.level, standing.bound) == ("qualified", "exactly")
    assert "17 min sampled for a limit averaged over 15 min" in standing.findings[0].found


def test_several_samples_of_one_average_are_as_good_as_the_worst():
    parts = [
        judge(known, OSHA)
        for known in (sound_facts(), sound_facts(back_over_front=0.3), sound_facts(humidity_percent=70.0))
    ]
    for order in permutations(parts):
        whole = worst_of(order)
        assert (whole.level, whole.bound) == ("qualified", "at least")
        assert {finding.rule for finding in whole.findings} == {"breakthrough", "humid-charcoal"}


def test_opposite_bounds_of_two_samples_leave_no_bound():
    least, most = (Standing("qualified", bound, False, (), "uk") for bound in ("at least", "at most"))
    assert worst_of([least, most]).bound == "unknown"


def test_standings_of_different_books_are_not_put_together():
    with pytest.raises(ValueError, match="must come from one rule book; found niosh, uk"):
        worst_of([judge(sound_facts(), rule_book(key)) for key in ("uk", "niosh")])
    with pytest.raises(ValueError, match="at least one standing; found none"):
        worst_of([])


def test_a_standing_is_the_same_however_often_it_is_asked():
    known = sound_facts(flow_pairs=(pair(0.1, 0.09),), days_past_expiry=2)
    assert judge(known, OSHA) == judge(replace(known), OSHA)


def test_a_greater_drift_never_stands_better_and_the_step_is_where_the_book_has_it():
    """Flow up by 0 to 15 % in steps of 0.01 %: 5 % and 10 % themselves do not exceed 5 % and 10 %."""
    known = [sound_facts(flow_pairs=(pair(0.1, 0.1 + no * 1e-5),)) for no in range(1501)]
    for key in ("us-osha", "niosh", "en-iso"):
        levels = [LEVELS.index(judge(one, rule_book(key)).level) for one in known]
        assert levels == sorted(levels), key
        assert [levels.index(LEVELS.index(level)) for level in ("qualified", "void")] == [501, 1001], key
