"""Browser tests: a server with the cast, and people signed in on it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from signing_in import sign_in

HERE = Path(__file__).parent
WIDTHS = {"phone": (390, 844), "desk": (1440, 900)}


@pytest.fixture(scope="session")
def office(tmp_path_factory, request):
    """The address of a server that only these tests use."""
    if request.config.getoption("--no-browser"):
        pytest.skip("--no-browser was given")
    home = tmp_path_factory.mktemp("office")
    environment = os.environ | {"LAPEL_HOME": str(home), "LAPEL_DATABASE": "", "LAPEL_HTTPS": "", "LAPEL_DEBUG": ""}
    with (home / "server.log").open("w") as log:
        server = subprocess.Popen(
            [sys.executable, str(HERE / "office_server.py")],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
        port = server.stdout.readline().strip()
        if not port:
            server.wait()
            pytest.fail((home / "server.log").read_text())
        yield f"http://127.0.0.1:{port}"
        server.terminate()
        server.wait(timeout=10)
        server.stdout.close()


@pytest.fixture(scope="module")
def people(chromium, office):
    """Signed-in cookies by name, made once a module through the real page; "" is nobody."""
    kept = {"": []}

    def cookies_of(name):
        if name not in kept:
            context = chromium.new_context()
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
        context.set_default_timeout(10_000)
        context.add_cookies([*people(as_), {"name": "lapel_appearance", "value": theme, "url": office}])
        page = context.new_page()
        page.complaints = []
        page.on("console", lambda said: page.complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
        page.goto(office + path)
        return page

    yield opened
    for context in contexts:
        context.close()
