"""Words for people on stderr: faults of an input, all at once, each with its place and what to do."""

from __future__ import annotations

import sys

from lapel.exchange.problems import InputProblems
from lapel.reference import UnusableFileError

MOST_SHOWN = 100
"""Faults printed; the rest is counted."""


def say(words: str) -> None:
    """Print a line for the person."""
    sys.stderr.write(words + "\n")


def show_faults(problems: InputProblems | UnusableFileError) -> None:
    """Print every fault: where, found, wanted, remedy."""
    listed = problems.faults if isinstance(problems, UnusableFileError) else problems.problems
    count = len(listed) if isinstance(problems, UnusableFileError) else problems.count
    for problem in listed[:MOST_SHOWN]:
        say(f"{problem.where}\n  found:  {problem.found}\n  wanted: {problem.wanted}\n  do:     {problem.remedy}")
    if count > MOST_SHOWN:
        say(f"... and {count - MOST_SHOWN} more.")
    plural = "fault" if count == 1 else "faults"
    say(f"{count} {plural}. Nothing was computed and nothing was written.")
