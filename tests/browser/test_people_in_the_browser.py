"""People at a real browser: signing in, the second factor, an invitation, the themes, and all of it without script."""

import base64
import re

from django_otp.oath import totp
from looking import grave, keep, turn_page
from patience import PATIENCE_MS
from playwright.sync_api import expect
from signing_in import sign_in


def look(page, name):
    """Hold a page that only a form leads to against axe, on a desk and on a phone."""
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 844})
        assert grave(page) == [], f"{name} at {width} px"
        assert page.evaluate("document.documentElement.scrollWidth") <= width, name
        keep(page, f"{name}-{width}")


def code_from(page) -> str:
    """The six digits an authenticator would show for the secret on the page."""
    secret = page.locator(".copy-me").inner_text().replace(" ", "").replace("\n", "")
    return f"{totp(base64.b32decode(secret + '=' * (-len(secret) % 8))):06d}"


def test_a_newcomer_is_invited_sets_up_a_second_factor_and_signs_in_with_a_backup_code(chromium, office, open_page):
    lead = open_page("/sites/works/people/", as_="lead")
    lead.get_by_label("Name to sign in with").fill("newcomer")
    lead.get_by_label("reviewer: reads").check()
    turn_page(lead.get_by_role("button", name="Invite"))
    expect(lead.locator(".copy-me")).to_be_visible()
    look(lead, "one-time-link")
    link = lead.locator(".copy-me").inner_text()

    context = chromium.new_context()
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto(link)
    look(page, "invitation")
    page.get_by_label("Password", exact=True).fill("a lamp over the bench")
    page.get_by_label("Password, once more").fill("a lamp over the bench")
    turn_page(page.get_by_role("button", name="Set the password"))
    expect(page.locator("main")).to_contain_text("The password is set")
    sign_in(page, office, "newcomer", "a lamp over the bench")

    turn_page(page.get_by_role("link", name="Account"))
    turn_page(page.get_by_role("link", name="Set up the second factor"))
    page.get_by_label("Code").fill(code_from(page))
    turn_page(page.get_by_role("button", name="Switch it on"))
    expect(page.locator(".codes li")).to_have_count(10)
    codes = page.locator(".codes li").all_inner_texts()
    look(page, "backup-codes")
    turn_page(page.get_by_role("link", name="I have kept them"))
    expect(page.get_by_role("heading", name="Surveys")).to_be_visible()
    context.close()

    again = chromium.new_context().new_page()
    again.set_default_timeout(PATIENCE_MS)
    sign_in(again, office, "newcomer", "a lamp over the bench")
    expect(again.get_by_role("heading", name="The code from your phone")).to_be_visible()
    look(again, "second-factor")
    again.goto(office + "/surveys/demo/")
    expect(again.get_by_role("heading", name="The code from your phone")).to_be_visible()
    again.get_by_label("Code").fill(codes[0])
    turn_page(again.get_by_role("button", name="Go on"))
    expect(again.get_by_role("heading", name="Surveys")).to_be_visible()
    turn_page(again.get_by_role("link", name="Account"))
    expect(again.get_by_role("heading", name="Your account")).to_be_visible()
    look(again, "account-with-second-factor")
    again.context.close()

    used = open_page(link.removeprefix(office))
    expect(used.get_by_role("heading", name="This link is used up")).to_be_visible()
    look(used, "link-used-up")


def test_wrong_passwords_are_said_at_the_form_until_signing_in_is_paused(open_page, office):
    page = open_page("/sign-in/")
    for _ in range(4):
        sign_in(page, office, "nobody-here", "wrong")
    expect(page.get_by_role("alert")).to_contain_text("do not belong together")
    look(page, "sign-in-refused")
    sign_in(page, office, "nobody-here", "wrong")
    expect(page.get_by_role("heading", name="Signing in is paused")).to_be_visible()
    look(page, "locked-out")


def test_a_fault_in_a_form_stands_at_its_field_and_is_read_out(open_page):
    page = open_page("/sites/works/people/", as_="lead")
    page.get_by_label("Name to sign in with").fill("not a name")
    turn_page(page.get_by_role("button", name="Invite"))
    field = page.get_by_label("Name to sign in with")
    expect(field).to_have_attribute("aria-invalid", "true")
    told = page.locator(f"#{field.get_attribute('aria-describedby').split()[-1]}").inner_text()
    assert "no spaces. Nobody was invited." in told
    look(page, "invite-refused")


def test_the_theme_is_kept_and_the_page_stays(open_page):
    page = open_page("/surveys/demo/", as_="viewer", theme="device")
    turn_page(page.get_by_role("button", name="Outdoor"))
    expect(page.locator("html")).to_have_attribute("data-theme", "outdoor")
    assert page.url.endswith("/surveys/demo/")
    assert page.get_by_role("button", name="Outdoor").get_attribute("aria-pressed") == "true"
    turn_page(page.get_by_role("link", name="People"))
    expect(page.get_by_role("heading", name="People")).to_be_visible()
    expect(page.locator("html")).to_have_css("background-color", "rgb(255, 255, 255)")


def test_pages_follow_the_device_until_a_theme_is_chosen(open_page):
    page = open_page("/", as_="viewer", theme="device")
    light = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    page.emulate_media(color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") != light


def test_everything_works_without_script(chromium, office):
    context = chromium.new_context(java_script_enabled=False)
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    sign_in(page, office, "technician")
    turn_page(page.get_by_role("link", name=re.compile("^Solvents")))
    expect(page.get_by_role("heading", name="Scope")).to_be_visible()
    turn_page(page.get_by_role("button", name="Dark"))
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    context.close()


def test_the_keyboard_reaches_the_content_first_and_shows_where_it_is(open_page):
    page = open_page("/surveys/demo/", as_="viewer")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    page.keyboard.press("Enter")
    expect(page.locator("#main")).to_be_focused()


def test_on_paper_there_are_words_and_no_controls(open_page):
    page = open_page("/surveys/demo/", as_="lead")
    controls = [page.locator(control).first for control in ("nav[aria-label=Main]", ".appearance", ".button")]
    for control in controls:
        expect(control).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", name="Scope")).to_be_visible()
    for control in controls:
        expect(control).to_be_hidden()


def test_a_table_drawn_as_cards_is_still_a_table(open_page):
    page = open_page("/", as_="viewer", width="phone")
    assert page.get_by_role("table").count() == 1
    assert page.get_by_role("row").count() == 2
    assert page.get_by_role("rowheader").inner_text().startswith("Solvents")


def test_signing_out_ends_the_session(open_page, office):
    page = open_page("/sign-in/")
    sign_in(page, office, "reviewer")
    turn_page(page.get_by_role("link", name="Account"))
    turn_page(page.get_by_role("button", name="Sign out"))
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.goto(office + "/surveys/demo/")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def test_nothing_is_fetched_from_anywhere_else(chromium, office):
    asked = []
    context = chromium.new_context()
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.on("request", lambda request: asked.append(request.url))
    sign_in(page, office, "viewer")
    page.goto(office + "/surveys/demo/", wait_until="networkidle")
    page.evaluate("document.fonts.ready.then(() => true)")
    assert [url for url in asked if not url.startswith((office, "data:"))] == []
    assert any(url.endswith(".woff2") for url in asked)
    context.close()


def test_a_password_is_measured_while_it_is_typed_and_can_be_looked_at(open_page):
    page = open_page("/account/password/", as_="viewer", width="phone", theme="dark")
    field = page.get_by_label("New password", exact=True)
    field.press_sequentially("aaaaaaaaaaaaaa")
    expect(page.locator("#strength")).to_contain_text("Guessed at once")
    field.fill("")
    field.press_sequentially("a quiet room of belts")
    expect(page.locator("#strength meter")).to_have_attribute("value", "4")
    shows = page.get_by_role("button", name="Show what is typed")
    expect(shows).to_have_count(3)
    expect(field).to_have_attribute("type", "password")
    shows.nth(1).click()
    expect(field).to_have_attribute("type", "text")
    assert grave(page) == []
    keep(page, "password-measured-phone-dark")
    page.get_by_role("button", name="Hide what is typed").click()
    expect(field).to_have_attribute("type", "password")
    assert page.complaints == []
