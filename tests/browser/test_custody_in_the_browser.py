"""A parcel on its way, with two people at browsers: packed, handed over, a seal found broken, a new form."""

import io
import re

import numpy as np
import pypdfium2
from cast import PASSWORD
from looking import grave, keep, turn_page
from patience import PATIENCE_MS
from playwright.sync_api import expect

from tests.documents.qr_reader import read_qr

DISPATCH = "/surveys/demo/dispatch/"
DPI = 300
MM = DPI / 25.4


def codes_on_page(pdf: bytes) -> list[str]:
    """Every QR code in the column of the samplers on the first page, read from its pixels."""
    page = np.asarray(pypdfium2.PdfDocument(io.BytesIO(pdf))[0].render(scale=DPI / 72).to_pil().convert("L"))
    column = page[:, round(19 * MM) : round(34 * MM)]
    edges = np.flatnonzero(np.diff(np.pad((column < 128).any(axis=1), 1).astype(int)))
    return [
        read_qr(np.pad(column[top:bottom], 40, constant_values=255))[0]
        for top, bottom in edges.reshape(-1, 2)
        if (bottom - top) / MM > 8
    ]


def text_of(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pages)


def downloaded(page, name) -> bytes:
    with page.expect_download() as waited:
        page.get_by_role("link", name=name).click()
    return waited.value.path().read_bytes()


def sign_by_hand(page, whose) -> int:
    """Draw two lines on a party's field, as with a finger; return the characters the form keeps of them."""
    party = page.get_by_role("group", name=whose)
    party.get_by_label("Signs").select_option("drawn")
    field = party.get_by_role("img", name="Field to sign on")
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    for line in (((0.1, 0.6), (0.3, 0.2), (0.45, 0.8)), ((0.5, 0.5), (0.7, 0.3), (0.9, 0.6))):
        points = [(box["x"] + box["width"] * x, box["y"] + box["height"] * y) for x, y in line]
        page.mouse.move(*points[0])
        page.mouse.down()
        for point in points[1:]:
            page.mouse.move(*point, steps=8)
        page.mouse.up()
    kept = party.locator("input[type=hidden]").input_value()
    assert re.fullmatch(r"drawn (\d+,\d+ )+\d+,\d+;(\d+,\d+ )+\d+,\d+", kept), kept
    return len(kept)


def test_one_hands_over_another_finds_the_seal_broken_and_the_form_is_issued_again(open_page, office):
    sender = open_page(f"{DISPATCH}K-3/", as_="lead", width="phone")
    sender.get_by_label("Laboratory").fill("Greyfell Analytical (invented)")
    sender.get_by_label("Report to").fill("the lead hygienist")
    turn_page(sender.get_by_role("button", name="Issue the form"))
    expect(sender.locator("main")).to_contain_text("Issue 1 of the form of K-3 is ready.")
    first = downloaded(sender, "PDF of issue 1")
    inside = sender.locator("table", has_text="Asked for").locator("tbody th").all_inner_texts()
    read = codes_on_page(first)
    assert len(read) >= 4
    assert read == inside[: len(read)], "the codes on the paper are the samplers on the screen"
    assert all(code in text_of(first) for code in inside)

    taker = open_page(f"{DISPATCH}K-3/", as_="technician")
    holder = taker.get_by_text("Held by").inner_text().removeprefix("Held by ").split(". ")[0].rstrip(".")
    taker.get_by_text("Hand it on").click()
    expect(taker.get_by_label("Given by")).to_have_value(holder)
    assert sign_by_hand(taker, "Who gives it") > 60
    taker.get_by_label("Taken by").fill("technician")
    to = taker.get_by_role("group", name="Who takes it")
    to.get_by_label("Firm").fill("Greyfell Analytical (invented)")
    to.get_by_label("Signs").select_option("account")
    to.get_by_label("Account", exact=True).fill("technician")
    to.get_by_label("Password of this account").fill(PASSWORD)
    keep(taker, "hand-over-signing")
    taker.get_by_label("Was the seal whole?").select_option("no")
    taker.get_by_label("Temperature in the box").fill("9.5")
    turn_page(taker.get_by_role("button", name="Record it"))
    expect(taker.locator("main")).to_contain_text("Parcel K-3 is with technician.")
    expect(taker.get_by_role("img", name=f"Signature drawn by {holder}")).to_be_visible()
    expect(taker.locator("main")).to_contain_text("account technician")
    expect(taker.locator("main")).to_contain_text("The seal was found broken.")
    assert grave(taker) == []
    keep(taker, "parcel-broken-seal")

    sender.reload()
    expect(sender.locator("main")).to_contain_text("Held by technician")
    sender.get_by_text("Issue it again, as number 2").click()
    expect(sender.get_by_label("Report to")).to_have_value("the lead hygienist")
    sender.get_by_label("Why it replaces the issue before").fill("the seal was found broken on the bench")
    turn_page(sender.get_by_role("button", name="Issue number 2"))
    expect(sender.get_by_role("row", name="1 replaced")).to_be_visible()
    assert grave(sender) == []
    keep(sender, "parcel-issued-again")
    second = downloaded(sender, "PDF of issue 2")
    assert "This replaces issue 1: the seal was found broken on the bench" in text_of(second)
    assert "Greyfell Analytical (invented)" in text_of(second)
    assert "account technician" in text_of(second)
    assert codes_on_page(second) == read
    assert downloaded(taker_again(open_page), "PDF of issue 1") == first, "the form before stays what it was"


def taker_again(open_page):
    return open_page(f"{DISPATCH}K-3/", as_="technician")


def test_a_drawing_can_be_done_again_and_stays_when_something_else_was_wrong(open_page):
    page = open_page(f"{DISPATCH}K-2/", as_="lead")
    page.get_by_text("Hand it on").click()
    party = page.get_by_role("group", name="Who takes it")
    sign_by_hand(page, "Who takes it")
    party.get_by_role("button", name="Draw again").click()
    assert party.locator("input[type=hidden]").input_value() == ""
    sign_by_hand(page, "Who takes it")
    drawn = party.locator("input[type=hidden]").input_value()
    party.get_by_label("Taken by").fill("Courier 12")
    giver = page.get_by_role("group", name="Who gives it")
    giver.get_by_label("Signs").select_option("account")
    giver.get_by_label("Password of this account").fill("guessed")
    turn_page(page.get_by_role("button", name="Record it"))
    expect(giver).to_contain_text("This is not the password")
    assert page.get_by_role("group", name="Who takes it").locator("input[type=hidden]").input_value() == drawn
    assert inked(page, "Who takes it") > 300
    assert grave(page) == []
    keep(page, "hand-over-wrong-password")


def inked(page, whose) -> int:
    """Pixels of a field that are not empty."""
    field = page.get_by_role("group", name=whose).get_by_role("img", name="Field to sign on")
    return field.evaluate(
        "c => { const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;"
        " let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n; }"
    )


def test_without_script_an_account_signs_and_nobody_can_draw(chromium, office, people):
    context = chromium.new_context(java_script_enabled=False)
    context.set_default_timeout(PATIENCE_MS)
    context.add_cookies(people("lead"))
    page = context.new_page()
    page.goto(f"{office}{DISPATCH}K-2/")
    page.get_by_text("Hand it on").click()
    for whose, name in (("Who gives it", "lead"), ("Who takes it", "technician")):
        party = page.get_by_role("group", name=whose)
        party.locator("input[name$=name]").fill(name)
        party.get_by_label("Signs").select_option("account")
        party.get_by_label("Account", exact=True).fill(name)
        party.get_by_label("Password of this account").fill(PASSWORD)
        assert not party.get_by_role("button", name="Draw again").is_visible()
    turn_page(page.get_by_role("button", name="Record it"))
    expect(page.locator("main")).to_contain_text("Parcel K-2 is with technician.")
    row = page.locator("table", has_text="Taken by").locator("tbody tr").last
    expect(row).to_contain_text("account lead")
    expect(row).to_contain_text("account technician")
    context.close()
