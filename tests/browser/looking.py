"""Turning and listening to pages, looking at it as axe does, and keeping a picture of it for people to look at."""

import os
from pathlib import Path

from axe_playwright_python.base import AXE_SCRIPT

COLOURS_ONLY = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}


def listen(page):
    """Put what the browser complains about on `page.complaints`."""
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda fault: page.complaints.append(str(fault)))


def turn_page(by):
    """Click what leads to another page, and wait until that one is there whole: until then the page before answers."""
    with by.page.expect_navigation():
        by.click()


GRAVE = """options => axe.run(document, options).then(({violations}) => violations
  .filter(({impact}) => impact === 'serious' || impact === 'critical')
  .map(({id, nodes}) => `${id}: ${nodes.map((node) => node.target).join(', ')} ${nodes[0].failureSummary}`))"""


def grave(page, *, only_colours=False):
    """The violations axe calls serious or critical, with where they are; a theme changes nothing but colours."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)  # half a megabyte: once a page, not once a theme
    return page.evaluate(GRAVE, {"resultTypes": ["violations"]} | (COLOURS_ONLY if only_colours else {}))


def keep(page, name):
    """Keep a screenshot where LAPEL_SCREENSHOTS says, for people to look at."""
    folder = os.environ.get("LAPEL_SCREENSHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)
