"""What somebody does in the field beside the plain road: ports started singly, another pump, a picture, the camera."""

import hashlib
import re

import pytest
from field_day_acts import PORTS, act, hung_and_started, prepared, sampler_of
from field_hand import core
from field_screens import day_of, entries_of, record
from playwright.sync_api import expect


@pytest.fixture
def out(device):
    """A device with one train that hangs, or runs since an hour and a half, and no network."""

    def made(*, started=True, samplers=None):
        hand = device(samplers=samplers)
        acts = hung_and_started("T-101")
        record(hand, [*prepared("T-101"), *(acts if started else acts[:-1])])
        hand.page.context.set_offline(True)
        if started:
            hand.page.clock.fast_forward("01:30:00")
        return hand

    return made


def stretches(hand, port):
    return day_of(hand)["runs"][sampler_of("T-101", port)]["segments"]


def test_a_port_started_alone_leaves_the_others_to_be_started_later_by_their_own_minute(out):
    hand = out(started=False)
    hand.go("start", "T-101")
    hand.tap("Only some ports")
    hand.tap("^A$")
    hand.tap(r"^Start \d\d:\d\d")
    hand.kept("T-101 runs since")
    assert [len(stretches(hand, port)) for port in PORTS] == [1, 0, 0]
    hand.go("start")
    hand.see("B C not started")
    hand.page.clock.fast_forward("00:10:00")
    hand.go("run", "T-101")
    hand.tap("Start port B C")
    hand.see("All ports left")
    hand.tap("^C$")
    hand.tap(r"^Start \d\d:\d\d")
    hand.kept("T-101 runs since")
    hand.go("start", "T-101")
    hand.tap(r"^Start \d\d:\d\d")  # the one that is left
    hand.see("Train T-102")
    starts = [entry["fields"] for entry in entries_of(hand) if entry["kind"] == "pump_started"]
    assert starts == [
        {"train": "T-101", "ports": "A", "counter_min": "0"},
        {"train": "T-101", "ports": "C"},  # a pump that runs stands at zero no more
        {"train": "T-101", "ports": "B"},
    ]
    assert [len(stretches(hand, port)) for port in PORTS] == [1, 1, 1]
    assert stretches(hand, "A")[0]["start"] < stretches(hand, "C")[0]["start"] < stretches(hand, "B")[0]["start"]
    hand.go("start")
    expect(hand.page.locator(".screen")).not_to_contain_text("not started")


def test_a_pump_that_died_is_started_again_and_draws_a_second_stretch(out):
    hand = out()
    hand.go("trouble", "T-101", "pump-died")
    hand.type_on_pad("62")
    hand.tap("Start the same pump again")
    hand.kept("T-101 draws again")
    for port in PORTS:
        assert [one["ended_by"] for one in stretches(hand, port)] == ["fault", ""]


def test_another_pump_draws_on_through_the_tubes_that_hang(out):
    hand = out()
    hand.go("trouble", "T-101", "pump-died")
    hand.type_on_pad("62")
    hand.tap("Put another pump in")
    hand.see("Is this in your hand")
    again = prepared("T-101")
    again[0] = {**again[0], "fields": {**again[0]["fields"], "pump": "P-05"}}
    record(hand, again)
    hand.go("start", "T-101")
    hand.see("Who wears it")
    hand.tap("^Left$")
    hand.tap(r"^Start \d\d:\d\d")  # the tubes hang already: none is asked for
    hand.kept("T-101 runs since")
    hand.see("1 pump runs|T-102")
    hand.go("run", "T-101")
    hand.see("Look at the pump")
    for port in PORTS:
        first, second = stretches(hand, port)
        assert (first["pump"], second["pump"]) == ("P-01", "P-05")
        assert first["minutes"] == pytest.approx(62, abs=0.01)
        assert second["before"]["declared"]
        assert (second["preparation"], second["stop"]) == (1, None)
    assert day_of(hand)["conflicts"] == []


def test_a_tube_left_on_record_after_a_whole_run_is_not_taken_for_the_next_one(out):
    hand = out()
    record(hand, [act("pump_stopped", train="T-101", why="shift end", counter_min="90"), *prepared("T-101")])
    record(hand, [hung_and_started("T-101")[0]])
    hand.go("start", "T-101")
    hand.see("Port A: scan its tube")
    expect(hand.page.get_by_text(sampler_of("T-101", "A"))).to_have_count(0)


def test_a_tube_that_should_not_be_there_comes_off_and_the_right_one_draws_from_then_on(out):
    hand = out()
    hand.go("trouble", "T-101", "wrong-tube")
    hand.tap("^Port B")
    hand.tap("^The tube")
    hand.kept("is off port B")
    hand.see("Port B: scan its tube")
    hand.scan("G-102")
    hand.kept("G-102 on port B")
    assert stretches(hand, "B")[0]["ended_by"] == "sampler removed"
    assert day_of(hand)["runs"]["G-102"]["segments"][0]["stop"] is None
    assert stretches(hand, "A")[0]["stop"] is None


def test_a_wrong_tube_asked_about_and_left_does_not_hold_the_next_port(out):
    hand = out()
    hand.go("trouble", "T-101", "wrong-tube")
    hand.tap("^Port B")
    hand.tap("^The record")
    hand.see("What stands on the label at port B")
    hand.go("run", "T-101")
    hand.go("trouble", "T-101", "wrong-tube")
    hand.see("On which port")
    hand.go("trouble", "T-101", "wrong-tube", "C")
    hand.see("Port C: recorded is X-101C")


def reminded(hand):
    return hand.page.locator(".reminders li").all_inner_texts()


def test_where_the_inlets_hang_and_how_a_tube_is_turned_is_said_before_it_is_done(device):
    """The breathing zone as EN 1540 has it: 0.3 m around nose and mouth. A tube stands upright, arrow to the pump."""
    hand = device()
    record(hand, prepared("T-101"))
    hand.go("start", "T-101")
    hand.see("Who wears it")
    assert any("within 30 cm of nose and mouth" in one for one in reminded(hand))
    assert any("side towards the source" in one for one in reminded(hand))
    hand.tap("^Left$")
    hand.see("Port A: scan its tube")
    assert any("Arrow to the holder; without an arrow the smaller section" in one for one in reminded(hand))
    assert any("Tube upright" in one and "in front of its inlet" in one for one in reminded(hand))
    assert any("Break both ends" in one and "half the bore" in one for one in reminded(hand))
    record(hand, hung_and_started("T-101")[1:-1])
    hand.see("^Start ")
    assert any("respirator" in one and "inlets stay outside it" in one for one in reminded(hand))
    record(hand, [hung_and_started("T-101")[-1], act("pump_stopped", train="T-101", why="shift end", counter_min="90")])
    hand.go("stop", "T-101")
    hand.see("Are these the numbers on the labels")
    assert any("Cap both ends at once" in one for one in reminded(hand))


def test_a_port_whose_tube_broke_can_be_plugged_and_a_note_says_so(out):
    hand = out()
    hand.go("trouble", "T-101", "tube-broke")
    hand.tap("^Port C")
    hand.tap("Port plugged")
    hand.kept("the port is plugged")
    removed, note = entries_of(hand)[-2:]
    assert (removed["kind"], removed["fields"]["why"]) == ("sampler_removed", "tube broken")
    assert "Port C was plugged" in note["fields"]["text"]
    assert [stretches(hand, port)[0]["stop"] is None for port in PORTS] == [True, True, False]


def test_the_pumps_display_tells_a_leak_behind_a_tube_from_a_blocked_port(out):
    """As lapel.planning.port_pattern: nothing at one inlet with the pump's own flow unchanged is a leak behind it."""
    hand = out()
    hand.go("check", "T-101")
    hand.tap("Flow on the pump’s display")
    hand.type_on_pad("1.50")
    hand.kept("P-01 shows 1.50 L/min")
    look = entries_of(hand)[-1]
    assert look["kind"] == "pump_checked"
    assert look["fields"] == {"train": "T-101", "running": "yes", "display": "1.50", "display_unit": "L/min"}
    off = [
        act("sampler_removed", train="T-101", port=port, sampler=sampler_of("T-101", port), why="shift end")
        for port in PORTS
    ]
    record(hand, [act("pump_stopped", train="T-101", why="shift end", counter_min="90"), *off])
    after = {"A": "30.1", "B": "0.1", "C": "100.4"}
    read = {"train": "T-101", "phase": "post", "meter": "M-1", "unit": "mL/min", "basis": "actual"}
    record(hand, [act("flow_read", port=port, reading=text, **read) for port, text in after.items() for _ in range(3)])
    hand.go("stop", "T-101")
    for question, answer in enumerate(("Yes", "No", "No", "No")):
        hand.page.locator(".yes-no").nth(question).get_by_role("button", name=answer, exact=True).click()
    hand.tap("Read the ports")
    hand.see("Read the flow on the pump.s side")
    hand.tap("Flow on the pump’s display")
    hand.near("1.50")
    hand.kept("P-01 shows 1.50 L/min")
    hand.see("room air enters behind the tube")
    hand.go("pump-display", "T-101")
    hand.type_on_pad("1.35")
    hand.see("tube or valve blocked, hose kinked")


def test_the_next_tube_of_a_port_is_counted_down_to(out):
    hand = out(samplers={})
    planned = [
        {
            "train": "T-101",
            "worker": "W-01",
            "pump": "P-01",
            "splitter": "TR-1",
            "source": "typed",
            "ports": [
                {
                    "port": port,
                    "medium": medium,
                    "sampler": sampler_of("T-101", port),
                    "samplers": [sampler_of("T-101", port), *more],
                    "methods": [],
                    "target_lpm": 0.03,
                    "target_unit": "mL/min",
                    "minutes": minutes,
                }
                for (port, (medium, _, _)), (minutes, more) in zip(
                    PORTS.items(), ((120, ["G-104"]), (60, ["G-105"]), (60, [])), strict=True
                )
            ],
        }
    ]
    core(hand.page, "(field, trains) => field.setPlanned(trains)", planned)
    hand.go("run", "T-101")
    hand.see("G-104 goes on in 30 min")
    hand.see("G-105 was to go on 30 min ago")
    expect(hand.page.get_by_text("to go on")).to_have_count(1)  # nothing follows on port C
    record(hand, [act("pump_checked", train="T-101", running="yes")])
    hand.go("run")
    hand.see("T-101: the tube on port B was to be changed 30 min ago")
    hand.see("change B late 30 min")


def test_a_picture_is_kept_by_name_and_fingerprint_and_can_be_saved(out):
    hand = out()
    content = b"a picture of line 2"
    hand.go("note", "T-101")
    picture = {"name": "IMG 0001.JPG", "mimeType": "image/jpeg", "buffer": content}
    hand.page.get_by_label("Take a picture").set_input_files(picture)
    hand.see("Save the picture itself too")
    with hand.page.expect_download() as saved:
        hand.tap("Save the picture")
    hand.tap("Keep its fingerprint")
    hand.kept("the picture.s name and fingerprint")
    fields = entries_of(hand)[-1]["fields"]
    assert fields["about"] == "T-101"
    assert fields["sha256"] == hashlib.sha256(content).hexdigest()
    assert fields["file"].startswith("T-101-")
    assert saved.value.suggested_filename.replace("_", "-") == fields["file"].replace("_", "-")


CAMERA = """(() => {
  globalThis.inSight = [];
  globalThis.BarcodeDetector = class {
    static async getSupportedFormats() { return ['qr_code', 'code_128'] }
    async detect() { return globalThis.inSight.map((rawValue) => ({ rawValue })) }
  };
  const canvas = document.createElement('canvas');
  HTMLVideoElement.prototype.play = async () => {};  // nothing is to be seen: what is read is said above
  navigator.mediaDevices.getUserMedia = async () => canvas.captureStream(5);
})()"""


def test_a_label_is_read_by_the_camera_where_the_browser_reads_codes(out):
    hand = out(started=False)
    hand.page.evaluate(CAMERA)
    hand.page.evaluate("globalThis.inSight = ['https://office.example/samplers/G-201']")
    hand.go("tube", "T-101")
    hand.tap("^Port B")
    hand.see("Port B: scan its tube")
    hand.tap("Read the label with the camera")
    hand.tap("Fit G-201 all the same")  # the plan does not know it
    expect(hand.page.locator("dialog.camera")).to_have_count(0)
    hand.kept("G-201 on port B")
    run = day_of(hand)["runs"]["G-201"]
    assert (run["port"], run["how"]) == ("B", "scanned")


def test_what_is_kept_and_what_is_not_is_felt_too(out):
    hand = out()
    hand.page.evaluate("void (globalThis.felt = [], navigator.vibrate = (pattern) => Boolean(felt.push(pattern)))")
    hand.go("check", "T-101")
    hand.near("90")
    hand.kept("T-101 runs")
    kept = hand.page.evaluate("felt.splice(0)")
    hand.go("tube", "T-101")
    hand.tap("^Port B")
    hand.see("Port B: scan its tube")
    hand.page.evaluate("felt.splice(0)")
    hand.scan("G-101")  # of another medium
    hand.see("It is planned for charcoal")
    stopped = hand.page.evaluate("felt.splice(0)")
    assert len(kept) == len(stopped) == 1
    assert kept != stopped
    expect(hand.page.locator(".toast.stop")).to_contain_text(re.compile("^Stop: G-101"))  # in words too
