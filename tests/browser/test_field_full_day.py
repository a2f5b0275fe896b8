"""
The demonstration's whole survey recorded offline on two devices: ten pumps, up to three ports, three shifts.

One train of three ports is done by real taps through every part of its day, tube changes included; the rest goes
through the page's own `recordAll`. Then the phone is killed, answers are lost, deliveries doubled and shuffled. In the
end the log says what the folder says, and an assessment of it gives the same figures, to the last digit.
"""

import json
import random
import shutil
from time import monotonic, sleep

import pytest
from cast import EXAMPLES
from field_day_acts import BENCH
from field_devices import Device
from field_hand import core, pair
from patience import PATIENCE_S

from lapel.cli.main import main as lapel
from lapel.exchange.survey_folder import read_survey
from lapel.fieldlog import order_key

TAPPED = "T-101"
OF_THE_PHONE = ("T-102", "T-201", "T-203", "T-301")
AT_ONCE = 40

CHARGED = {"charged_at": "2026-10-28T21:00:00-06:00"}
PLAN = [
    {
        "train": TAPPED,
        "worker": "W-01",
        "pump": "P-01",
        "splitter": "TR-1",
        "source": "typed",
        "ports": [
            {"port": port, "medium": medium, "sampler": code, "methods": [], "target_lpm": lpm, "target_unit": "mL/min"}
            for port, medium, code, lpm in (
                ("A", "charcoal 100/50", "G-101", 0.030),
                ("B", "carbon molecular sieve 150/75", "G-102", 0.035),
                ("C", "DNPH silica cartridge", "G-103", 0.031),
            )
        ],
    }
]


class FieldDevice(Device):
    """A device that is paired through its screens and can be started with no network at all."""

    def switch_on_here(self, *, offline):
        """Start the browser, with a network or without."""
        self.launch()
        self.page.clock.install()  # before the page sets a timer: one from before could not be stopped any more
        self.context.set_offline(offline)
        self.page.goto(self.office.address + "/field/")
        self.page.locator(".screen").wait_for()
        return self


@pytest.fixture
def devices(playwright, day_office, tmp_path):
    """A phone and a tablet of one survey, paired, with the day's data, and now without a network."""
    made = []
    for code in ("full-phone", "full-tablet"):
        device = FieldDevice(playwright, tmp_path / code, day_office, code)
        made.append(device)
        device.switch_on_here(offline=False)
        device.wait_for_worker()
        device.hand = pair(device.page, day_office.address, day_office.pairing_code("full", code), author="IT")
        device.page.get_by_text("No train is known").wait_for()
        device.context.set_offline(True)
    yield made
    for device in made:
        device.switch_off()


@pytest.fixture(scope="module")
def day():
    """What the folder says happened, in its order."""
    return sorted(read_survey(EXAMPLES / "hard").entries, key=lambda entry: order_key(entry, {}))


def test_the_whole_survey_recorded_offline_on_two_devices_arrives_once_and_gives_the_same_figures(
    devices, day, tmp_path, capsys
):
    phone, tablet = devices
    others = [entry for entry in day if entry.fields.get("train") != TAPPED]
    of_the_phone = [entry for entry in others if entry.fields.get("train") in OF_THE_PHONE]
    of_the_tablet = [entry for entry in others if entry not in of_the_phone]

    core(phone.page, "(field, plan) => field.setPlanned(plan)", PLAN)
    morning_by_hand(phone)
    record_all(phone, of_the_phone[: len(of_the_phone) // 2])
    before = waiting(phone)
    phone.kill()
    phone.switch_on_here(offline=True)
    assert waiting(phone) == before
    phone.hand.page = phone.page
    rest_of_the_day_by_hand(phone)
    record_all(phone, of_the_phone[len(of_the_phone) // 2 :])
    record_all(tablet, of_the_tablet)

    for device in devices:
        device.page.clock.set_fixed_time("2026-11-02T08:00:00-07:00")
        trouble = troubled(device)
        device.context.set_offline(False)
        end = monotonic() + 2 * PATIENCE_S
        while waiting(device):
            assert monotonic() < end, core(device.page, "(field) => field.view.outbox")
            core(device.page, "(field) => field.sync().then(() => null)")
        assert trouble["lost"] >= 1
        assert trouble["doubled"] >= 1
        assert trouble["shuffled"] >= 1

    entries = everything_seen_by(tablet, of_the_office=len(day))
    assert len({entry["id"] for entry in entries}) == len(entries)
    assert said(entry for entry in entries if entry["fields"].get("train") != TAPPED) == said(map(as_record, others))
    tapped = [entry for entry in entries if entry["fields"].get("train") == TAPPED]
    expected = [as_record(entry) for entry in day if entry.fields.get("train") == TAPPED]
    assert essence(tapped) == essence(expected)

    folder = folder_of(entries, tmp_path)
    assert figures(folder, capsys) == figures(EXAMPLES / "hard", capsys)


def everything_seen_by(device, *, of_the_office):
    """What a device knows once it has heard of the other's entries too."""
    end = monotonic() + 2 * PATIENCE_S
    while True:
        core(device.page, "(field) => field.sync().then(() => null)")
        entries = json.loads(core(device.page, "(field) => JSON.stringify(field.view.entries)"))
        if len(entries) >= of_the_office or monotonic() > end:
            return entries
        sleep(0.25)


def bench(device, **more):
    """What the person at the bench set once."""
    device.page.evaluate(
        "kept => localStorage.setItem('lapel-field-place',"
        " JSON.stringify({...kept, air_at: new Date(Date.now()).toISOString()}))",
        BENCH | CHARGED | more,
    )


def morning_by_hand(phone):
    """T-101 from the pump in hand to the first look, by real taps at the minutes the sheet has."""
    hand, clock = phone.hand, Clock(phone.page)
    clock.at("04:40")
    bench(phone)
    hand.go("prepare")
    hand.tap(TAPPED)
    for words in ("Yes, these", "10 min", "as the last train", "^Full"):
        hand.tap(words)
    clock.at("04:42")
    hand.tap("Yes, nothing flows")
    hand.kept("tight")
    hand.tap("Go on without")
    clock.at("04:42:30")
    for port in "ABC":
        hand.see(f"Port {port}: which calibration tube")
        if port == "A":
            hand.tap("^CH-7715")
        hand.tap("^CAL-")
        hand.kept(f"on port {port}")
    for time, port, reading in (("04:43", "A", "29.5"), ("04:44", "B", "34.2"), ("04:45", "C", "31.0")):
        clock.at(time)
        hand.read(reading)
        hand.kept(f"port {port}, {reading}")
    closing = (
        ("A", (("04:47", "30.1"), ("04:47", "30.3"), ("04:48", "30.2"))),
        ("B", (("04:49", "35.4"), ("04:49", "35.4"), ("04:50", "35.3"))),
        ("C", (("04:51", "30.8"), ("04:51", "30.9"), ("04:52", "30.9"))),
    )
    for port, readings in closing:
        for number, (time, reading) in enumerate(readings):
            clock.at(time)
            hand.page.locator(".port-tab[aria-pressed=true] .dot.full").nth(number - 1).wait_for() if number else None
            hand.read(reading)
            hand.kept(f"port {port}, {reading}")
    hand.see("All ports are read")
    clock.at("04:53")
    hand.tap("No valve touched")
    hand.kept("the closing round of T-101 stands")
    clock.at("05:55")
    hand.go("start", TAPPED)
    hand.tap("^Right$")
    for time, port, code in (("05:57", "A", "G-101"), ("05:58", "B", "G-102"), ("05:59", "C", "G-103")):
        clock.at(time)
        hand.see(f"Port {port}: scan its tube")
        hand.scan(code)
        hand.kept(f"{code} on port {port}")
    clock.at("06:01")
    hand.tap("^Start 06:01")
    hand.kept("T-101 runs since 06:01")
    look(phone, clock, "06:20", "19")


def look(phone, clock, time, counter):
    """A look at the pump, as three taps."""
    clock.at(time)
    phone.hand.go("run")
    phone.hand.tap("^T-101")
    phone.hand.tap("Look at the pump")
    phone.hand.near(counter)
    phone.hand.kept(f"T-101 runs, {time}")


def rest_of_the_day_by_hand(phone):
    """Tube changes, looks, the stop and the readings after, by real taps."""
    hand, clock = phone.hand, Clock(phone.page)
    look(phone, clock, "08:15", "134")
    for port, off, on, old, new in (
        ("A", "10:02", "10:04", "G-101", "G-104"),
        ("B", "10:05", "10:07", "G-102", "G-105"),
    ):
        clock.at(off)
        hand.go("tube", TAPPED)
        hand.tap(f"^Port {port}")
        hand.kept(f"{old} is off port {port}")
        clock.at(on)
        hand.scan(new)
        hand.kept(f"{new} on port {port}")
    look(phone, clock, "10:10", "249")
    look(phone, clock, "12:05", "364")
    clock.at("13:56")
    hand.go("stop", TAPPED)
    hand.near("475")
    hand.kept("T-101 stopped 13:56")
    clock.at("13:57")
    hand.tap("Yes: all 3 off and capped")
    for question, answer in enumerate(("Yes", "No", "No", "No")):
        hand.page.locator(".yes-no").nth(question).get_by_role("button", name=answer, exact=True).click()
    clock.at("14:40")
    bench(phone, temperature="23.0")
    hand.tap("Read the ports")
    after = (
        ("A", (("14:40", "29.7"), ("14:40", "29.6"), ("14:41", "29.8"))),
        ("B", (("14:42", "34.8"), ("14:42", "34.9"), ("14:43", "34.8"))),
        ("C", (("14:44", "30.6"), ("14:44", "30.7"), ("14:45", "30.7"))),
    )
    for port, readings in after:
        for number, (time, reading) in enumerate(readings):
            clock.at(time)
            hand.page.locator(".port-tab[aria-pressed=true] .dot.full").nth(number - 1).wait_for() if number else None
            hand.read(reading)
            hand.kept(f"port {port}, {reading}")
    hand.see("Keep as the round after")
    clock.at("14:46")
    hand.tap("Keep as the round after")
    hand.kept("T-101 is done")


class Clock:
    """The device's clock on the first day of the survey."""

    def __init__(self, page):
        self.page = page

    def at(self, time):
        """Set it; timers run on."""
        seconds = time if time.count(":") == 2 else f"{time}:00"
        self.page.clock.set_fixed_time(f"2026-10-29T{seconds}-06:00")
        self.page.evaluate("dispatchEvent(new HashChangeEvent('hashchange'))")


def record_all(device, entries):
    """Record what the folder says, through the page's own core; a correction names the entry the page made."""
    made = device.__dict__.setdefault("made", {})
    while entries:
        author = entries[0].author
        some = []
        while (
            entries
            and entries[0].author == author
            and len(some) < AT_ONCE
            and entries[0].corrects not in [one.id for one in some]
        ):
            some, entries = [*some, entries[0]], entries[1:]
        acts = [
            {
                "kind": one.kind,
                "fields": dict(one.fields),
                "at": one.at.isoformat(),
                **({"corrects": made[one.corrects], "reason": one.reason} if one.corrects else {}),
            }
            for one in some
        ]
        ids = core(
            device.page,
            """async (field, given) => {
              await field.choose({ author: given.author });
              return (await field.recordAll(given.acts)).map((one) => one.id);
            }""",
            {"author": author, "acts": acts},
        )
        made |= dict(zip((one.id for one in some), ids, strict=True))


def waiting(device):
    """How many entries wait on the device's disk."""
    return core(device.page, "async (field) => (await field.store.waiting()).length")


def troubled(device):
    """A bad network: requests and answers lost, deliveries doubled, their entries in any order."""
    seen = {"posts": 0, "lost": 0, "doubled": 0, "shuffled": 0}
    dice = random.Random(29)

    def handle(route):
        seen["posts"] += 1
        if seen["posts"] == 1:
            seen["lost"] += 1
            return route.abort()
        parcel = json.loads(route.request.post_data)
        if len(parcel["entries"]) > 1:
            dice.shuffle(parcel["entries"])
            seen["shuffled"] += 1
        body = json.dumps(parcel)
        answer = route.fetch(post_data=body)
        if seen["posts"] == 2:
            seen["lost"] += 1  # taken at the office, and the device does not hear of it
            return route.abort()
        seen["doubled"] += 1
        return route.fulfill(response=route.fetch(post_data=body) or answer)

    device.context.route("**/api/v1/entries", handle)
    return seen


def as_record(entry):
    """An entry of the folder in the shape the page has."""
    return {"kind": entry.kind, "at": entry.at.isoformat(), "author": entry.author, "fields": dict(entry.fields)}


def said(records):
    """What was recorded, by whom and when, whatever id it got."""
    from datetime import datetime

    return sorted(
        (one["kind"], datetime.fromisoformat(one["at"]).timestamp(), one["author"], sorted(one["fields"].items()))
        for one in records
    )


def essence(records):
    """What of the tapped train's entries must be as on the sheet: acts, readings, counters and minutes.

    Left out is what the page does otherwise than the sheet did: its marks of the calibration tubes, the words of where
    the inlets sit, that labels were scanned; and tubes come off together, in one minute.
    """
    from datetime import datetime

    left_out = {"tube", "how", "why", "zone"}
    return sorted(
        (
            one["kind"],
            0.0
            if one["kind"] in ("sampler_removed", "port_prepared")
            else datetime.fromisoformat(one["at"]).timestamp() // 60,
            sorted((name, value) for name, value in one["fields"].items() if name not in left_out),
        )
        for one in records
    )


def folder_of(entries, tmp_path):
    """The demonstration's folder with what the devices delivered in place of its log."""
    folder = tmp_path / "hard"
    shutil.copytree(EXAMPLES / "hard", folder)
    shutil.rmtree(folder / "log")
    (folder / "log").mkdir()
    by_device = {}
    for entry in entries:
        by_device.setdefault(entry["device"], []).append(entry)
    for device, some in by_device.items():
        lines = [json.dumps(one, ensure_ascii=False) for one in sorted(some, key=lambda one: one["sequence"])]
        (folder / "log" / f"{device}.jsonl").write_text("\n".join(lines) + "\n", "utf-8")
    return folder


def figures(folder, capsys):
    """The whole assessment as open data, without the hash of what it was read from."""
    capsys.readouterr()
    assert lapel(["assess", str(folder), "--json", "-", "--quiet"]) in (0, 1)
    data = json.loads(capsys.readouterr().out)
    del data["input_sha256"]
    return data
