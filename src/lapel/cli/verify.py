"""
Check a dossier.

Whether any byte was changed since it was sealed, whose signature it carries, whether its files are as listed, and
whether every figure follows from its inputs: all of them are computed again.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say

if TYPE_CHECKING:
    from lapel.exchange.dossier import Verification

MARKS = {True: "holds", False: "FAILS", None: "open"}
STYLES = {True: "green", False: "bold red", None: "yellow"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("file", metavar="DOSSIER", type=Path, help="the dossier")
    parser.add_argument("--key", metavar="HEX", default="", help="public key it must be signed with")
    parser.add_argument("--no-recompute", action="store_true", help="check seal, signature and files only")
    parser.add_argument("--json", metavar="FILE", help="write what was checked as JSON; “-” for standard output")


def execute(options: argparse.Namespace) -> int:
    """Check; 0 everything holds, 1 something does not, 2 there is no such file."""
    from lapel.cli import terminal
    from lapel.cli.writing import open_output
    from lapel.exchange.dossier import verify_dossier

    if not options.file.is_file():
        say(f"Found no file {options.file}. Nothing was checked.")
        return UNUSABLE
    with terminal.progress(options.json == "-") as told:
        found = verify_dossier(options.file, trusted_key=options.key, recompute=not options.no_recompute, progress=told)
    if options.json:
        with open_output(options.json) as stream:
            json.dump(found.as_data(), stream, ensure_ascii=False, indent=1)
            stream.write("\n")
    if options.json != "-":
        _show(found)
    return DONE if found.holds else FINDINGS


def _show(found: Verification) -> None:
    from rich.text import Text

    from lapel.cli import terminal

    out = terminal.output()
    if found.survey:
        out.print(found.survey, style="bold")
    for check in found.checks:
        line = Text("  ").append(f"{MARKS[check.holds]:7}", STYLES[check.holds])
        out.print(line.append(f"{check.what}: {check.words}"))
        for detail in check.details:
            out.print(f"         {detail}", style="dim")
    out.print("Everything that was checked holds." if found.holds else "Do not rely on this dossier as it is.")
