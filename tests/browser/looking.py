"""Listening to a page, looking at it as axe does, and keeping a picture of it for people to look at."""

import os
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe

COLOURS_ONLY = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}


def listen(page):
    """Put what the browser complains about on `page.complaints`."""
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda fault: page.complaints.append(str(fault)))


def grave(page, *, only_colours=False):
    """The violations axe calls serious or critical, with where they are; a theme changes nothing but colours."""
    options = {"resultTypes": ["violations"]} | (COLOURS_ONLY if only_colours else {})
    return [
        f"{found['id']}: {[node['target'] for node in found['nodes']]} {found['nodes'][0]['failureSummary']}"
        for found in Axe().run(page, options=options).response["violations"]
        if found["impact"] in ("serious", "critical")
    ]


def keep(page, name):
    """Keep a screenshot where LAPEL_SCREENSHOTS says, for people to look at."""
    folder = os.environ.get("LAPEL_SCREENSHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)
