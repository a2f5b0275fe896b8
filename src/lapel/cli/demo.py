"""
Start Lapel on its demonstration: two invented surveys, with people of every role.

The records are made in a folder of their own, so that nothing of yours is touched.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from lapel.cli.faults import say

HOME = "lapel-demo"
"""Folder of the demonstration, in the folder it is started from."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("--port", type=int, default=8321, help="port to answer at")
    parser.add_argument("--no-open", action="store_true", help="do not open a browser, only say where to look")


def execute(options: argparse.Namespace) -> int:
    """Load what is missing and serve until stopped; 2 when the server cannot start."""
    from lapel.cli.serve import run_server

    home = Path(os.environ.setdefault("LAPEL_HOME", str(Path.cwd() / HOME)))
    return run_server("127.0.0.1", options.port, open_page=not options.no_open, before=lambda: _load(home))


def _load(home: Path) -> None:
    from lapel.demo.scenario import load_demonstration

    kept = home / "demonstration-password"
    made = load_demonstration(password=kept.read_text(encoding="ascii") if kept.exists() else "")
    if made.password:
        kept.touch(mode=0o600)
        kept.write_text(made.password, encoding="ascii")
    password = kept.read_text(encoding="ascii") if kept.exists() else "the one you have set"
    say("The demonstration is loaded: " + "; ".join(f"“{survey.title}”" for survey in made.surveys) + ".")
    say(f"Everybody signs in with the password  {password}")
    for person in made.people:
        say(f"  {person.username:<14} {person.about}")
