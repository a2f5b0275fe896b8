"""The pages of a survey in a real browser: roles, without script, the working, corrections, conflicts, equipment."""

import re

import pytest
from looking import turn_page
from patience import PATIENCE_MS
from playwright.sync_api import expect

SAMPLES = "/surveys/demo/samples/"
ENTRY = "/surveys/demo/log/flow_read-row-3/"


@pytest.fixture
def without_script(chromium, office, people):
    """Open a page as somebody in a browser that runs no script."""
    contexts = []

    def opened(path, *, as_):
        context = chromium.new_context(java_script_enabled=False, viewport={"width": 1440, "height": 900})
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        context.add_cookies(people(as_))
        page = context.new_page()
        page.goto(office + path)
        return page

    yield opened
    for context in contexts:
        context.close()


def words(page):
    return re.sub(r"\s+", " ", page.locator("main").inner_text())


@pytest.mark.parametrize("who", ["lead", "technician", "reviewer", "viewer"])
def test_every_role_reads_the_same_figures_and_is_offered_what_it_may_do(open_page, who):
    page = open_page(SAMPLES + "G-107/", as_=who)
    assert "0.482 ± 0.086 mg/m³" in words(page)
    assert (page.get_by_role("link", name="Lift “Flow before and after”").count() == 1) == (who == "lead")
    entry = open_page(ENTRY, as_=who)
    may_correct = who in ("lead", "technician")
    assert (entry.get_by_role("link", name="Correct", exact=True).count() == 1) == may_correct
    register = open_page("/sites/works/equipment/", as_=who)
    assert (register.get_by_role("link", name="Enter a pump").count() == 1) == may_correct


@pytest.mark.parametrize("path", [SAMPLES, "/surveys/demo/field/", ENTRY, "/sites/works/equipment/"])
def test_a_stranger_sees_that_there_is_nothing(open_page, path):
    page = open_page(path, as_="outsider")
    assert "nothing here" in words(page)
    assert "G-107" not in words(page)


def test_the_list_narrows_in_place_and_its_address_can_be_sent_on(open_page):
    page = open_page(SAMPLES, as_="viewer")
    page.get_by_label("Standing").select_option("void")
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.locator("#samples tbody tr")).to_have_count(1)
    page.wait_for_url("**standing=void**")
    page.reload()
    expect(page.locator("#samples tbody tr")).to_have_count(1)
    assert page.complaints == []


def test_without_script_the_list_narrows_too(without_script):
    page = without_script(SAMPLES, as_="viewer")
    page.get_by_label("Standing").select_option("void")
    turn_page(page.get_by_role("button", name="Show", exact=True))
    assert page.locator("#samples tbody tr").count() == 1


def test_from_a_result_down_to_the_reading_by_keyboard(open_page):
    page = open_page(SAMPLES + "G-104/", as_="viewer")
    summary = page.locator("details.working summary").first
    summary.focus()
    page.keyboard.press("Enter")
    reading = page.locator("details.working").first.get_by_role("link", name=re.compile("flow reading; entry")).first
    reading.focus()
    with page.expect_navigation(url="**/log/**"):
        page.keyboard.press("Enter")
    assert page.get_by_role("heading", level=1).inner_text() == "Flow read"
    assert page.get_by_role("link", name="G-104").count() == 1


def test_without_script_an_entry_is_corrected_and_the_correction_taken_back(without_script):
    page = without_script(ENTRY, as_="technician")
    turn_page(page.get_by_role("link", name="Correct", exact=True))
    page.get_by_label("Reading").fill("thirty")
    page.get_by_label("Why").fill("read upside down")
    turn_page(page.get_by_role("button", name="Record the correction"))
    assert "Found “thirty”" in words(page)
    assert page.get_by_label("Why").input_value() == "read upside down"
    page.get_by_label("Reading").fill("30.9")
    turn_page(page.get_by_role("button", name="Record the correction"))
    assert "The first version stays" in words(page)
    row = page.get_by_role("row", name=re.compile("^Reading"))
    assert "30.9" in row.inner_text()
    turn_page(page.get_by_role("link", name=re.compile("^Take back")))
    page.get_by_label("Why").fill("it was right")
    turn_page(page.get_by_role("button", name="Take it back"))
    assert "30.9" not in page.get_by_role("row", name=re.compile("^Reading")).inner_text()
    assert "taken back" in words(page)


def test_without_script_a_lead_lifts_a_finding_and_lets_it_count_again(without_script):
    page = without_script(SAMPLES + "G-108/", as_="lead")
    before = words(page)
    turn_page(page.get_by_role("link", name=re.compile("^Lift “Pump fault”")).first)
    page.get_by_label("Why this finding").fill("The counter was held against two clocks and agrees.")
    turn_page(page.get_by_role("button", name="Lift it"))
    assert "Lifted by lead: The counter was held against two clocks and agrees." in words(page)
    turn_page(page.get_by_role("link", name=re.compile("^Let it count again")))
    page.get_by_label("Why the finding").fill("one clock was the same")
    turn_page(page.get_by_role("button", name="Let it count again"))
    page.goto(page.url)
    assert words(page) == before


def test_equipment_is_changed_and_its_history_says_by_whom_and_why(open_page):
    page = open_page("/sites/works/equipment/meter/M-2/", as_="technician")
    turn_page(page.get_by_role("link", name="Change", exact=True))
    page.get_by_label("Service due on").fill("2031-05-06")
    page.get_by_label("Why it is changed").fill("agreed with the workshop")
    turn_page(page.get_by_role("button", name="Save"))
    last = page.locator("table").last.inner_text()
    assert "2031-05-06" in last
    assert "agreed with the workshop" in last
    assert "technician" in last
    assert page.complaints == []


def test_charts_change_with_the_theme_and_stay_readable_on_a_phone(open_page):
    colours = {}
    for theme in ("light", "dark"):
        page = open_page("/sites/works/equipment/pump/P-02/", as_="viewer", theme=theme, width="phone")
        colours[theme] = page.locator(".chart .fill-muted").first.evaluate("one => getComputedStyle(one).fill")
        letter = page.locator(".chart text").first.evaluate("one => one.getBoundingClientRect().height")
        assert letter >= 11
    assert colours["light"] != colours["dark"]
