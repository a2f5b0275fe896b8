"""Every page, on a phone and a desk, in every theme: accessible, nowhere wider than the screen, without a complaint."""

import pytest
from looking import grave, keep
from pages import PAGES
from playwright.sync_api import expect

THEMES = ("light", "dark", "outdoor")
EXPECTED = {"nothing-here": "404 (Not Found)", "not-yours": "403 (Forbidden)"}
"""What the browser says about pages whose status is a refusal."""

SMALLEST_TARGET = 48
"""Pixels, both ways, for what fingers tap: buttons, fields, navigation, what names a row, what unfolds. Links in
running text are as large as their words, as WCAG 2.2, 2.5.8 allows; a box or dot to tick is as large as its label."""

STILL_ASKING = "[hx-trigger^=every]"
"""What asks again and again until it is there whole, as a group that is being judged."""

TOO_SMALL = """least => [...document.querySelectorAll(
    'button, select, textarea, input:not([type=hidden]), a.button, nav a, summary, tbody th > a:first-child, a.house')]
  .filter((one) => one.checkVisibility())
  .map((one) => [one, one.matches('[type=checkbox], [type=radio]') ? one.closest('label') ?? one : one])
  .map(([one, tapped]) => [one.outerHTML.slice(0, 120), tapped.getBoundingClientRect()])
  .filter(([, box]) => box.width < least - 0.5 || box.height < least - 0.5)
  .map(([html, box]) => `${Math.round(box.width)} x ${Math.round(box.height)}: ${html}`)"""


@pytest.mark.parametrize("width", ["phone", "desk"])
@pytest.mark.parametrize(("name", "path", "who"), PAGES, ids=[page[0] for page in PAGES])
def test_a_page_is_accessible_and_fits_in_every_theme(open_page, name, path, who, width):
    page = open_page(path, as_=who, width=width)
    expect(page.locator(STILL_ASKING)).to_have_count(0)
    for theme in THEMES:
        page.emulate_media(color_scheme="dark" if theme == "dark" else "light", reduced_motion="reduce")
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        if theme == "light" or width == "phone":  # colours are the same at every width
            assert grave(page, only_colours=theme != "light") == [], theme
        widest = page.evaluate("document.documentElement.scrollWidth")
        assert widest <= page.viewport_size["width"], f"{theme}: the page scrolls sideways, {widest} px"
        keep(page, f"{name}-{width}-{theme}")
    assert [said for said in page.complaints if EXPECTED.get(name, "\0") not in said] == []
    assert page.evaluate(TOO_SMALL, SMALLEST_TARGET) == []


def test_a_stranger_sees_the_same_page_for_what_is_not_theirs_and_what_is_not_there(open_page):
    foreign = open_page("/surveys/demo/", as_="outsider").locator("main").inner_text()
    nothing = open_page("/surveys/none/", as_="outsider").locator("main").inner_text()
    assert foreign == nothing
    assert "nothing here" in foreign
