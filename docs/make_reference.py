"""
Write `docs/reference/python-names.md` from the docstrings of the public rooms.

Run `python docs/make_reference.py` after adding a public name; a test holds that the page is up to date.
"""

from __future__ import annotations

import importlib
import inspect
import sys
from pathlib import Path

ROOMS = ("figures", "hygiene", "statistics", "planning", "fieldlog", "reference", "assessment", "exchange")
PAGE = Path(__file__).parent / "reference" / "python-names.md"


def first_line(thing: object) -> str:
    """Summary line of a docstring, or of the type for a constant."""
    words = inspect.getdoc(thing) or ""
    return " ".join(words.strip().split("\n\n")[0].split())


def entry(room: str, name: str, thing: object) -> str:
    """One line of the page."""
    if inspect.isclass(thing) or callable(thing):
        try:
            arguments = str(inspect.signature(thing)) if not inspect.isclass(thing) else ""
        except (TypeError, ValueError):
            arguments = ""
        bare = ", ".join(part.split(":")[0].split("=")[0].strip() for part in _parts(arguments))
        return f"- `{name}({bare})`: {first_line(thing)}" if arguments else f"- `{name}`: {first_line(thing)}"
    return f"- `{name}`: a constant or type of lapel.{room}"


def _parts(arguments: str) -> list[str]:
    """Split a printed signature at its top-level commas."""
    depth, parts, part = 0, [], ""
    for letter in arguments.split(" -> ")[0].strip()[1:-1]:
        depth += letter in "([{"
        depth -= letter in ")]}"
        if letter == "," and depth == 0:
            parts.append(part)
            part = ""
        else:
            part += letter
    return [*parts, part] if part.strip() else parts


def page() -> str:
    """The whole page as text."""
    lines = [
        "# Python names",
        "",
        "Every public name, by room. The docstring of each says arguments, units, errors and source.",
        "",
    ]
    for room in ROOMS:
        module = importlib.import_module(f"lapel.{room}")
        lines += [f"## lapel.{room}", "", first_line(module), ""]
        lines += [
            entry(room, name, getattr(module, name)) for name in sorted(getattr(module, "__all__", ()), key=str.lower)
        ]
        lines.append("")
    return "\n".join(lines)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"{PAGE.name} written", file=sys.stderr)
