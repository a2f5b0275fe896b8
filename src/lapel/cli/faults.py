"""Words for people on stderr: faults of an input, all at once, each with its place and what to do."""

from __future__ import annotations

import sys

from lapel.exchange.problems import InputProblems

MOST_SHOWN = 100
"""Faults printed; the rest is counted."""


def say(words: str) -> None:
    """Print a line for the person."""
    sys.stderr.write(words + "\n")


def show_faults(problems: InputProblems) -> None:
    """Print every fault: where, found, wanted, remedy."""
    listed = list(problems.problems)
    for problem in listed[:MOST_SHOWN]:
        say(f"{problem.where}\n  found:  {problem.found}\n  wanted: {problem.wanted}\n  do:     {problem.remedy}")
    if problems.count > min(len(listed), MOST_SHOWN):
        say(f"... and {problems.count - min(len(listed), MOST_SHOWN)} more.")
    plural = "fault" if problems.count == 1 else "faults"
    say(f"{problems.count} {plural}. Nothing was computed and nothing was written.")
