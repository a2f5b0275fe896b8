"""A parcel handed over on the phone: both sign, and the office shows what they drew."""

import pytest
from field_day_acts import act
from field_screens import SIZES, entries_of, record
from looking import grave, keep
from playwright.sync_api import expect

from lapel.fieldlog.signatures import signature_in

PACKED = [
    act("blank_opened", blank="B-1", use="field", medium="charcoal 100/50", lot="CH-7715"),
    act("blank_closed", blank="B-1"),
    act("parcel_sealed", parcel="K-1", samplers="B-1", seal="880-1"),
]


def draw(hand, strokes):
    """Draw lines on the open field, each a list of places as shares of it as it is seen, and say that it is done."""
    box = hand.page.locator("dialog.sign-on canvas").bounding_box()
    assert sorted((box["width"], box["height"])) > [190, 570]  # a gloved hand's
    for stroke in strokes:
        places = [(box["x"] + box["width"] * x, box["y"] + box["height"] * y) for x, y in stroke]
        hand.page.mouse.move(*places[0])
        hand.page.mouse.down()
        for place in places[1:]:
            hand.page.mouse.move(*place, steps=1 if len(stroke) == 2 else 6)
        hand.page.mouse.up()


@pytest.fixture
def at_the_van(device):
    def made(width="phone"):
        hand = device(width, bench=False, trains=False)
        record(hand, PACKED)
        hand.go("parcel", "K-1")
        hand.see("How does NK sign")
        return hand

    return made


def sign(hand, who):
    hand.page.get_by_role("group", name=f"How does {who} sign?").get_by_role("button", name="Draws here").click()
    hand.page.get_by_role("dialog", name=f"Signature of {who}").wait_for()


@pytest.mark.parametrize("width", ["phone", "tablet"])
def test_both_sign_by_drawing_and_the_entry_holds_their_hands(at_the_van, width):
    """On a device held upright the field lies along its long side: what is drawn downwards there runs to the right."""
    hand = at_the_van(width)
    hand.page.get_by_label("Given to").fill("M. Courier")
    hand.page.get_by_label("Firm").fill("Vans of Tula (invented)")
    sign(hand, "NK")
    upright = SIZES[width][0] < SIZES[width][1]
    hand.see("Turn the device: NK signs along its long side" if upright else "NK signs with a finger")
    done = hand.page.get_by_role("button", name="Done", exact=True)
    assert done.is_disabled()
    draw(hand, [((0.5, 0.5), (0.52, 0.5))])
    assert done.is_disabled()  # a slip
    hand.page.get_by_role("button", name="Clear", exact=True).click()
    long_line, short_line = ((0.5, 0.1), (0.5, 0.9)), ((0.2, 0.5), (0.8, 0.5))
    draw(hand, [long_line, short_line] if upright else [short_line, long_line])
    for theme in ("light", "dark", "outdoor"):
        hand.page.evaluate("theme => { document.documentElement.dataset.theme = theme }", theme)
        keep(hand.page, f"sign-on-{width}-{theme}")
        assert grave(hand.page, only_colours=theme != "light") == []
    done.click()
    hand.page.get_by_role("img", name="Signature of NK").wait_for()
    sign(hand, "M. Courier")
    draw(hand, [((0.3, 0.3), (0.6, 0.7), (0.3, 0.7), (0.6, 0.3))])
    done.click()
    hand.page.get_by_role("group", name="Is the seal whole?").get_by_role("button", name="Yes").click()
    keep(hand.page, f"hand-over-signed-{width}")
    assert grave(hand.page) == []
    hand.tap("^Hand over$")
    hand.kept("given to M. Courier")
    keep(hand.page, f"handed-over-{width}")
    [handed] = [one["fields"] for one in entries_of(hand) if one["kind"] == "custody_handed"]
    assert handed["to_firm"] == "Vans of Tula (invented)"
    along, across = signature_in(handed["from_signature"]).lines
    assert along[-1][0] - along[0][0] > 300  # of the field's 600
    assert abs(along[-1][1] - along[0][1]) < 10
    down = across[-1][1] - across[0][1]  # of its 200; its upper edge is the right one of a device held upright
    assert (down < -100) if upright else (down > 100)
    assert signature_in(handed["to_signature"]).how == "drawn"
    expect(hand.page.get_by_role("img", name="Signature of M. Courier")).to_have_count(1)  # in the list of hands


def test_with_the_keyboard_they_sign_on_paper_or_not_at_all(at_the_van):
    hand = at_the_van()
    hand.page.get_by_label("Given to").fill("M. Courier")
    paper = hand.page.get_by_role("group", name="How does M. Courier sign?").get_by_role(
        "button", name="On the paper form"
    )
    paper.focus()
    hand.page.keyboard.press("Enter")
    sign(hand, "NK")
    hand.page.keyboard.press("Escape")
    hand.page.locator("dialog.sign-on").wait_for(state="detached")
    hand.page.get_by_role("group", name="Is the seal whole?").get_by_role("button", name="No", exact=True).click()
    hand.tap("^Hand over$")
    hand.kept("given to M. Courier")
    [handed] = [one["fields"] for one in entries_of(hand) if one["kind"] == "custody_handed"]
    assert handed["to_signature"] == "paper"
    assert "from_signature" not in handed
    hand.see("signed on paper")
    hand.see("not signed")


def test_one_drawing_does_not_do_for_both(at_the_van):
    hand = at_the_van()
    hand.page.get_by_label("Given to").fill("M. Courier")
    hand.page.get_by_role("group", name="Is the seal whole?").get_by_role("button", name="Yes").click()
    for who in ("NK", "M. Courier"):
        sign(hand, who)
        draw(hand, [((0.5, 0.1), (0.5, 0.9))])
        hand.page.get_by_role("button", name="Done", exact=True).click()
    hand.see("Each signs for themselves")
    hand_over = hand.page.get_by_role("button", name="Hand over", exact=True)
    expect(hand_over).to_be_disabled()
    hand.page.get_by_role("button", name="Draw again: NK").click()
    draw(hand, [((0.4, 0.1), (0.4, 0.9))])
    hand.page.get_by_role("button", name="Done", exact=True).click()
    hand_over.click()
    hand.kept("given to M. Courier")


def test_a_drawing_never_outgrows_what_an_entry_holds(at_the_van):
    hand = at_the_van("tablet")
    sign(hand, "NK")
    zigzag = [(0.05 + 0.9 * (step % 2), 0.05 + 0.9 * step / 60) for step in range(60)]
    for _ in range(4):
        draw(hand, [zigzag])
        if hand.page.get_by_text("The field holds no more lines").count():
            break
    hand.see("The field holds no more lines")
    hand.page.get_by_role("button", name="Done", exact=True).click()
    hand.page.get_by_role("button", name="Draw again: NK").click()
    hand.page.get_by_role("dialog", name="Signature of NK").wait_for()
