"""Measures of the run: time, pump, checks, volume, and what share of the shift it covers."""

from __future__ import annotations

from lapel.hygiene.facts import SampleFacts
from lapel.hygiene.measures.measure import (
    CLAIM,
    NOT_RECORDED,
    Measured,
    always,
    measure,
    percent_off,
    shown_number,
    window_words,
)
from lapel.hygiene.rulebook import RuleBook
from lapel.said import Said, listed, said, without_stop


def _clock_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    return said(
        "{clock} min by the clock, {counter} min by the pump, {gap} % apart",
        clock=shown_number(facts.clock_min),
        counter=shown_number(facts.counter_min),
        gap=shown_number(value),
    )


@measure("%", _clock_words)
def clock_counter_gap(facts: SampleFacts, book: RuleBook) -> Measured:
    """Difference of clock and pump counter in percent of the clock's minutes; 0 while their own reading explains it."""
    clock, counter = facts.clock_min, facts.counter_min
    if clock is None or counter is None:
        return None
    gap = abs(clock - counter)
    if gap <= book.clock_free_min + 1e-9:
        return 0.0
    return 100.0 * gap / clock if clock else float("inf")


@measure(CLAIM, always(said("the pump stopped by itself; its stop was worked out from the counter")))
def stop_from_counter(facts: SampleFacts, book: RuleBook) -> Measured:
    """The stop was worked out from the pump's counter."""
    return facts.stop_from_counter


def _stop_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    return listed("; ", facts.stop_unknown)


@measure(CLAIM, _stop_words)
def stop_unknown(facts: SampleFacts, book: RuleBook) -> Measured:
    """The pump's stop not recorded, or before its start: there is no sampled time."""
    return bool(facts.stop_unknown)


@measure(CLAIM, lambda facts, book, value: listed("; ", facts.stop_from_removal))
def stop_from_removal(facts: SampleFacts, book: RuleBook) -> Measured:
    """The pump's stop not recorded, or before its start, and the sampler's removal taken in its place."""
    return bool(facts.stop_from_removal)


def _fault_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    template = "{n} pump fault during the run" if value == 1 else "{n} pump faults during the run"
    return said(template, n=shown_number(value))


@measure("faults", _fault_words)
def pump_faults(facts: SampleFacts, book: RuleBook) -> Measured:
    """Pump faults during the run."""
    return facts.faults


def _restart_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    return said("{n} restart during the run" if value == 1 else "{n} restarts during the run", n=shown_number(value))


@measure("restarts", _restart_words)
def pump_restarts(facts: SampleFacts, book: RuleBook) -> Measured:
    """Restarts of the pump after a fault during the run."""
    return facts.restarts


@measure(
    "min",
    lambda facts, book, value: said("{time} on hold with the sampler in place", time=shown_number(value, "min")),
)
def held_minutes(facts: SampleFacts, book: RuleBook) -> Measured:
    """Minutes on hold while the sampler hung in place."""
    return facts.held_min


@measure(CLAIM, always(said("the port was touched while it drew; it runs in segments from there")))
def touched_in_run(facts: SampleFacts, book: RuleBook) -> Measured:
    """The port touched while it drew air."""
    return facts.touched_in_run


def _volume_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    low, high = (
        None if end is None else shown_number(end, "L")
        for end in (facts.method_volume_min_l, facts.method_volume_max_l)
    )
    return said(
        "volume {volume}; the method's window is {window}",
        volume=shown_number(facts.volume_l, "L"),
        window=window_words(low, high),
    )


@measure("%", _volume_words)
def volume_below_method(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far the volume lies below the method's window, in percent of the window's lower end."""
    if facts.volume_l is None or facts.method_volume_min_l is None:
        return None
    return -percent_off(facts.volume_l, facts.method_volume_min_l)


@measure("%", _volume_words)
def volume_above_method(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far the volume lies above the method's safe maximum, in percent of it."""
    if facts.volume_l is None or facts.method_volume_max_l is None:
        return None
    return percent_off(facts.volume_l, facts.method_volume_max_l)


def _short_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    wanted = facts.averaging_min or book.averaging_min
    return said(
        "{time} sampled for a limit averaged over {wanted}",
        time=shown_number(facts.clock_min, "min"),
        wanted=shown_number(wanted, "min"),
    )


@measure("%", _short_words)
def short_term_shortfall(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far a short-term sample is shorter than the limit's averaging time, in percent of that time."""
    if facts.purpose != "short term" or facts.clock_min is None:
        return None
    return -percent_off(facts.clock_min, facts.averaging_min or book.averaging_min)


@measure("%", _short_words)
def short_term_excess(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far a short-term sample is longer than the limit's averaging time, in percent of that time."""
    if facts.purpose != "short term" or facts.clock_min is None:
        return None
    return percent_off(facts.clock_min, facts.averaging_min or book.averaging_min)


@measure(
    "h",
    lambda facts, book, value: said("last full charge {time} before the start", time=shown_number(value, "h")),
    unsaid="when the pump was last charged in full",
)
def hours_since_charge(facts: SampleFacts, book: RuleBook) -> Measured:
    """Hours from the last full charge to the start."""
    return NOT_RECORDED if facts.hours_since_charge is None else facts.hours_since_charge


@measure(
    "min",
    lambda facts, book, value: said("{time} of warm-up before the flow was set", time=shown_number(value, "min")),
    unsaid="how long the pump warmed up before the flow was set",
)
def warm_up(facts: SampleFacts, book: RuleBook) -> Measured:
    """Minutes the pump ran before the flow was set."""
    return NOT_RECORDED if facts.warm_up_min is None else facts.warm_up_min


@measure(
    "min",
    lambda facts, book, value: said("first look at the pump {time} after the start", time=shown_number(value, "min")),
)
def first_check(facts: SampleFacts, book: RuleBook) -> Measured:
    """Minutes from the start to the first check of the pump; of a shorter run, its length is not counted."""
    return facts.first_check_min


@measure(
    "min",
    lambda facts, book, value: said("up to {time} without a look at the pump", time=shown_number(value, "min")),
)
def check_gap(facts: SampleFacts, book: RuleBook) -> Measured:
    """Longest stretch of the run without a look at the pump."""
    return facts.longest_check_gap_min


@measure("%", lambda facts, book, value: said("{share} of the shift sampled", share=shown_number(value, "%")))
def sampled_share(facts: SampleFacts, book: RuleBook) -> Measured:
    """Share of the shift that was sampled; asked of full-shift samples only."""
    if facts.purpose != "full shift" or facts.sampled_share is None:
        return None
    return 100.0 * facts.sampled_share


@measure(
    "%",
    lambda facts, book, value: said("relative humidity up to {share} on charcoal", share=shown_number(value, "%")),
)
def humidity_on_charcoal(facts: SampleFacts, book: RuleBook) -> Measured:
    """Highest relative humidity while sampling on charcoal, where water takes the place of what was looked for."""
    return facts.humidity_percent if facts.sorbent_family == "charcoal" else None


@measure("accounts", lambda facts, book, value: listed("; ", map(without_stop, facts.conflicts)))
def unsettled_conflicts(facts: SampleFacts, book: RuleBook) -> Measured:
    """Acts with two accounts that nobody has settled."""
    return len(facts.conflicts)


@measure(CLAIM, lambda facts, book, value: listed("; ", map(without_stop, facts.kit_sheet_differences)))
def kit_sheet_differs(facts: SampleFacts, book: RuleBook) -> Measured:
    """The kit sheet of whoever supplied the pump says other than what was put on the port."""
    return bool(facts.kit_sheet_differences)
