"""Pairing in a real browser, the proof of the log, several refused entries settled at once, and a device's file."""

import json
import re
import urllib.request

import pytest
from looking import grave, keep, turn_page
from patience import PATIENCE_S
from playwright.sync_api import expect

SMALLEST = 48


def look(page, name):
    """Hold a page that only a form leads to against axe, in every theme, on a desk and on a phone."""
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 844})
        for theme in ("light", "dark", "outdoor"):
            page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
            assert grave(page, only_colours=theme != "light") == [], f"{name} at {width} px, {theme}"
            assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{name}, {theme}"
            keep(page, f"{name}-{width}-{theme}")


def claim(office, code):
    request = urllib.request.Request(
        f"{office}/api/v1/pair", json.dumps({"code": code}).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=PATIENCE_S) as answer:
        return json.load(answer)


def test_a_device_is_paired_and_the_page_says_so_by_itself(open_page, office):
    page = open_page("/sites/works/devices/", as_="lead")
    page.get_by_label("What people call it").fill("Phone of the browser test")
    turn_page(page.get_by_role("button", name="Show the code"))
    code = page.locator(".copy-me.big").inner_text()
    assert re.fullmatch("[0-9A-Z]{5}-[0-9A-Z]{5}", code)
    look(page, "device-offer")
    expect(page.locator("#pairing-state")).to_contain_text("waits for the device")
    assert claim(office, code.lower())["device"]["code"] == "phone-of-the-browser-test"
    expect(page.locator("#pairing-state")).to_contain_text("used: the device is paired")
    turn_page(page.get_by_role("link", name="To the devices"))
    expect(page.get_by_role("row", name=re.compile("Phone of the browser test"))).to_contain_text("paired")
    assert page.complaints == []


def test_the_square_reads_as_the_address_with_the_code(open_page):
    page = open_page("/sites/works/devices/", as_="lead")
    turn_page(page.get_by_role("button", name="Pair Tablet of the second shift", exact=True))
    words = page.locator(".square svg desc").text_content()
    code = page.locator(".copy-me.big").inner_text().replace("-", "")
    assert words.endswith(f"/field/pair#{code}")


def test_the_log_is_proven_on_a_page_that_prints(open_page):
    page = open_page("/sites/works/log/proof/", as_="reviewer")
    turn_page(page.get_by_role("button", name="Prove the log"))
    expect(page.get_by_text("The log holds.")).to_be_visible()
    look(page, "proof-holds")
    again = page.get_by_role("button", name="Prove it again")
    expect(again).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_text("Hash of the last delivery")).to_be_visible()
    expect(again).to_be_hidden()


@pytest.mark.parametrize("width", ["desk", "phone"])
def test_shifts_stand_in_the_order_of_need_and_unfold_where_a_link_leads(open_page, width):
    page = open_page("/surveys/demo/judge/", as_="viewer", width=width)
    words = page.locator("table.overview tbody .chip").all_inner_texts()[:-2]
    assert words == sorted(words, key=["over", "cannot tell", "under"].index)
    assert page.evaluate("document.documentElement.scrollHeight") < 6000
    first = page.locator("table.overview tbody th a").first
    target = first.get_attribute("href").split("#")[1]
    assert not page.locator(f"#{target}").is_visible()
    first.click()
    expect(page.locator(f"#{target}")).to_be_visible()
    assert page.locator(f"#{target} .chart").count() == 1


def test_a_picture_wider_than_the_page_says_so_and_can_be_slid(open_page):
    page = open_page("/surveys/demo/field/?day=2026-10-29", as_="viewer", width="phone")
    assert page.locator(".chart-cue").first.is_visible()
    frame = page.locator(".chart").first
    assert frame.evaluate("one => one.scrollWidth > one.clientWidth")
    frame.evaluate("one => { one.scrollLeft = 1e6 }")
    assert frame.evaluate("one => one.scrollLeft + one.clientWidth >= one.scrollWidth - 1")
    wide = open_page("/surveys/demo/field/?day=2026-10-29", as_="viewer", width="desk")
    assert not wide.locator(".chart-cue").first.is_visible()


def test_the_page_one_is_on_stands_in_sight_in_the_row_of_pages(open_page):
    page = open_page("/surveys/demo/judge/", as_="viewer", width="phone")
    box = page.locator(".beside a[aria-current]").bounding_box()
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
