"""The pages of the field sheets, on a phone and a desk, in every theme."""

import pytest
from looking import grave, keep, turn_page

PAGES = [
    ("sheets", "/surveys/demo/sheets/?day=2026-10-29"),
    ("sheet", "/surveys/demo/sheets/2026-10-29/X1/"),
]


@pytest.mark.parametrize("width", ["phone", "desk"])
@pytest.mark.parametrize(("name", "path"), PAGES, ids=[page[0] for page in PAGES])
def test_a_page_of_the_sheets_is_accessible_and_fits_in_every_theme(open_page, name, path, width):
    page = open_page(path, as_="technician", width=width)
    for theme in ("light", "dark", "outdoor"):
        page.emulate_media(color_scheme="dark" if theme == "dark" else "light", reduced_motion="reduce")
        page.evaluate("theme => document.documentElement.dataset.theme = theme", theme)
        assert grave(page, only_colours=theme != "light") == [], theme
        widest = page.evaluate("document.documentElement.scrollWidth")
        assert widest <= page.viewport_size["width"], f"{theme}: the page scrolls sideways, {widest} px"
        keep(page, f"paper-{name}-{width}-{theme}")
    assert page.complaints == []


def test_the_tab_key_goes_along_the_lines_as_they_are_printed(open_page):
    page = open_page("/surveys/demo/sheets/2026-10-29/X1/", as_="technician")
    page.get_by_label("Filled in by").focus()
    passed = []
    for _ in range(9):
        page.keyboard.press("Tab")
        passed.append(page.evaluate("document.activeElement.name"))
    fields = ["time", "pump", "splitter", "warm_up_min", "charged_at", "battery"]
    assert passed == [*(f"line-1-{name}" for name in fields), "line-2-time", "line-2-passed", "line-3-time"]


def test_a_sheet_with_a_fault_says_it_beside_the_row_and_keeps_what_was_typed(open_page):
    page = open_page("/surveys/demo/sheets/2026-10-29/X1/", as_="technician")
    page.locator("#line-1-time").fill("4.40 h")
    page.locator("#line-1-pump").fill("P-01")
    turn_page(page.get_by_role("button", name="Keep the sheet"))
    page.get_by_text("Nothing was kept: 1 fault").wait_for()
    assert "wanted a time as in 06:05" in page.locator("#line-1-faults").inner_text()
    assert page.locator("#line-1-pump").input_value() == "P-01"
    assert grave(page) == []
    keep(page, "paper-sheet-fault-desk-light")
