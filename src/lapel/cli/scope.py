"""
Look agents up: every packaged limit side by side, the one that binds argued, methods, cautions.

By name, synonym or CAS number, or from a list pasted out of a safety data sheet. What only comes near is asked, never
chosen.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.reference import UnusableFileError


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "text", metavar="TEXT", nargs="+", help="names, CAS numbers, or a text file; “-” for standard input"
    )
    parser.add_argument("--substances", metavar="FILE", action="append", default=[], help="your own substances (CSV)")
    parser.add_argument("--limits", metavar="FILE", action="append", default=[], help="your own limits (CSV)")
    parser.add_argument("--methods", metavar="FILE", action="append", default=[], help="your own methods (CSV)")


def execute(options: argparse.Namespace) -> int:
    """Read what is asked, look it up and print; 0 all found, 1 with questions, 2 when nothing could be used."""
    from lapel.assessment.scope import asked_lines, scope
    from lapel.cli.scope_terminal import show_scope
    from lapel.reference import library

    try:
        lines = asked_lines([_text(each) for each in options.text])
        shelves = library(own_substances=options.substances, own_limits=options.limits, own_methods=options.methods)
    except UnusableFileError as problems:
        show_faults(problems)
        return UNUSABLE
    except UnicodeDecodeError as problem:
        say(f"Found a file that is not UTF-8 text ({problem.reason}); wanted plain text. Save the list as text.")
        return UNUSABLE
    if not lines:
        say("Found no name and no CAS number in what was given; wanted one a line. Nothing was looked up.")
        return UNUSABLE
    scopes = scope(lines, shelves)
    show_scope(scopes)
    return FINDINGS if any(each.question for each in scopes) else DONE


def _text(given: str) -> str:
    """What stands in a file where one of this name is there, standard input for “-”, and otherwise the words."""
    if given == "-":
        return sys.stdin.read()
    try:
        is_file = Path(given).is_file()
    except OSError:  # too long to be a name of a file
        is_file = False
    return Path(given).read_bytes().decode("utf-8-sig") if is_file else given
