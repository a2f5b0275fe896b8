"""
The screens of the field page under a finger: how many taps a job costs, and what it leaves in the log.

A tap is a press on anything on the glass, digits of the pad and the press that keeps them included. A label read by a
scanner costs none; scrolling costs none.
"""

import re

import pytest
from field_day_acts import PORTS, TRAINS, act, hung_and_started, prepared, sampler_of
from field_screens import day_of, entries_of, record
from playwright.sync_api import expect

READINGS = {"A": ("30.1", "30.2", "30.0"), "B": ("35.2", "35.1", "35.3"), "C": ("100.4", "100.3", "100.5")}


def prepare_by_hand(hand, train, *, first):
    """One three-port train from the list to a closing round that stands, as a person would."""
    hand.tap(train)
    hand.tap("Yes, these")
    hand.tap("10 min")
    hand.tap("Another time" if first else "as the last train")
    if first:
        hand.type_on_pad("030")
    hand.tap("^Full")
    for words in ("Plug all inlets", "Plug port A", "Plug port B", "Plug port C"):
        hand.see(words)
        hand.tap("Yes, nothing flows")
    for port in PORTS:
        hand.see(f"Port {port}: which calibration tube")
        lot = hand.page.get_by_role("button", name=re.compile("^CH-7715"))
        if lot.count() and lot.first.get_attribute("aria-pressed") == "false":
            hand.tap("^CH-7715")
        hand.tap("^CAL-")
        hand.kept(f"on port {port}")
    for port, readings in READINGS.items():
        hand.see(f"Port {port}")
        hand.read(readings[0])
        hand.kept(f"port {port}")
    for port, readings in READINGS.items():
        for reading in readings:
            hand.read(reading)
            hand.kept(f"port {port}, {reading}")
    hand.tap("No valve touched: close the round")
    hand.kept(f"the closing round of {train} stands")


def test_a_three_port_train_is_prepared_in_at_most_40_taps_with_every_digit_counted(device):
    hand = device()
    prepare_by_hand(hand, "T-101", first=False)
    assert hand.taps <= 40, f"{hand.taps} taps, {hand.digits} of them digits"
    print(f"\nprepared: {hand.taps} taps, {hand.digits} of them digits")

    kinds = [entry["kind"] for entry in entries_of(hand)]
    assert kinds == [
        "train_prepared",
        *["leak_checked"] * 4,
        *["port_prepared"] * 3,
        *["flow_read"] * 12,
        "closing_round",
    ]
    read = [entry["fields"] for entry in entries_of(hand) if entry["kind"] == "flow_read"]
    assert [(one["port"], one["reading"]) for one in read if one["phase"] == "closing"] == [
        (port, reading) for port, readings in READINGS.items() for reading in readings
    ]
    assert {one["unit"] for one in read} == {"mL/min"}
    assert {(one["meter"], one["temperature"], one["pressure"]) for one in read} == {("M-1", "21.0", "83.4")}
    preparation = day_of(hand)["trains"]["T-101"]["preparations"][0]
    assert preparation["warm_up_min"] == 10
    assert preparation["charged_at"]
    assert {port: one["tube"] for port, one in preparation["ports"].items()} == {
        "A": "CAL-1",
        "B": "CAL-2",
        "C": "CAL-3",
    }
    [closing] = preparation["closing_rounds"]
    assert sorted(closing["ports"]) == ["A", "B", "C"]
    assert closing["valve_touched"] is False


def test_a_calibration_tube_serves_another_train_only_under_the_same_lot_or_catalogue_number(device):
    hand = device()
    record(hand, prepared("T-101"))
    record(hand, [act("train_prepared", train="T-102", pump="P-02", splitter="TR-1", warm_up_min="10")])
    record(hand, [act("leak_checked", train="T-102", passed="yes", **at) for at in ({}, *({"port": p} for p in "ABC"))])
    hand.go("prepare", "T-102")
    hand.see("Port A: which calibration tube")
    hand.tap("^CH-7715")
    offered = hand.page.locator(".option").all_inner_texts()
    assert any(one.startswith("CAL-A") and "same catalogue number" in one for one in offered)
    assert not any(one.startswith(("CAL-B", "CAL-C")) for one in offered)
    hand.tap("^CH-8120")  # another lot, and no catalogue number is on record for either
    assert not any(one.startswith("CAL-A") for one in hand.page.locator(".option").all_inner_texts())


def test_ten_pumps_are_hung_fitted_and_started_in_at_most_25_taps(device):
    hand = device()
    record(hand, [one for train in TRAINS for one in prepared(train)])
    pack = hand.page.evaluate("() => globalThis.another.view.pack.samplers.map((one) => [one.code, one.medium])")
    by_medium = {}
    for code, medium in pack:
        by_medium.setdefault(medium, []).append(code)
    expected = {}
    hand.tap("^Start$", within=".parts")
    hand.tap("T-101")
    for train in TRAINS:
        hand.see(f"Train {train}")
        hand.tap("^Left$")
        for port, (medium, _, _) in PORTS.items():
            hand.see(f"Port {port}: scan its tube")
            if by_medium[medium]:
                code = by_medium[medium].pop(0)
                hand.scan(code)
            else:  # the invented survey has fewer tubes than ten trains have ports: spares are not in the plan
                code = sampler_of(train, port)
                hand.scan(code)
                hand.see(f"{code} is not among")
                hand.scan(code)
            expected[train, port] = code
            hand.kept(f"{code} on port {port}")
        hand.tap(r"^Start \d\d:\d\d")
        hand.kept(f"{train} runs since")
    assert hand.taps <= 25, hand.taps
    print(f"\nten pumps hung, fitted and started: {hand.taps} taps, 30 labels scanned")
    runs = day_of(hand)["runs"]
    assert {(run["train"], run["port"]): run["sampler"] for run in runs.values()} == expected
    assert all(run["how"] == "scanned" and run["segments"][0]["stop"] is None for run in runs.values())
    assert all(run["segments"][0]["before"]["declared"] for run in runs.values())


def test_ten_hung_pumps_start_together_in_two_taps(device):
    hand = device()
    record(hand, [one for train in TRAINS for one in [*prepared(train), *hung_and_started(train)[:-1]]])
    hand.tap("^Start$", within=".parts")
    hand.tap("Start 10 trains together")
    hand.kept("10 trains run since")
    assert hand.taps == 2
    starts = [entry["at"] for entry in entries_of(hand) if entry["kind"] == "pump_started"]
    assert len(starts) == 10
    assert len(set(starts)) == 1


@pytest.fixture
def running(device):
    """A device with ten trains that run since an hour and a half, and no network since they do."""

    def made(width="phone"):
        hand = device(width)
        record(hand, [one for train in TRAINS for one in [*prepared(train), *hung_and_started(train)]])
        hand.go("run")
        hand.see("10 pumps run")
        hand.page.context.set_offline(True)
        hand.page.clock.fast_forward("01:30:00")
        hand.see("look late")
        return hand

    return made


def test_a_look_at_a_pump_in_mid_shift_takes_three_taps(running):
    hand = running()
    hand.tap("^T-103")
    hand.tap("Look at the pump")
    hand.near("90")
    hand.kept("T-103 runs")
    assert hand.taps == 3
    last = entries_of(hand)[-1]
    assert last["kind"] == "pump_checked"
    assert last["fields"] == {"train": "T-103", "running": "yes", "counter_min": "90"}
    hand.see("10 pumps run")


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("Pump died", "what does its counter show"),
        ("Tube broke", "Which port’s tube"),
        ("Worker left", "Will the worker be back"),
        ("Wrong tube", "On which port"),
        ("Unplanned task", "What does the worker do from now on"),
    ],
)
def test_every_trouble_is_two_taps_from_the_board(running, kind, words):
    hand = running()
    hand.tap("^T-105")
    hand.tap(f"^{kind}$")
    hand.see(words)
    assert hand.taps == 2


def test_a_pump_that_died_ends_its_segments_by_its_own_counter(running):
    hand = running()
    hand.go("trouble", "T-104", "pump-died")
    hand.type_on_pad("62")
    hand.kept("T-104 was found stopped")
    hand.see("What now")
    for port in PORTS:
        [segment] = day_of(hand)["runs"][sampler_of("T-104", port)]["segments"]
        assert segment["ended_by"] == "fault"
        assert segment["stop_from_counter"] is True
        assert segment["minutes"] == pytest.approx(62, abs=0.01)


def test_a_broken_tube_ends_its_sample_and_the_next_one_begins_while_the_others_run_on(running):
    hand = running()
    hand.go("trouble", "T-106", "tube-broke")
    hand.tap("^Port B")
    hand.see("Port B: scan its tube")
    hand.scan("G-102")
    hand.kept("G-102 on port B")
    runs = day_of(hand)["runs"]
    assert runs[sampler_of("T-106", "B")]["segments"][0]["ended_by"] == "sampler removed"
    assert runs["G-102"]["segments"][0]["stop"] is None
    assert runs[sampler_of("T-106", "A")]["segments"][0]["stop"] is None


def test_a_worker_who_left_for_the_day_stops_early_and_one_who_comes_back_is_a_hold(running):
    hand = running()
    hand.go("trouble", "T-107", "worker-left")
    hand.tap("No, gone for today")
    hand.near("90")
    hand.kept("T-107 was stopped early")
    hand.go("trouble", "T-108", "worker-left")
    hand.tap("Yes, later")
    hand.near("90")
    hand.kept("T-108 is on hold")
    hand.tap("Go on after the hold")
    hand.tap("Draws again .*counter not read")
    hand.kept("T-108 draws again")
    runs = day_of(hand)["runs"]
    assert [one["ended_by"] for one in runs[sampler_of("T-107", "A")]["segments"]] == ["early"]
    assert [one["ended_by"] for one in runs[sampler_of("T-108", "A")]["segments"]] == ["hold", ""]


def test_a_wrong_tube_in_the_record_is_put_right_by_a_correction_that_keeps_the_first(running):
    hand = running()
    hand.go("trouble", "T-109", "wrong-tube")
    hand.tap("^Port C")
    hand.tap("^The record")
    hand.scan("G-103")
    hand.kept("G-103 on port C")
    day = day_of(hand)
    assert day["runs"]["G-103"]["port"] == "C"
    assert sampler_of("T-109", "C") not in day["runs"]
    last = entries_of(hand)[-1]
    assert last["kind"] == "correction"
    assert last["fields"] == {"field": "sampler", "value": "G-103"}
    assert last["reason"]


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("LAPEL KIT 1;P-01;mL/min|A;charcoal 100/50;;CH-7715;30;", "is not among the day.s samplers"),
        ("G-101", "planned for charcoal 100/50; this port wants DNPH silica cartridge"),
    ],
)
def test_a_label_that_does_not_fit_the_port_is_asked_about_before_the_record_is_corrected_to_it(running, code, words):
    hand = running()
    before = entries_of(hand)
    hand.go("trouble", "T-109", "wrong-tube", "C")
    hand.tap("^The record")
    hand.scan(code)
    hand.see(words)
    hand.see("Read the label at the port again")
    assert entries_of(hand) == before
    hand.scan("G-999")
    hand.see("G-999 is not among")  # another label is another question
    assert entries_of(hand) == before
    hand.scan(code)
    hand.see(words)
    hand.tap("stands on the label at port C")
    hand.kept("on port C. The first record stays")
    assert entries_of(hand)[:-1] == before
    assert day_of(hand)["runs"][code]["port"] == "C"


def test_a_task_nobody_planned_is_on_record_from_its_minute(running):
    hand = running()
    hand.go("trouble", "T-110", "task")
    hand.tap("One minute earlier")
    hand.page.get_by_label("In other words").fill("Cleaning the coater with acetone")
    hand.tap("Keep the task")
    hand.kept("another task since")
    [task] = day_of(hand)["tasks"]
    assert (task["worker"], task["task"]) == ("W-01", "Cleaning the coater with acetone")


def test_undo_is_a_correction_and_the_first_entry_stays(running):
    hand = running()
    hand.go("check", "T-101")
    hand.near("90")
    hand.kept("T-101 runs")
    hand.tap("^Undo$")
    hand.kept("stays in the log")
    check, undone = entries_of(hand)[-2:]
    assert check["kind"] == "pump_checked"
    assert (undone["kind"], undone["corrects"], undone["fields"]) == ("correction", check["id"], {"withdraw": "yes"})
    assert day_of(hand)["trains"]["T-101"]["preparations"][0]["checks"] == []


def test_a_valve_touched_after_the_closing_round_reopens_it_for_every_port(device):
    hand = device()
    record(hand, prepared("T-101"))
    hand.go("prepare", "T-101")
    hand.see("The closing round stands")
    hand.tap("I touched a valve")
    hand.tap("^Port B")
    hand.kept("All ports are read again")
    hand.go("prepare", "T-101", "round")
    hand.see("Touch no valve")
    expect(hand.page.locator(".port-tab .dot.full")).to_have_count(0)
    hand.go("start", "T-101")
    hand.see("No closing round stands")


def test_readings_that_do_not_agree_are_said_at_once_and_stay_in_the_log(device):
    hand = device()
    record(hand, prepared("T-101")[:5])
    record(hand, [act("leak_checked", train="T-101", port=port, passed="yes") for port in "ABC"])
    hand.go("prepare", "T-101", "set")
    hand.tap("All are set")
    hand.type_on_pad("30.1")
    hand.kept("port A, 30.1")
    hand.type_on_pad("34.0")
    hand.kept("the readings do not agree")
    expect(hand.page.locator(".toast.care")).to_have_count(1)
    assert [one["fields"]["reading"] for one in entries_of(hand) if one["kind"] == "flow_read"] == ["30.1", "34.0"]


def test_a_label_scanned_for_another_port_goes_where_the_plan_has_it(device):
    samplers = {("T-101", "A"): "G-101", ("T-101", "B"): "G-102", ("T-101", "C"): "G-103"}
    hand = device(samplers=samplers)
    record(hand, [*prepared("T-101"), hung_and_started("T-101")[0]])
    hand.go("start", "T-101")
    hand.see("Port A: scan its tube")
    hand.scan("G-103")
    hand.kept("G-103 on port C")
    hand.tap("^G-101")  # by number, among the day's samplers
    hand.kept("G-101 on port A")
    runs = day_of(hand)["runs"]
    assert (runs["G-103"]["port"], runs["G-103"]["how"]) == ("C", "scanned")
    assert (runs["G-101"]["port"], runs["G-101"]["how"]) == ("A", "keypad")
    assert runs["G-103"]["expiry"] == "2027-02-28"
    expect(hand.page.locator("input[type=text]")).to_have_count(0)  # a sampler is never free text


def test_a_tube_of_another_medium_is_stopped_and_needs_a_second_thought(device):
    hand = device()
    record(hand, [*prepared("T-101"), hung_and_started("T-101")[0]])
    hand.go("start", "T-101")
    hand.see("Port A: scan its tube")
    hand.scan("G-102")
    hand.see("It is planned for carbon molecular sieve")
    assert day_of(hand)["runs"] == {}
    hand.tap("Fit G-102 all the same")
    hand.kept("G-102 on port A")
    assert day_of(hand)["runs"]["G-102"]["port"] == "A"


def test_an_expired_lot_is_said_before_the_tube_is_opened(device):
    hand = device()
    record(hand, [*prepared("T-101"), hung_and_started("T-101")[0]])
    hand.page.clock.set_system_time("2027-03-05T06:00:00Z")
    record(hand, [*prepared("T-102"), hung_and_started("T-102")[0]])
    hand.go("start", "T-102")
    for port in ("A", "B"):
        hand.see(f"Port {port}: scan its tube")
        hand.scan({"A": "G-101", "B": "G-102"}[port])
        hand.kept(f"on port {port}")
    hand.scan("G-103")
    hand.see("Its lot expired 2027-02-28")


def test_after_the_run_each_port_says_at_once_what_its_change_means_and_what_to_look_at(running):
    hand = running()
    hand.go("stop", "T-102")
    hand.near("90")
    hand.kept("T-102 stopped")
    hand.see("Are these the numbers on the labels")
    hand.tap("Yes: all 3 off and capped")
    hand.see("is the train as it was")
    for question, answer in enumerate(("Yes", "No", "No", "No")):
        hand.page.locator(".yes-no").nth(question).get_by_role("button", name=answer, exact=True).click()
        hand.taps += 1
    hand.tap("Read the ports")
    for reading in ("30.0", "30.1", "30.2"):
        hand.read(reading)
        hand.kept(f"port A, {reading}")
    hand.read("30.6")
    hand.kept(r"Port B: −13.1\s% against before. Is the calibration tube in the holder")
    for port, reading in (("B", "30.7"), ("B", "30.5"), ("C", "100.4"), ("C", "100.5"), ("C", "100.3")):
        hand.see(f"Port {port}")
        hand.read(reading)
    hand.see("Port B: 35.2.*30.6")
    expect(hand.page.locator(".word.stop").first).to_contain_text(re.compile("void", re.IGNORECASE))
    hand.see("Look at")
    hand.see("A lead, not a proof")
    hand.tap("Keep as the round after")
    hand.kept("T-102 is done")
    print(f"\nstopped and read after: {hand.taps} taps")
    [after] = day_of(hand)["trains"]["T-102"]["preparations"][0]["post_rounds"]
    assert (after["valve_touched"], after["recharged"], after["same_tubes"]) == (False, False, True)


def test_a_counter_that_disagrees_with_the_clock_is_said_while_the_worker_is_there(running):
    hand = running()
    hand.go("stop", "T-103")
    hand.type_on_pad("71", "Stop")
    hand.see("Clock 90 min, counter 71 min")
    hand.see("19 min apart")


def test_a_reading_is_taken_with_the_keyboard_alone(device):
    hand = device()
    record(hand, prepared("T-101")[:5])
    record(hand, [act("leak_checked", train="T-101", port=port, passed="yes") for port in "ABC"])
    hand.go("prepare", "T-101", "set")
    hand.page.keyboard.type("30,1", delay=120)
    hand.page.keyboard.press("Enter")
    hand.kept("port A, 30.1")
    assert entries_of(hand)[-1]["fields"]["reading"] == "30.1"
    hand.page.keyboard.press("Tab")
    assert hand.page.evaluate("document.activeElement.tagName") in ("BUTTON", "SELECT", "INPUT")


def test_blanks_are_opened_and_capped_within_two_taps_each_and_timed(device):
    hand = device()
    hand.go("blank")
    hand.tap("^CH-7715")
    hand.type_on_pad("151", "Opened now")
    hand.kept("G-151 open")
    hand.tap("^Capped$")
    hand.kept("capped")
    blank = day_of(hand)["blanks"]["G-151"]
    assert (blank["use"], blank["lot"]) == ("field", "CH-7715")
    assert blank["closed_at"]


def test_drawing_the_board_of_ten_pumps_again_touches_nothing_that_stays_the_same(running):
    """What it costs is measured by the benchmark; here, that elements are changed only where what they say changed."""
    hand = running()
    hand.page.clock.pause_at(hand.page.evaluate("Date.now() / 1000 + 1"))  # no minute passes meanwhile
    changed = hand.page.evaluate(
        """async () => {
          const redraw = () => window.dispatchEvent(new HashChangeEvent('hashchange'));
          redraw();
          const changed = [];
          const seen = new MutationObserver((records) => changed.push(...records.map((one) => one.target.className)));
          const kept = { subtree: true, childList: true, attributes: true, characterData: true };
          seen.observe(document.getElementById('field'), kept);
          for (let turn = 0; turn < 10; turn++) redraw();
          await null;
          return [...changed, ...seen.takeRecords().map((one) => one.target.className)];
        }"""
    )
    assert changed == []
    assert [said for said in hand.page.complaints if "ERR_INTERNET_DISCONNECTED" not in said] == []
