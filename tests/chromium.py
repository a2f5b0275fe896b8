"""
A real browser for the tests that need one: Debian's Chromium, or any Chromium or Chrome on PATH.

They fail, and say how to get it, where there is none; ``--no-browser`` leaves them out.
"""

import os
import shutil

import pytest
from playwright.sync_api import sync_playwright

HOW_TO_GET_IT = (
    "No browser was found: chromium, chromium-browser, google-chrome or chrome on PATH, or LAPEL_CHROMIUM. "
    "On Debian or Ubuntu: apt-get install chromium. To leave these tests out: pytest --no-browser"
)

ARGUMENTS = ["--no-sandbox", "--disable-gpu"]


def pytest_addoption(parser):
    parser.addoption("--no-browser", action="store_true", help="leave out the tests that need a browser")


def program() -> str | None:
    """The browser to use, or None."""
    wanted = os.environ.get("LAPEL_CHROMIUM")
    names = [wanted] if wanted else ["chromium", "chromium-browser", "google-chrome", "chrome"]
    return next(filter(None, map(shutil.which, names)), None)


@pytest.fixture(scope="session")
def browser_program(request):
    """The browser to use; what needs one asks for this first, so that ``--no-browser`` leaves it out."""
    if request.config.getoption("--no-browser"):
        pytest.skip("--no-browser was given")
    found = program()
    if found is None:
        pytest.fail(HOW_TO_GET_IT, pytrace=False)
    return found


@pytest.fixture(scope="module")
def playwright(browser_program):
    """
    What drives browsers.

    It ends with each module: while it runs, its event loop keeps Django from the database in this process.
    """
    with sync_playwright() as one:
        yield one


@pytest.fixture(scope="module")
def chromium(playwright, browser_program):
    """A running browser."""
    browser = playwright.chromium.launch(executable_path=browser_program, args=ARGUMENTS)
    yield browser
    browser.close()


def of_its_own(playwright, profile, *more, **options):
    """A browser with a profile of its own, as a phone has: its context."""
    found = program()
    assert found, HOW_TO_GET_IT
    return playwright.chromium.launch_persistent_context(
        str(profile), executable_path=found, args=[*ARGUMENTS, *more], **options
    )
