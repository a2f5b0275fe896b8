"""The field page's modules in a real browser, without a server: every file as it lies in the folder."""

import json
import mimetypes
from pathlib import Path

from patience import PATIENCE_MS

import lapel.field

FOLDER = Path(lapel.field.__file__).parent / "static" / "field"
HERE = "http://localhost/at/"
"""A secure context, as localhost is; nothing answers there but these files."""


def open_modules(browser):
    """A blank page on which `import('./fold/day.js')` works, and its context."""
    context = browser.new_context()
    context.set_default_timeout(PATIENCE_MS)
    context.route("**/*", _serve)
    page = context.new_page()
    page.goto(HERE)
    return context, page


def _serve(route):
    name = route.request.url.removeprefix(HERE)
    if not name:
        route.fulfill(body="<!doctype html><title>modules</title>", content_type="text/html")
    elif (FOLDER / name).is_file():
        kind = "text/javascript" if name.endswith(".js") else mimetypes.guess_type(name)[0]
        route.fulfill(body=(FOLDER / name).read_bytes(), content_type=kind)
    else:
        route.fulfill(status=404, body="")


def ask(page, module, call, given=None):
    """Call a function of a module: `call` is an expression over its exports `m` and `given`."""
    program = f"async (text) => {{ const given = JSON.parse(text); const m = await import('{HERE}{module}'); "
    program += f"return JSON.stringify(await ({call})) }}"
    return json.loads(page.evaluate(program, json.dumps(given)))
