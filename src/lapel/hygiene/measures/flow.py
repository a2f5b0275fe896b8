"""Measures of the flow: before and after, the readings, the meter, the method's window."""

from __future__ import annotations

import math

from lapel.figures import first_of
from lapel.hygiene.facts import FlowPair, SampleFacts
from lapel.hygiene.measures.measure import (
    CLAIM,
    NOT_RECORDED,
    Measured,
    always,
    measure,
    percent_off,
    shown_flow,
    shown_number,
    window_words,
)
from lapel.hygiene.rulebook import RuleBook
from lapel.said import Said, listed, said

CHANGED = {
    "pre": "port {port}: {before} before, {after} after, {change} % of the flow before",
    "post": "port {port}: {before} before, {after} after, {change} % of the flow after",
    "mean": "port {port}: {before} before, {after} after, {change} % of the mean of both",
}
"""A change of flow, by the basis it is a percentage of."""


def change_percent(pair: FlowPair, basis: str) -> float | None:
    """(post - pre) over the basis, in percent and with its sign; None while one of the two is missing."""
    pre, post = pair.pre_lpm, pair.post_lpm
    if pre is None or post is None:
        return None
    of = pre if basis == "pre" else post if basis == "post" else (pre + post) / 2.0
    if of == 0.0:
        return 0.0 if pre == post else math.inf
    return 100.0 * (post - pre) / of


def _worst_pair(facts: SampleFacts, basis: str) -> tuple[FlowPair, float] | None:
    worst: tuple[FlowPair, float] | None = None
    for pair in facts.flow_pairs:
        change = change_percent(pair, basis)
        if change is not None and (worst is None or abs(change) > abs(worst[1])):
            worst = (pair, change)
    return worst


def _change_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    worst = _worst_pair(facts, book.change_basis)
    assert worst is not None  # only asked about a change that was measured
    pair, change = worst
    sign = "+" if change > 0 else "−"
    return said(
        CHANGED[book.change_basis],
        port=pair.port,
        before=shown_flow(pair.pre_lpm),
        after=shown_flow(pair.post_lpm),
        change=listed("", (sign, shown_number(abs(change)))),
    )


@measure("%", _change_words)
def flow_change(facts: SampleFacts, book: RuleBook) -> Measured:
    """Size of the change of flow from before to after, by the rule book's basis, in the worst segment."""
    basis = book.change_basis
    worst: float | None = None
    for pair in facts.flow_pairs:
        change = change_percent(pair, basis)
        if change is not None and (worst is None or abs(change) > worst):
            worst = abs(change)
    return worst


def _missing_flow_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    if not facts.flow_pairs:
        return said("no flow reading of this sample")
    bare = [pair.port for pair in facts.flow_pairs if pair.pre_lpm is None and pair.post_lpm is None]
    return said("no flow reading for a segment on port {ports}", ports=", ".join(bare))


@measure(CLAIM, _missing_flow_words)
def flow_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """A segment without any flow reading, before or after."""
    return not facts.flow_pairs or any(p.pre_lpm is None and p.post_lpm is None for p in facts.flow_pairs)


def _post_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    ports = ", ".join(sorted({p.port for p in facts.flow_pairs if p.post_lpm is None}))
    if not ports:
        return said("post-check declared as not done")
    return said("no flow reading after the run on port {ports}", ports=ports)


@measure(CLAIM, _post_words, unsaid="the flow after the run")
def post_check_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """A segment whose flow was not read afterwards."""
    if facts.post_done is False:
        return True
    if not facts.flow_pairs:
        return NOT_RECORDED if facts.post_done is None else False
    return any(pair.post_lpm is None for pair in facts.flow_pairs)


@measure(
    CLAIM,
    always(said("the ports were set, and no closing round followed")),
    unsaid="whether a closing round was made",
)
def closing_round_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """No closing round: the ports were not all read again after the last one was set."""
    return NOT_RECORDED if facts.closing_round is None else not facts.closing_round


@measure(
    CLAIM,
    always(said("a valve was touched between the closing round and the post-check")),
    unsaid="whether a valve was touched before the post-check",
)
def valve_touched(facts: SampleFacts, book: RuleBook) -> Measured:
    """A valve touched between the closing round and the post-check."""
    return NOT_RECORDED if facts.valve_touched is None else facts.valve_touched


def _energy_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    if facts.recharged and facts.battery_changed:
        return said("the pump was recharged and given another battery before the post-check")
    if facts.recharged:
        return said("the pump was recharged before the post-check")
    return said("the pump was given another battery before the post-check")


@measure(CLAIM, _energy_words, unsaid="whether the pump was recharged before the post-check")
def pump_energy_renewed(facts: SampleFacts, book: RuleBook) -> Measured:
    """The pump recharged, or its battery changed, before the post-check."""
    if facts.recharged or facts.battery_changed:
        return True
    return NOT_RECORDED if facts.recharged is None else False


def _spread_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    rows = [
        (spread, pair.port, before)
        for pair in facts.flow_pairs
        for spread, before in ((pair.pre_spread, True), (pair.post_spread, False))
        if spread is not None
    ]
    _, port, before = max(rows)
    template = (
        "readings of port {port} before spread over {share} of their mean"
        if before
        else "readings of port {port} after spread over {share} of their mean"
    )
    return said(template, port=port, share=shown_number(value, "%"))


@measure("%", _spread_words)
def replicate_spread(facts: SampleFacts, book: RuleBook) -> Measured:
    """Spread of repeated flow readings, (largest - smallest) / mean, the worst set."""
    worst: float | None = None
    for pair in facts.flow_pairs:
        for spread in (pair.pre_spread, pair.post_spread):
            if spread is not None and (worst is None or spread > worst):
                worst = spread
    return None if worst is None else 100.0 * worst


def _count_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    template = "{n} flow reading in the smallest set" if value == 1 else "{n} flow readings in the smallest set"
    return said(template, n=shown_number(value))


@measure("readings", _count_words)
def replicate_count(facts: SampleFacts, book: RuleBook) -> Measured:
    """Number of flow readings in the smallest set, before or after."""
    fewest: int | None = None
    for pair in facts.flow_pairs:
        for count in (pair.pre_n, pair.post_n):
            if count is not None and (fewest is None or count < fewest):
                fewest = count
    return fewest


@measure("readings", lambda facts, book, value: listed("; ", facts.readings_off_range))
def readings_off_range(facts: SampleFacts, book: RuleBook) -> Measured:
    """Number of readings outside the range of the meter or its certificate."""
    return len(facts.readings_off_range)


def _overdue_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    template = (
        "certificate had run out {n} day before the day of use"
        if value == 1
        else "certificate had run out {n} days before the day of use"
    )
    return said(template, n=shown_number(value))


@measure("days", _overdue_words, unsaid="when the meter's certificate runs out")
def certificate_overdue(facts: SampleFacts, book: RuleBook) -> Measured:
    """Days by which the flow meter's certificate had run out on the day of use; negative while it was good."""
    if facts.certificate_missing:
        return None
    return NOT_RECORDED if facts.certificate_days_left is None else -facts.certificate_days_left


@measure(CLAIM, always(said("a flow meter was used for which no certificate is on file")))
def certificate_missing(facts: SampleFacts, book: RuleBook) -> Measured:
    """A flow meter without a certificate on file."""
    return facts.certificate_missing


@measure(
    CLAIM,
    always(said("rotameter readings were used as read, not brought to the air of the place")),
    unsaid="whether the rotameter was corrected for the air of the place",
)
def rotameter_uncorrected(facts: SampleFacts, book: RuleBook) -> Measured:
    """Rotameter readings not corrected for the temperature and pressure of the place."""
    if "rotameter" not in facts.meter_kinds:
        return None
    return NOT_RECORDED if facts.rotameter_corrected is None else not facts.rotameter_corrected


@measure(
    CLAIM,
    lambda facts, book, value: said(
        "at a standard condition that nobody stated, left as read: {readings}",
        readings=first_of(facts.standard_unknown, 3),
    ),
)
def standard_condition_unknown(facts: SampleFacts, book: RuleBook) -> Measured:
    """Flow readings at a standard condition that nobody stated."""
    return bool(facts.standard_unknown)


@measure(CLAIM, always(said("the flow behind the volume was read on a rotameter")))
def rotameter_as_standard(facts: SampleFacts, book: RuleBook) -> Measured:
    """A rotameter as the source of the flow."""
    return "rotameter" in facts.meter_kinds


@measure(CLAIM, always(said("flow before and after were read with different meters")))
def meter_changed(facts: SampleFacts, book: RuleBook) -> Measured:
    """Different meters before and after."""
    return None if facts.same_meter is None else not facts.same_meter


@measure(CLAIM, always(said("temperature and pressure were not recorded with the flow readings")))
def air_assumed(facts: SampleFacts, book: RuleBook) -> Measured:
    """Temperature and pressure at the flow readings assumed, not recorded."""
    return facts.air_assumed


@measure(CLAIM, always(said("the leak check was not passed")), unsaid="a leak check")
def leak_check_failed(facts: SampleFacts, book: RuleBook) -> Measured:
    """A leak check that was not passed."""
    return NOT_RECORDED if facts.leak_check_passed is None else not facts.leak_check_passed


def _window_words(facts: SampleFacts, book: RuleBook, value: float) -> Said:
    in_ml = facts.flow_lpm is not None and facts.flow_lpm < 1.0
    low, high = (
        None if end is None else shown_number(1000.0 * end, "mL/min") if in_ml else shown_number(end, "L/min")
        for end in (facts.method_flow_min_lpm, facts.method_flow_max_lpm)
    )
    window = window_words(low, high)
    return said("flow {flow}; the method's window is {window}", flow=shown_flow(facts.flow_lpm), window=window)


@measure("%", _window_words)
def flow_below_method(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far the flow lies below the method's window, in percent of the window's lower end."""
    if facts.flow_lpm is None or facts.method_flow_min_lpm is None:
        return None
    return -percent_off(facts.flow_lpm, facts.method_flow_min_lpm)


@measure("%", _window_words)
def flow_above_method(facts: SampleFacts, book: RuleBook) -> Measured:
    """How far the flow lies above the method's window, in percent of the window's upper end."""
    if facts.flow_lpm is None or facts.method_flow_max_lpm is None:
        return None
    return percent_off(facts.flow_lpm, facts.method_flow_max_lpm)


@measure("mL/min", lambda facts, book, value: said("flow {flow}", flow=shown_number(value, "mL/min")))
def lowest_flow(facts: SampleFacts, book: RuleBook) -> Measured:
    """Flow of the port, where diffusion into the open sampler begins to count beside it."""
    return None if facts.flow_lpm is None else 1000.0 * facts.flow_lpm


@measure(
    "",
    lambda facts, book, value: said(
        "largest port flow {times} times the smallest on one splitter", times=shown_number(value)
    ),
)
def port_flow_ratio(facts: SampleFacts, book: RuleBook) -> Measured:
    """Largest over smallest port flow on one splitter."""
    return facts.port_flow_ratio
