"""A parcel on its way, with two people at browsers: packed, handed over, a seal found broken, a new form."""

import io

import numpy as np
import pypdfium2
from looking import grave, keep
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


def test_one_hands_over_another_finds_the_seal_broken_and_the_form_is_issued_again(open_page, office):
    sender = open_page(f"{DISPATCH}K-3/", as_="lead", width="phone")
    sender.get_by_label("Laboratory").fill("Greyfell Analytical (invented)")
    sender.get_by_label("Report to").fill("the lead hygienist")
    sender.get_by_role("button", name="Issue 1").click()
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
    taker.get_by_label("Taken by").fill("Bench 4")
    taker.get_by_label("Was the seal whole?").select_option("no")
    taker.get_by_label("Temperature in the box").fill("9.5")
    taker.get_by_role("button", name="Record it").click()
    expect(taker.locator("main")).to_contain_text("Parcel K-3 is with Bench 4.")
    expect(taker.locator("main")).to_contain_text("The seal was found broken.")
    assert grave(taker) == []
    keep(taker, "parcel-broken-seal")

    sender.reload()
    expect(sender.locator("main")).to_contain_text("Held by Bench 4")
    sender.get_by_text("Issue it again, as number 2").click()
    expect(sender.get_by_label("Report to")).to_have_value("the lead hygienist")
    sender.get_by_label("Why it replaces the issue before").fill("the seal was found broken on the bench")
    sender.get_by_role("button", name="Issue 2").click()
    expect(sender.get_by_role("row", name="1 replaced")).to_be_visible()
    assert grave(sender) == []
    keep(sender, "parcel-issued-again")
    second = downloaded(sender, "PDF of issue 2")
    assert "This replaces issue 1: the seal was found broken on the bench" in text_of(second)
    assert "Bench 4" in text_of(second)
    assert codes_on_page(second) == read
    assert downloaded(taker_again(open_page), "PDF of issue 1") == first, "the form before stays what it was"


def taker_again(open_page):
    return open_page(f"{DISPATCH}K-3/", as_="technician")
