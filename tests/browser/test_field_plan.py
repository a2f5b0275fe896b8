"""What the plan names, on the field page: the tube of every port, and the field blanks handled with the trains."""

import json
import os

import pytest
from field_day_acts import act
from field_modules import ask, open_modules
from field_screens import core, day_of, entries_of, record
from playwright.sync_api import expect

FLOWS = {"A": ("charcoal 100/50", "12.0"), "B": ("DNPH silica 300", "40.0")}


def hung(train, pump, worker, ports):
    """From the pump in hand to the worker, a closing round standing, no sampler on a port."""
    return [
        act("train_prepared", train=train, pump=pump, splitter="", warm_up_min="10"),
        act("leak_checked", train=train, passed="yes"),
        *(act("port_prepared", train=train, port=port, tube=f"CAL-{port}", medium=FLOWS[port][0]) for port in ports),
        *(
            act(
                "flow_read",
                train=train,
                port=port,
                phase="closing",
                meter="M-1",
                reading=FLOWS[port][1],
                unit="mL/min",
            )
            for port in ports
            for _ in range(3)
        ),
        act("closing_round", train=train, ports=" ".join(ports), valve_touched="no"),
        act("train_hung", train=train, worker=worker, side="left"),
    ]


@pytest.fixture
def planned(device, request):
    """A device with the plan of the day, both trains hung."""

    def made(width="phone"):
        hand = device(width, trains=False, survey=f"planned-{os.getpid()}-{request.node.name[:40]}")
        hand.page.wait_for_function("() => document.getElementById('field').field.view.pack?.blanks.length > 0")
        record(hand, [*hung("T1", "P-11", "L-01", "AB"), *hung("T2", "P-12", "L-02", "A")])
        hand.page.wait_for_function("() => Object.keys(document.getElementById('field').field.view.day.trains).length")
        return hand

    return made


def plan_of(hand):
    """Sampler by train and port, and the blanks, as the pack names them."""
    pack = json.loads(core(hand.page, "(field) => JSON.stringify(field.view.pack)"))
    tubes = {(train["train"], port["port"]): port["sampler"] for train in pack["trains"] for port in train["ports"]}
    return tubes, pack["blanks"], pack["spares"]


def test_the_tube_the_plan_has_on_a_port_is_named_and_bound_by_its_label(planned):
    hand = planned()
    tubes, _, _ = plan_of(hand)
    hand.go("start", "T1")
    hand.see("Port A: scan its tube")
    hand.see(f"{tubes['T1', 'A']}.*planned on port A")
    hand.scan(tubes["T1", "A"])
    hand.kept(f"{tubes['T1', 'A']} on port A")
    run = day_of(hand)["runs"][tubes["T1", "A"]]
    assert (run["medium"], run["lot"], run["how"]) == ("charcoal 100/50", "CH-8120", "scanned")
    assert day_of(hand)["notes"] == []


def test_another_tube_of_the_same_medium_is_taken_and_a_note_says_so(planned):
    hand = planned()
    tubes, _, _ = plan_of(hand)
    other = tubes["T2", "A"]
    hand.go("start", "T1")
    hand.see("Port A: scan its tube")
    hand.scan(other)
    hand.kept(f"{other} on port A, the same medium as {tubes['T1', 'A']}")
    assert day_of(hand)["runs"][other]["port"] == "A"
    [note] = day_of(hand)["notes"]
    assert note["about"] == other
    assert tubes["T1", "A"] in note["text"]
    assert "planned for T2 A" in note["text"]
    assert [one["kind"] for one in entries_of(hand)[-2:]] == ["sampler_fitted", "note"]


def test_a_tube_of_another_medium_a_blank_and_a_strange_label_are_stopped(planned):
    hand = planned()
    tubes, blanks, _ = plan_of(hand)
    hand.go("start", "T2")
    hand.see("Port A: scan its tube")
    for code, words in (
        (tubes["T1", "B"], "It is planned for DNPH silica 300; this port wants charcoal 100/50"),
        (blanks[0]["code"], "is a field blank"),
        ("STRANGE-1", "is not among the day"),
    ):
        hand.scan(code)
        hand.see(words)
    assert day_of(hand)["runs"] == {}


def test_a_spare_of_the_medium_is_offered_by_its_last_digits(planned):
    hand = planned()
    _, _, spares = plan_of(hand)
    spare = next(one for one in spares if one["medium"] == "charcoal 100/50")
    hand.go("start", "T2")
    hand.see("Port A: scan its tube")
    hand.page.get_by_text("By the last digits").click()
    hand.type_on_pad(spare["code"][-2:].lstrip("0") or "0", "Look for it")
    hand.tap(f"^{spare['code']}")
    hand.kept(f"{spare['code']} on port A")
    assert day_of(hand)["runs"][spare["code"]]["how"] == "keypad"


def test_blanks_are_opened_with_their_train_and_those_left_stand_on_run_and_stop(planned):
    hand = planned()
    tubes, blanks, _ = plan_of(hand)
    first = [one["code"] for one in blanks if one["train"] == "T1"]
    second = [one["code"] for one in blanks if one["train"] == "T2"]
    assert (len(first), len(second)) == (3, 1)
    hand.go("start")
    hand.see("4 field blanks of the day are not handled yet")
    hand.go("start", "T1")
    for port in "AB":
        hand.see(f"Port {port}: scan its tube")
        hand.scan(tubes["T1", port])
        hand.kept(f"{tubes['T1', port]} on port {port}")
    hand.see("3 blanks are handled with this train")
    hand.tap("^Open 3 blanks now")
    hand.kept("open. Cap at once")
    hand.tap("^All 3 capped")
    hand.kept("capped")
    hand.tap(r"^Start \d")
    hand.kept("T1")
    for part in ("run", "stop"):
        hand.go(part)
        hand.see("A field blank of the day is not handled yet")
        expect(hand.page.get_by_text(second[0])).to_have_count(1)
    opened = [one for one in entries_of(hand) if one["kind"] == "blank_opened"]
    lots = {one["code"]: one["lot"] for one in blanks}
    assert {one["fields"]["blank"]: one["fields"]["lot"] for one in opened} == {code: lots[code] for code in first}
    hand.tap("^Open the blank now")
    hand.kept(f"{second[0]} open")
    hand.tap("^Capped")
    hand.kept("capped")
    expect(hand.page.get_by_text("not handled yet")).to_have_count(0)


def test_a_planned_blank_needs_no_lot_to_be_chosen(planned):
    hand = planned()
    _, blanks, _ = plan_of(hand)
    hand.go("blank")
    hand.scan(blanks[-1]["code"])
    hand.kept(f"{blanks[-1]['code']} open")
    blank = day_of(hand)["blanks"][blanks[-1]["code"]]
    assert (blank["medium"], blank["lot"]) == (blanks[-1]["medium"], blanks[-1]["lot"])


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


PORT = {"port": "A", "medium": "charcoal", "sampler": "S-1", "samplers": ["S-1", "S-2"], "methods": []}


@pytest.mark.parametrize(
    ("planned", "on_record", "expected"),
    [
        (PORT, [], "S-1"),
        (PORT, ["S-1"], "S-2"),
        (PORT, ["S-1", "S-2"], ""),
        ({**PORT, "samplers": []}, [], "S-1"),
        ({**PORT, "sampler": "", "samplers": None}, [], ""),
        (None, [], ""),
    ],
)
def test_a_port_waits_for_the_first_of_its_samplers_that_is_on_no_record(page, planned, on_record, expected):
    given = {"planned": planned, "day": {"runs": {code: {} for code in on_record}}}
    assert ask(page, "now/planned.js", "m.expectedOn(given.planned, given.day)", given) == expected


@pytest.mark.parametrize(
    ("window", "plan", "narrowed"),
    [
        ((0.01, 0.02), (0.012, 0.018), (0.012, 0.018)),
        ((0.01, 0.02), (0.005, 0.05), (0.01, 0.02)),
        ((None, 0.02), (0.005, None), (0.005, 0.02)),
        ((0.01, None), (None, None), (0.01, None)),
    ],
)
def test_the_window_of_a_port_is_no_wider_than_the_plans(page, window, plan, narrowed):
    def ends(pair):
        return {"low_lpm": pair[0], "high_lpm": pair[1]}

    given = {"window": {**ends(window), "methods": [], "why": ""}, "planned": {**PORT, **ends(plan)}}
    found = ask(page, "now/planned.js", "m.withinThePlan(given.window, given.planned)", given)
    assert (found["low_lpm"], found["high_lpm"]) == narrowed


NOON = "Date.parse('2026-05-14T12:00:00Z')"
BLANK = {"code": "B-1", "medium": "charcoal", "lot": "L1", "catalogue": "", "opened": True, "train": "T1"}


@pytest.mark.parametrize(
    ("planned_for", "handled", "due"),
    [
        ("2026-05-14", [], ["B-1"]),
        ("2026-05-13", [], ["B-1"]),
        ("2026-05-15", [], []),
        ("2026-05-14", ["B-1"], []),
    ],
)
def test_blanks_are_due_from_their_day_on_until_somebody_handled_them(page, planned_for, handled, due):
    blanks = {code: {"blank": code, "opened_at": "2026-05-14T06:00:00Z", "closed_at": None} for code in handled}
    pack = {"planned_for": planned_for, "blanks": [BLANK], "samplers": [], "survey": {"zone": "UTC"}}
    found = ask(
        page, "now/planned.js", f"m.blanksNow(given.day, given.pack, {NOON})", {"day": {"blanks": blanks}, "pack": pack}
    )
    assert [one["code"] for one in found["due"]] == due


def test_a_blank_that_stays_capped_is_on_record_as_never_open(page):
    acts = ask(page, "screens/acts.js", "m.blankKeptCapped(given, 'hall 3')", {**BLANK, "opened": False})
    assert [one["kind"] for one in acts] == ["blank_opened", "blank_closed", "note"]
    assert acts[0]["fields"] == {"blank": "B-1", "use": "field", "medium": "charcoal", "lot": "L1", "place": "hall 3"}
    assert "capped" in acts[2]["fields"]["text"]


@pytest.mark.parametrize(
    ("planned_for", "prepared", "place"),
    [
        ("2026-05-14", "2026-05-12T20:00:00Z", "today"),
        ("2026-05-15", "2026-05-12T20:00:00Z", "earlier"),
        ("", "2026-05-12T20:00:00Z", "earlier"),
        ("2026-05-13", "2026-05-12T20:00:00Z", "today"),  # a night shift's, late: not put together yet after midnight
        ("2026-05-13", "2026-05-13T05:00:00Z", "earlier"),
    ],
)
def test_a_train_of_another_day_is_todays_again_while_a_plan_still_waits_for_it(page, planned_for, prepared, place):
    """Every day of a plan begins with T1."""
    view = {
        "day": {"trains": {"T1": {"preparations": [{"at": prepared}]}}},
        "pack": {"planned_for": planned_for, "trains": [{"train": "T1"}]},
    }
    given = {"trains": [{"code": "T1", "preparation": -1}], "view": view, "zone": "UTC"}
    found = ask(page, "screens/trains_of_day.js", f"m.byDay({{ ...given, now: {NOON} }})", given)
    assert [one["code"] for one in found[place]] == ["T1"]
