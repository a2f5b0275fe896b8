"""What holds of the fold whatever was recorded: order, repetitions, and a minute-by-minute account of what drew."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from field_book import instant
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.fieldlog import Entry, fold

TRAINS = ("T1", "T2")
PORTS = ("", "A", "B", "A B")
ACTS = st.one_of(
    st.tuples(st.just("train_prepared"), st.fixed_dictionaries({"pump": st.sampled_from(["P-1", "P-2"])})),
    st.tuples(
        st.just("flow_read"),
        st.fixed_dictionaries(
            {
                "port": st.sampled_from("AB"),
                "phase": st.sampled_from(["setting", "closing", "check", "post"]),
                "meter": st.just("M-1"),
                "reading": st.sampled_from(["0.1", "0.2", "0,2"]),
                "unit": st.just("L/min"),
            }
        ),
    ),
    st.tuples(
        st.just("closing_round"),
        st.fixed_dictionaries(
            {"ports": st.sampled_from(["A", "A B"]), "valve_touched": st.sampled_from(["yes", "no"])}
        ),
    ),
    st.tuples(
        st.just("post_round"),
        st.just({"valve_touched": "no", "recharged": "no", "same_tubes": "yes"}),
    ),
    st.tuples(
        st.sampled_from(["sampler_fitted", "sampler_removed"]),
        st.fixed_dictionaries(
            {"port": st.sampled_from("AB"), "sampler": st.sampled_from(["S-1", "S-2", "S-3"]), "why": st.just("x")}
        ),
    ),
    st.tuples(
        st.sampled_from(["pump_started", "pump_resumed"]),
        st.fixed_dictionaries({"ports": st.sampled_from(PORTS), "counter_min": st.sampled_from(["", "0", "30"])}),
    ),
    st.tuples(
        st.just("pump_stopped"),
        st.fixed_dictionaries(
            {
                "ports": st.sampled_from(PORTS),
                "why": st.sampled_from(["fault", "shift end"]),
                "stopped_itself": st.sampled_from(["", "yes"]),
                "counter_min": st.sampled_from(["", "20", "60"]),
            }
        ),
    ),
    st.tuples(st.just("pump_held"), st.fixed_dictionaries({"ports": st.sampled_from(PORTS), "why": st.just("break")})),
    st.tuples(st.just("pump_checked"), st.fixed_dictionaries({"running": st.sampled_from(["yes", "no"])})),
    st.tuples(st.just("valve_touched"), st.fixed_dictionaries({"port": st.sampled_from("AB")})),
    st.tuples(st.just("train_hung"), st.fixed_dictionaries({"worker": st.sampled_from(["W-1", "W-2"])})),
)
OTHERS = st.one_of(
    st.tuples(st.sampled_from(["blank_opened", "blank_closed"]), st.just({"blank": "S-3"})),
    st.tuples(
        st.just("parcel_sealed"),
        st.fixed_dictionaries({"parcel": st.sampled_from("KL"), "samplers": st.just("S-1 S-3")}),
    ),
    st.tuples(
        st.just("custody_handed"),
        st.fixed_dictionaries({"parcel": st.just("K"), "from": st.sampled_from("ab"), "to": st.just("b")}),
    ),
    st.tuples(st.just("task"), st.just({"worker": "W-1", "task": "x"})),
)
CORRECTIONS = st.fixed_dictionaries(
    {"field": st.sampled_from(["at", "port", "why"]), "value": st.sampled_from(["2026-05-14T06:30+02:00", "A", "B"])}
) | st.sampled_from([{"withdraw": "yes"}, {"distinct_from": "e3"}])


@st.composite
def logs(draw):
    """Any acts on two trains by two devices and a sheet of paper, some corrected, some ids with two contents."""
    made = []
    for number in range(draw(st.integers(1, 25))):
        kind, fields = draw(ACTS | OTHERS)
        if kind not in ("blank_opened", "blank_closed", "parcel_sealed", "task"):
            fields = fields | ({} if kind == "custody_handed" else {"train": draw(st.sampled_from(TRAINS))})
        if kind != "sampler_removed" and kind not in ("pump_stopped", "pump_held"):
            fields = {name: value for name, value in fields.items() if name != "why"}
        device = draw(st.sampled_from(["phone-1", "phone-2", "sheet"]))
        at = instant("06:00") + timedelta(minutes=draw(st.integers(0, 40)))
        late = draw(st.sampled_from([None, timedelta(minutes=-5), timedelta(minutes=3)]))
        sequence = 0 if device == "sheet" else number + 1
        received = None if late is None or device == "sheet" else at + late
        made.append(Entry(f"e{number}", kind, at, device, sequence, device, fields, received_at=received))
    for number in range(draw(st.integers(0, 5))):
        target = draw(st.sampled_from([f"e{n}" for n in range(len(made))] + [f"c{n}" for n in range(5)]))
        at = instant("15:00") + timedelta(minutes=draw(st.integers(0, 3)))
        device = draw(st.sampled_from(["phone-1", "phone-2"]))
        made.append(Entry(f"c{number}", "correction", at, device, 100 + number, device, draw(CORRECTIONS), target, "x"))
    if draw(st.booleans()):
        made.extend(replace(one, author="somebody else") for one in made[:3])
    return made


@settings(max_examples=120, deadline=None)
@given(logs(), st.integers(0, 2**32))
def test_any_order_and_any_repetition_gives_an_equal_day(entries, seed):
    chance = random.Random(seed)
    shuffled = entries + chance.choices(entries, k=len(entries))
    chance.shuffle(shuffled)
    assert fold(shuffled) == fold(entries)


@settings(max_examples=120, deadline=None)
@given(logs())
def test_whatever_was_recorded_segments_are_in_order_and_times_add_up(entries):
    day = fold(entries)
    for run in day.runs.values():
        known = [s for s in run.segments if s.stop is not None]
        assert all(s.start <= s.stop and s.minutes >= 0 for s in known)
        assert all(a.stop <= b.start for a, b in pairwise(known))
        assert (run.clock_min is None) == (not run.segments or len(known) < len(run.segments))
        if run.clock_min is not None:
            assert run.clock_min == sum(s.minutes for s in known)
        for segment in run.segments:
            assert (segment.before is None) == bool(segment.before_lost)
            assert segment.before is None or segment.before.at <= segment.start
            assert segment.before is None or segment.before.valve_touched is not True
            assert segment.after is None or segment.stop is None or segment.after.at >= segment.start
            assert (segment.train, segment.port) == (run.train, run.port)
    assert day.entry_count == len({entry.id for entry in entries})


@settings(max_examples=120, deadline=None)
@given(logs())
def test_every_entry_is_used_shown_as_unusable_or_withdrawn_and_none_is_altered(entries):
    copies = [replace(entry, fields=dict(entry.fields)) for entry in entries]
    day = fold(entries)
    assert entries == copies
    withdrawn = {entry_id for entry_id, amended in day.amendments.items() if amended.counts is None}
    unusable = {one.entry_id for one in day.unusable}
    assert not withdrawn & unusable
    for one in day.unusable:
        assert one.problems


SETS_DRAWING = {"pump_started": True, "pump_resumed": True, "pump_stopped": False, "pump_held": False}


@st.composite
def plain_runs(draw):
    """One port that goes through starts, stops, holds and tube changes at distinct minutes, each in its turn."""
    minutes = sorted(draw(st.lists(st.integers(1, 600), min_size=2, max_size=14, unique=True)))
    acts, state, sampler = [(0, "sampler_fitted", {"port": "A", "sampler": "S-0"})], "off", 0
    for minute in minutes:
        choices = {
            "off": ["pump_started", "tube change"],
            "drawing": ["pump_stopped", "pump_held", "tube change", "valve_touched"],
            "held": ["pump_resumed", "pump_stopped", "tube change"],
        }[state]
        act = draw(st.sampled_from(choices))
        if act == "tube change":
            acts.append((minute, "sampler_removed", {"port": "A", "sampler": f"S-{sampler}", "why": "tube change"}))
            sampler += 1
            acts.append((minute, "sampler_fitted", {"port": "A", "sampler": f"S-{sampler}"}))
            continue
        more = {"pump_stopped": {"why": "fault"}, "pump_held": {"why": "break"}, "valve_touched": {"port": "A"}}
        acts.append((minute, act, more.get(act, {})))
        after = {"pump_started": "drawing", "pump_resumed": "drawing", "pump_stopped": "off", "pump_held": "held"}
        state = after.get(act, state)
    if state == "drawing":
        acts.append((601, "pump_stopped", {"why": "shift end"}))
    return acts


@settings(max_examples=120, deadline=None)
@given(plain_runs())
def test_a_minute_by_minute_account_gives_the_same_minutes_for_every_sampler(acts):
    """Brute force: walk through every minute, asking only what is on the port and whether the pump draws."""
    expected: dict[str, int] = {}
    on_port, draws = None, False
    for minute in range(602):
        for at, kind, fields in acts:
            if at == minute:
                on_port = {"sampler_fitted": fields.get("sampler"), "sampler_removed": None}.get(kind, on_port)
                draws = {"pump_started": True, "pump_resumed": True, "pump_stopped": False, "pump_held": False}.get(
                    kind, draws
                )
        if on_port is not None and draws:
            expected[on_port] = expected.get(on_port, 0) + 1
    begin = instant("00:00")
    entries = [
        Entry(f"e{n}", kind, begin + timedelta(minutes=at), "phone", n, "RK", {"train": "T1"} | fields)
        for n, (at, kind, fields) in enumerate(acts, 1)
    ]
    day = fold(entries)
    assert {code: run.clock_min for code, run in day.runs.items() if run.clock_min} == expected
    assert day.conflicts == ()
