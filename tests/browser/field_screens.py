"""Fixtures of the field screens: a server, and devices in somebody's hand."""

import itertools
import json
import os

import pytest
from field_day_acts import BENCH, planned
from field_hand import Hand, core, pair
from looking import listen
from patience import PATIENCE_MS, slow_down, until
from serving import serving

SIZES = {"phone": (390, 844), "tablet": (1280, 800), "tablet-upright": (800, 1280)}
_NUMBERS = itertools.count(1)


class DayOffice:
    """The office of these tests, and a way to get devices paired with it."""

    def __init__(self, address, server):
        self.address = address
        self.server = server

    def pairing_code(self, survey, device):
        """A code that pairs a device with the survey's place."""
        self.server.stdin.write(f"{survey} {device}\n")
        self.server.stdin.flush()
        return self.server.stdout.readline().strip()


@pytest.fixture(scope="session")
def day_office(tmp_path_factory, browser_program):
    """A server only the field screens use."""
    with serving(tmp_path_factory.mktemp("day_office"), "field_day_server.py") as (server, address):
        yield DayOffice(address, server)


@pytest.fixture
def device(chromium, day_office):
    """Make a device: paired through its screens, the day's ten trains on it, meter and air known."""
    contexts = []

    def made(width="phone", *, bench=True, trains=True, samplers=None, survey=None):
        number = next(_NUMBERS)
        size = SIZES[width]
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=True, reduced_motion="reduce"
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        page.clock.install()
        listen(page)
        slow_down(page)
        survey = survey or f"day-{os.getpid()}-{number}"
        code = day_office.pairing_code(survey, f"device-{os.getpid()}-{number}")
        hand = pair(page, day_office.address, code)
        if bench:
            page.evaluate(
                "kept => localStorage.setItem('lapel-field-place',"
                " JSON.stringify({...kept, air_at: new Date().toISOString(),"
                " charged_at: new Date(Date.now() - 9 * 3600e3).toISOString()}))",
                BENCH,
            )
        if trains:
            core(page, "(field, trains) => field.setPlanned(trains)", planned(samplers))
            page.get_by_role("button", name="T-101").first.wait_for()
        return hand

    yield made
    for context in contexts:
        context.close()


DRAWN = """(ids) => {
  const { field } = document.getElementById('field');
  return ids.every((id) => field.entries.has(id)) && !field.listeners.soon;
}"""


def record(hand, acts):
    """Record acts through the page's own core, as a second tab does; the screens have drawn them when this returns."""
    ids = core(hand.page, "async (field, acts) => (await field.recordAll(acts)).map((one) => one.id)", acts)
    until(hand.page, DRAWN, ids)


def day_of(hand):
    """The day as this device folds it."""
    return json.loads(core(hand.page, "(field) => JSON.stringify(field.view.day)"))


def entries_of(hand):
    """Every entry this device knows, in the order it was made."""
    entries = json.loads(core(hand.page, "(field) => JSON.stringify(field.view.entries)"))
    return sorted(entries, key=lambda one: (one["device"], one["sequence"]))


__all__ = ["SIZES", "DayOffice", "Hand", "day_of", "day_office", "device", "entries_of", "record"]
