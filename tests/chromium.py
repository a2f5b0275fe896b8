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


def pytest_addoption(parser):
    parser.addoption("--no-browser", action="store_true", help="leave out the tests that need a browser")


def program() -> str | None:
    """The browser to use, or None."""
    wanted = os.environ.get("LAPEL_CHROMIUM")
    names = [wanted] if wanted else ["chromium", "chromium-browser", "google-chrome", "chrome"]
    return next(filter(None, map(shutil.which, names)), None)


@pytest.fixture(scope="module")
def chromium(request):
    """
    A running browser.

    It ends with each module: while it runs, its event loop keeps Django from the database in this process.
    """
    if request.config.getoption("--no-browser"):
        pytest.skip("--no-browser was given")
    found = program()
    if found is None:
        pytest.fail(HOW_TO_GET_IT, pytrace=False)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        yield browser
        browser.close()
