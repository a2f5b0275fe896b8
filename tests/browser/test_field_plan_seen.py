"""The states a plan and a kit sheet add to the field page, in every theme on a phone and two tablets."""

import os

import pytest
from field_day_acts import act
from field_screens import record
from test_field_plan import hung, plan_of
from test_field_screens_seen import seen

SHEET = "LAPEL KIT 1;P-11;mL/min|A;charcoal 100/50;T-100-50;CH-8120;12.0;11.8|B;DNPH silica 300;T-DN-300;DN-3305;40;"


@pytest.mark.parametrize("width", ["phone", "tablet", "tablet-upright"])
def test_what_a_plan_and_a_kit_sheet_add_is_accessible_and_fits(device, width):
    hand = device(width, trains=False, survey=f"planned-{os.getpid()}-{width}")
    hand.page.wait_for_function("() => document.getElementById('field').field.view.pack?.blanks.length > 0")
    tubes, _, _ = plan_of(hand)
    hand.go("prepare", "T1")
    hand.see("Yes, these")
    seen(hand, "pump-with-kit", width)
    hand.scan(SHEET)
    hand.see("Read from its code")
    seen(hand, "kit-scanned", width)
    hand.tap("Not this sheet")
    hand.scan(SHEET.replace("P-11", "P-12").replace("DN-3305", "DN-1").replace("40;", "90;38.5"))
    hand.see("Is it right all the same")
    seen(hand, "kit-scanned-differs", width)
    hand.tap("I have seen it: keep the sheet")
    hand.kept("kit sheet of 2 ports")
    hand.go("kit", "T1")
    seen(hand, "kit-board", width)
    hand.tap("^Port B")
    seen(hand, "kit-port-differs", width)
    record(hand, [act("train_prepared", train="T1", pump="P-11", warm_up_min="10")])
    record(hand, [act("leak_checked", train="T1", passed="yes", **at) for at in ({}, {"port": "A"}, {"port": "B"})])
    other = act("kit_sheet", train="T1", port="A", pump="P-11", medium="charcoal 100/50", lot="CH-7714", how="typed")
    record(hand, [other])
    hand.go("prepare", "T1", "tubes")
    hand.tap("^CAL-")
    hand.see("put CAL-1 on")
    seen(hand, "tubes-differs", width)
    record(hand, [*hung("T1", "P-11", "L-01", "AB"), *hung("T2", "P-12", "L-02", "A")])
    hand.go("start")
    hand.see("not handled yet")
    seen(hand, "start-blanks", width)
    hand.go("start", "T2")
    hand.see("planned on port A")
    seen(hand, "fit-expected", width)
    hand.scan(tubes["T1", "B"])
    hand.see("It is planned for DNPH")
    seen(hand, "fit-stopped", width)
    hand.scan(tubes["T2", "A"])
    hand.see("handled with this train")
    seen(hand, "go-blanks", width)
    hand.tap(r"^Start \d")
    hand.kept("T2 runs since")
    for part in ("run", "stop"):
        hand.go(part)
        hand.see("not handled yet")
        seen(hand, f"{part}-blanks", width)
    assert hand.page.complaints == []
