"""Kit sheets on the field page: scanned or typed, every port held against them, and what differs asked about."""

import json
from pathlib import Path

import pytest
from field_day_acts import act, hung_and_started, prepared
from field_modules import ask, open_modules
from field_screens import day_of, entries_of, record
from playwright.sync_api import expect
from test_field_screens import READINGS, prepare_by_hand

VECTORS = Path(__file__).parents[1] / "vectors" / "field" / "kit_codes.json"
AS_PLANNED = (
    "LAPEL KIT 1;P-01;mL/min|A;charcoal 100/50;;CH-7715;30;29.6|B;carbon molecular sieve 150/75;;CM-0401;35;"
    "|C;DNPH silica cartridge;;DN-2219;100;"
)


@pytest.fixture(scope="module")
def page(chromium):
    context, page = open_modules(chromium)
    yield page
    context.close()


def test_a_code_is_read_as_the_reference_says(page):
    given = json.loads(VECTORS.read_text(encoding="utf-8"))
    found = ask(page, "kit_code.js", "given.map((one) => m.readKitCode(one.text))", given)
    assert found == [{name: value for name, value in one.items() if name != "text"} for one in given]


@pytest.mark.parametrize(
    "text",
    [
        "LAPEL KIT 2;P-1;mL/min|A;m;c;l;30;",
        "LAPEL KIT 1;P-1;gallons|A;m;c;l;30;",
        "LAPEL KIT 1;P-1;mL/min",
        "LAPEL KIT 1;P-1|A;m;c;l;30;",
        "LAPEL KIT 1;P-1;mL/min|A;m;c;l;30",
        "LAPEL KIT 1;P-1;mL/min|A;m;c;l;30,0;",
        "LAPEL KIT 1;P-1;mL/min|A;m;c;l;0;",
        "LAPEL KIT 1;P-1;mL/min|A;m;c;l;30;|A;m;c;l;30;",
        "LAPEL KIT 1;P-1;mL/min|AB;m;c;l;30;",
    ],
)
def test_a_code_that_is_not_as_the_reference_says_is_none(page, text):
    assert ask(page, "kit_code.js", "m.readKitCode(given)", text) is None


WINDOW = {"low_lpm": 0.027, "high_lpm": 0.033, "methods": [], "why": ""}
HERE = {"pump": "P-1", "medium": "charcoal", "lot": "L1", "catalogues": ["N-1"], "window": WINDOW}
SAME = {
    "pump": "P-1",
    "medium": "charcoal",
    "catalogue": "N-1",
    "lot": "L1",
    "intended": "30",
    "intended_unit": "mL/min",
}


@pytest.mark.parametrize(
    ("said", "here", "differ"),
    [
        ({}, {}, []),
        ({"pump": "P-2"}, {}, ["pump"]),
        ({"medium": "silica"}, {}, ["medium"]),
        ({"lot": "L2"}, {}, ["lot"]),
        ({"catalogue": "N-2"}, {}, ["catalogue"]),
        ({"catalogue": "N-2"}, {"catalogues": []}, []),
        ({"catalogue": "N-2"}, {"catalogues": ["N-1", "N-2"]}, []),
        ({"lot": ""}, {}, []),
        ({"lot": "L2"}, {"lot": ""}, []),
        ({"intended": "33"}, {}, []),
        ({"intended": "33.1"}, {}, ["flow"]),
        ({"intended": "0.0269", "intended_unit": "L/min"}, {}, ["flow"]),
        ({"intended": "5"}, {"window": {**WINDOW, "low_lpm": None, "high_lpm": None}}, []),
    ],
)
def test_what_differs_between_sheet_and_port(page, said, here, differ):
    given = {"said": SAME | said, "here": HERE | here}
    found = ask(page, "now/kit.js", "m.differences(given.said, given.here)", given)
    assert [one["what"] for one in found] == differ


def kit_entries(hand):
    return [one["fields"] for one in entries_of(hand) if one["kind"] == "kit_sheet"]


def test_a_scanned_sheet_is_looked_at_and_kept_for_every_port_in_one_tap(device):
    hand = device()
    hand.go("prepare", "T-101")
    hand.see("Is this what you have in hand|Yes, these")
    hand.scan(AS_PLANNED)
    hand.see("Read from its code")
    expect(hand.page.locator(".mark.good")).to_have_count(3)
    hand.tap("^Keep the sheet")
    hand.kept("kit sheet of 3 ports")
    assert hand.taps == 1
    first, second, third = kit_entries(hand)
    assert first == {
        "train": "T-101", "port": "A", "pump": "P-01", "medium": "charcoal 100/50", "lot": "CH-7715",
        "intended": "30", "intended_unit": "mL/min", "supplier": "29.6", "supplier_unit": "mL/min", "how": "scanned",
    }  # fmt: skip
    assert ("supplier" in second, "supplier_unit" in second, third["lot"]) == (False, False, "DN-2219")
    assert set(day_of(hand)["trains"]["T-101"]["kit_ahead"]) == {"A", "B", "C"}
    hand.see("3 ports: all agree")


def test_a_train_is_prepared_with_its_kit_sheet_in_at_most_40_taps_and_ours_stands_beside_the_suppliers(device):
    hand = device()
    hand.go("prepare", "T-101")
    hand.see("Yes, these")
    hand.scan(AS_PLANNED)
    hand.tap("^Keep the sheet")
    hand.kept("kit sheet of 3 ports")
    hand.go("prepare")
    prepare_by_hand(hand, "T-101", first=False)
    assert hand.taps <= 40, f"{hand.taps} taps, {hand.digits} of them digits"
    print(f"\nprepared with its kit sheet: {hand.taps} taps, {hand.digits} of them digits")
    ours = sum(float(text) for text in READINGS["A"]) / 3
    hand.go("kit", "T-101")
    hand.see(rf"\+{100 * (ours / 29.6 - 1):.1f}\s%.*against the supplier")
    day = day_of(hand)
    preparation = day["trains"]["T-101"]["preparations"][0]
    assert preparation["kit"]["A"]["supplier"] == "29.6"
    assert {reading["reading"] for reading in preparation["closing_rounds"][0]["ports"]["A"]["readings"]} == set(
        READINGS["A"]
    )
    assert [one for one in day["remarks"] if one["about"] == "differs from the kit sheet"] == []


def test_what_differs_is_said_asked_about_and_on_record(device):
    hand = device()
    other = AS_PLANNED.replace("P-01", "P-77").replace("CH-7715", "CH-9").replace("DNPH silica cartridge", "silica gel")
    hand.go("prepare", "T-101")
    hand.see("Yes, these")
    hand.scan(other)
    hand.see("Pump: P-77 on the sheet, P-01 here")
    hand.see("Medium: silica gel on the sheet, DNPH silica cartridge here")
    hand.see("Is it right all the same")
    assert kit_entries(hand) == []
    hand.tap("I have seen it: keep the sheet")
    hand.kept("kit sheet of 3 ports")
    notes = [one["text"] for one in day_of(hand)["notes"]]
    assert any("port C" in one and "medium silica gel on the sheet, DNPH silica cartridge here" in one for one in notes)
    record(hand, [act("train_prepared", train="T-101", pump="P-01", splitter="TR-1", warm_up_min="10")])
    record(hand, [act("leak_checked", train="T-101", passed="yes", **at) for at in ({}, *({"port": p} for p in "ABC"))])
    hand.go("prepare", "T-101", "tubes")
    hand.see("Port A: which calibration tube")
    hand.tap("^CH-7715")
    hand.see("Lot: CH-9 on the sheet, CH-7715 here")
    hand.tap("^CAL-")
    hand.see("I have seen it: put CAL-1 on")
    assert [one["kind"] for one in entries_of(hand)].count("port_prepared") == 0
    hand.tap("I have seen it: put CAL-1 on")
    hand.kept("on port A")
    words = [one["words"] for one in day_of(hand)["remarks"] if one["about"] == "differs from the kit sheet"]
    assert "Train T-101, port A: the kit sheet says lot CH-9; the calibration tube is of lot CH-7715." in words
    assert any("pump P-77" in one for one in words)


def test_a_sampler_of_another_lot_than_the_sheet_says_is_stopped_before_it_is_opened(device):
    hand = device()
    kit = act("kit_sheet", train="T-101", port="A", pump="P-01", medium="charcoal 100/50", lot="CH-9", how="typed")
    record(hand, [kit, *prepared("T-101"), hung_and_started("T-101")[0]])
    hand.go("start", "T-101")
    hand.see("Port A: scan its tube")
    hand.scan("G-101")
    hand.see("Lot: CH-9 on the sheet, CH-7715 here")
    assert day_of(hand)["runs"] == {}
    hand.tap("Fit G-101 all the same")
    hand.kept("G-101 on port A")
    [remark] = day_of(hand)["runs"]["G-101"]["remarks"]
    assert remark["words"] == "Train T-101, port A: the kit sheet says lot CH-9; sampler G-101 is of lot CH-7715."


def test_a_sheet_typed_port_by_port_is_kept_and_never_becomes_the_before_flow(device):
    hand = device()
    record(hand, prepared("T-101")[:5])
    hand.go("kit", "T-101")
    hand.tap("^Port A")
    hand.tap("^CH-7715")
    hand.page.get_by_label("Catalogue number").fill("CT-10050")
    hand.tap("^Intended flow")
    hand.near("30")
    hand.tap("Supplier’s own reading")
    hand.type_on_pad("29.6")
    hand.tap("^Keep$")
    hand.kept("kit sheet of port A")
    hand.see("Kit sheet, port B")
    [said] = kit_entries(hand)
    assert said == {
        "train": "T-101", "port": "A", "pump": "P-01", "medium": "charcoal 100/50", "catalogue": "CT-10050",
        "lot": "CH-7715", "intended": "30", "intended_unit": "mL/min", "supplier": "29.6", "supplier_unit": "mL/min",
        "how": "typed",
    }  # fmt: skip
    preparation = day_of(hand)["trains"]["T-101"]["preparations"][0]
    assert preparation["kit"]["A"]["supplier"] == "29.6"
    assert preparation["closing_rounds"] == []


def test_the_sheet_of_another_train_is_taken_to_it(device):
    hand = device()
    hand.go("prepare", "T-101")
    hand.see("Yes, these")
    hand.scan(AS_PLANNED.replace("P-01", "P-02"))
    hand.tap("It is the sheet of P-02: take it to T-102")
    hand.see("Kit sheet, T-102")
    hand.tap("^Keep the sheet")
    hand.kept("kit sheet of 3 ports")
    assert {one["train"] for one in kit_entries(hand)} == {"T-102"}


def test_a_code_that_is_no_kit_sheet_is_said_and_nothing_kept(device):
    hand = device()
    hand.go("kit", "T-101")
    for text, words in (("G-101", "not the code of a kit sheet"), ("LAPEL KIT 9;P;mL/min|A;;;;;", "cannot be read")):
        hand.scan(text)
        hand.see(words)
    assert entries_of(hand) == []
