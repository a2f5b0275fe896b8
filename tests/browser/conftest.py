"""Browser tests: a server with the cast, and people signed in on it."""

import pytest
from field_screens import day_office, device
from looking import listen
from patience import PATIENCE_MS
from playwright.sync_api import expect
from serving import serving
from signing_in import sign_in

__all__ = ["day_office", "device"]  # here alone: imported by each file they would be made anew for each

expect.set_options(timeout=PATIENCE_MS)
WIDTHS = {"phone": (390, 844), "desk": (1440, 900)}


@pytest.fixture(scope="session")
def office(tmp_path_factory, browser_program):
    """The address of a server that only these tests use."""
    with serving(tmp_path_factory.mktemp("office"), "office_server.py") as (_, address):
        yield address


@pytest.fixture(scope="module")
def people(chromium, office):
    """Signed-in cookies by name, made once a module through the real page; "" is nobody."""
    kept = {"": []}

    def cookies_of(name):
        if name not in kept:
            context = chromium.new_context()
            context.set_default_timeout(PATIENCE_MS)
            page = context.new_page()
            sign_in(page, office, name)
            kept[name] = [one for one in context.cookies() if one["name"] != "lapel_appearance"]
            context.close()
        return kept[name]

    return cookies_of


@pytest.fixture
def open_page(chromium, office, people):
    """Open a page as somebody, at a width, in a theme; what the browser complained about is on `page.complaints`."""
    contexts = []

    def opened(path, *, as_="", width="desk", theme="light"):
        size = WIDTHS[width]
        scheme = "dark" if theme == "dark" else "light"
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, reduced_motion="reduce"
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        context.add_cookies([*people(as_), {"name": "lapel_appearance", "value": theme, "url": office}])
        page = context.new_page()
        listen(page)
        page.goto(office + path)
        return page

    yield opened
    for context in contexts:
        context.close()
