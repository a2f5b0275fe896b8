"""Waiting for what a page does in its own time. The machine may be slow and shared: who waits long is not wrong."""

import contextlib
import os
import time

from playwright.sync_api import Error

PATIENCE_S = 120
"""Seconds anything may take before a test says that it does not happen."""

PATIENCE_MS = 1000 * PATIENCE_S


def until(page, expression, given=None, seconds=PATIENCE_S):
    """Wait for something on a page; its own policy lets no text be run in it, as Playwright's waiting does."""
    end = time.monotonic() + seconds
    while True:
        with contextlib.suppress(Error):  # the page is being changed for another
            if page.evaluate(expression, given):
                return
        assert time.monotonic() < end, f"not so after {seconds:g} s: {expression}"
        time.sleep(0.05)


def slow_down(page):
    """Make a page's processor as many times slower as LAPEL_SLOWER says, to see that no test depends on its speed."""
    if times := os.environ.get("LAPEL_SLOWER"):
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": float(times)})
