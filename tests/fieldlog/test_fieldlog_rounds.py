"""Which readings speak for which segment."""

from __future__ import annotations

from field_book import Book, utc

from lapel.fieldlog import Entry, fold


def day_of(book, starts="06:02"):
    book.fit("06:00", "S-1", "A")
    book.fit("06:00", "S-2", "B")
    book.write(starts, "pump_started", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    return book


def readings(made):
    return [reading.reading for reading in made.readings]


def only_segment(book, sampler="S-1"):
    (segment,) = fold(book.entries).runs[sampler].segments
    return segment


def test_readings_before_the_last_setting_are_adjustments_not_the_round():
    book = Book()
    book.write("05:00", "train_prepared", train="T1", pump="P-1")
    book.read("05:05", "closing", ports="A", flow="0.120")
    book.read("05:10", "setting", ports="B", flow="0.050", times=1)
    book.read("05:15", "closing", flow="0.101")
    book.write("05:20", "closing_round", train="T1", ports="A B", valve_touched="no")
    segment = only_segment(day_of(book))
    assert readings(segment.before) == ["0.101"] * 3
    assert segment.before.at == utc("05:20")


def test_a_second_closing_round_replaces_the_first():
    book = Book()
    book.prepare(flow="0.120")
    book.read("05:30", "closing", flow="0.101")
    second = book.write("05:40", "closing_round", train="T1", ports="A B", valve_touched="no")
    segment = only_segment(day_of(book))
    assert readings(segment.before) == ["0.101"] * 3
    assert segment.before.entry_id == second.id


def test_a_valve_touched_after_the_round_takes_that_ports_round_only():
    book = Book()
    book.prepare()
    book.write("05:50", "valve_touched", train="T1", port="B", why="knocked")
    day_of(book)
    day = fold(book.entries)
    assert day.runs["S-1"].segments[0].before is not None
    assert day.runs["S-1"].segments[0].neighbour_touches == 1
    assert day.runs["S-2"].segments[0].before is None
    assert "the valve was touched" in day.runs["S-2"].segments[0].before_lost


def test_setting_a_flow_after_the_round_takes_it_too():
    book = Book()
    book.prepare()
    book.read("05:50", "setting", ports="A", times=1)
    segment = only_segment(day_of(book))
    assert segment.before is None
    assert "the flow was set" in segment.before_lost


def test_a_round_in_which_a_valve_was_touched_stands_for_no_port():
    book = Book()
    book.write("05:00", "train_prepared", train="T1", pump="P-1")
    book.read("05:05", "closing")
    book.write("05:20", "closing_round", train="T1", ports="A B", valve_touched="yes")
    day_of(book)
    day = fold(book.entries)
    segment = day.runs["S-1"].segments[0]
    assert segment.before is None
    assert "a valve was touched in the closing round" in segment.before_lost
    assert readings(day.trains["T1"].closing_rounds[0].ports["A"]) == ["0.100"] * 3


def test_readings_nobody_declared_a_round_count_as_undeclared():
    book = Book()
    book.write("05:00", "train_prepared", train="T1", pump="P-1")
    book.read("05:05", "closing", flow="0.101")
    day_of(book)
    book.read("14:30", "post", flow="0.099")
    segment = only_segment(book)
    assert (readings(segment.before), segment.before.declared) == (["0.101"] * 3, False)
    assert (readings(segment.after), segment.after.declared) == (["0.099"] * 3, False)
    assert (segment.after.valve_touched, segment.after.recharged, segment.after.same_tubes) == (None, None, None)


def test_a_port_listed_without_a_reading_has_no_round():
    book = Book()
    book.write("05:00", "train_prepared", train="T1", pump="P-1")
    book.read("05:05", "closing", ports="A")
    book.write("05:20", "closing_round", train="T1", ports="A B", valve_touched="no")
    day_of(book)
    day = fold(book.entries)
    assert day.runs["S-1"].segments[0].before is not None
    assert day.runs["S-2"].segments[0].before is None
    assert day.trains["T1"].closing_rounds[0].ports_without_reading == ("B",)
    assert "closing round without reading" in [remark.about for remark in day.remarks]


def test_a_new_preparation_takes_the_rounds_of_the_one_before():
    book = Book()
    book.prepare()
    book.write("05:40", "train_prepared", train="T1", pump="P-2")
    segment = only_segment(day_of(book))
    assert segment.before is None
    assert segment.pump == "P-2"


def test_no_round_after_the_run_says_so():
    book = Book()
    book.prepare()
    segment = only_segment(day_of(book))
    assert segment.after is None
    assert segment.after_lost == "the port was not read after it"


def test_the_answers_of_the_round_after_are_kept_with_its_readings():
    book = Book()
    book.prepare()
    day_of(book)
    book.post("14:30", valve_touched="yes", recharged="yes", battery_changed="yes", same_tubes="no")
    after = only_segment(book).after
    assert (after.valve_touched, after.recharged, after.battery_changed, after.same_tubes) == (True, True, True, False)


def test_a_touch_between_run_and_round_marks_the_round_whatever_it_says():
    book = Book()
    book.prepare()
    day_of(book)
    book.write("14:10", "valve_touched", train="T1", port="A")
    book.post("14:30")
    day = fold(book.entries)
    assert day.runs["S-1"].segments[0].after.valve_touched is True
    assert day.runs["S-2"].segments[0].after.valve_touched is False


def test_a_closing_round_of_a_break_is_the_flow_after_the_morning_and_before_the_afternoon():
    book = Book()
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.write("10:00", "pump_held", train="T1", why="break")
    book.read("10:05", "closing", flow="0.097")
    book.write("10:10", "closing_round", train="T1", ports="A B", valve_touched="no")
    book.write("10:30", "pump_resumed", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.post(flow="0.095")
    morning, afternoon = fold(book.entries).runs["S-1"].segments
    assert readings(morning.after) == ["0.097"] * 3
    assert readings(afternoon.before) == ["0.097"] * 3
    assert readings(afternoon.after) == ["0.095"] * 3


def test_a_round_after_a_turned_valve_is_not_the_flow_after_the_time_before_it():
    book = Book()
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.write("10:00", "pump_held", train="T1", why="flow low")
    book.read("10:05", "setting", ports="A", times=1)
    book.read("10:06", "closing", flow="0.100")
    book.write("10:10", "closing_round", train="T1", ports="A B", valve_touched="no")
    book.write("10:30", "pump_resumed", train="T1")
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    book.post(flow="0.095")
    morning, afternoon = fold(book.entries).runs["S-1"].segments
    assert morning.after is None
    assert "the flow was set" in morning.after_lost
    assert readings(afternoon.before) == ["0.100"] * 3


def test_checks_at_the_port_belong_to_the_segment_and_do_not_end_it():
    book = Book()
    book.prepare()
    book.fit("06:00", "S-1")
    book.write("06:02", "pump_started", train="T1")
    book.read("08:00", "check", ports="A", flow="0.099", times=1)
    book.write("14:02", "pump_stopped", train="T1", why="shift end")
    segment = only_segment(book)
    assert [reading.reading for reading in segment.checks] == ["0.099"]


def test_a_train_keeps_its_targets_leak_checks_and_rounds_by_preparation():
    book = Book()
    book.write("05:00", "train_prepared", train="T1", pump="P-1", charged_at="2026-05-13T20:00+02:00", warm_up_min="12")
    book.write(
        "05:01", "port_prepared", train="T1", port="A", tube="C-A", medium="CT", target="100", target_unit="mL/min"
    )
    book.write("05:02", "leak_checked", train="T1", passed="no")
    book.write("05:03", "leak_checked", train="T1", port="A", passed="yes")
    train = fold(book.entries).trains["T1"]
    assert (train.ports["A"].target, train.ports["A"].target_unit) == ("100", "mL/min")
    assert [(check.port, check.passed) for check in train.leak_checks] == [("", False), ("A", True)]
    assert train.warm_up_min == 12.0
    assert train.charged_at == utc("13 20:00")


def test_on_paper_readings_of_one_minute_go_before_the_round_and_after_the_touch_that_made_them_needed():
    """All of 05:10 on a sheet: valve touched, port read, round declared; the ids run against the order."""
    read = {"port": "A", "meter": "M-1", "reading": "0.1", "unit": "L/min"}
    rows = [
        ("p1", "closing_round", "05:10", {"ports": "A", "valve_touched": "no"}),
        ("p2", "flow_read", "05:10", read | {"phase": "closing"}),
        ("p3", "valve_touched", "05:10", {"port": "A"}),
        ("p4", "sampler_fitted", "06:00", {"port": "A", "sampler": "S-1"}),
        ("p5", "pump_started", "06:00", {}),
        ("p6", "post_round", "14:00", {"valve_touched": "no", "recharged": "no", "same_tubes": "yes"}),
        ("p7", "flow_read", "14:00", read | {"phase": "post", "reading": "0.09"}),
        ("p8", "flow_read", "14:00", read | {"phase": "check", "reading": "0.095"}),
        ("p9", "pump_stopped", "14:00", {"why": "shift end"}),
    ]
    entries = [Entry(i, kind, utc(at), "sheet 1", 0, "RK", {"train": "T1", **more}) for i, kind, at, more in rows]
    (segment,) = fold(entries).runs["S-1"].segments
    assert (readings(segment.before), segment.before.declared) == (["0.1"], True)
    assert (readings(segment.after), segment.after.declared) == (["0.09"], True)
    assert readings_of_checks(segment) == ["0.095"]


def readings_of_checks(segment):
    return [reading.reading for reading in segment.checks]
