"""Fixtures of the field screens: a server, and devices in somebody's hand."""

import itertools
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from field_day_acts import BENCH, planned
from field_hand import Hand, core, pair

HERE = Path(__file__).parent
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
def day_office(tmp_path_factory, request):
    """A server only the field screens use."""
    if request.config.getoption("--no-browser"):
        pytest.skip("--no-browser was given")
    home = tmp_path_factory.mktemp("day_office")
    environment = os.environ | {"LAPEL_HOME": str(home), "LAPEL_DATABASE": "", "LAPEL_HTTPS": "", "LAPEL_DEBUG": ""}
    with (home / "server.log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, str(HERE / "field_day_server.py")],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
        port = server.stdout.readline().strip()
        if not port:
            server.wait()
            pytest.fail((home / "server.log").read_text())
        yield DayOffice(f"http://127.0.0.1:{port}", server)
        server.terminate()
        server.wait(timeout=10)
        server.stdin.close()
        server.stdout.close()


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
        context.set_default_timeout(30_000)
        page = context.new_page()
        page.clock.install()
        page.complaints = []
        page.on("console", lambda said: page.complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
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


def record(hand, acts):
    """Record acts through the page's own core, as a second tab does."""
    core(hand.page, "(field, acts) => field.recordAll(acts).then(() => null)", acts)


def day_of(hand):
    """The day as this device folds it."""
    return json.loads(core(hand.page, "(field) => JSON.stringify(field.view.day)"))


def entries_of(hand):
    """Every entry this device knows, in the order it was made."""
    entries = json.loads(core(hand.page, "(field) => JSON.stringify(field.view.entries)"))
    return sorted(entries, key=lambda one: (one["device"], one["sequence"]))


__all__ = ["SIZES", "DayOffice", "Hand", "day_of", "day_office", "device", "entries_of", "record"]
