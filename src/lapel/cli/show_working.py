"""
Print the calculation behind one sample.

Every step from the flow readings to the concentration, with the log entry or report each number stands in, and what
makes the result uncertain.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from lapel.cli.exits import DONE, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems, did_you_mean
from lapel.reference import UnusableFileError

MOST_NAMED = 20


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder the sample is in")
    parser.add_argument("sample", metavar="SAMPLE", help="code of the sampler, as on its label")
    parser.add_argument("--rules", metavar="BOOK", help="work by this rule book (key or file) instead of the survey's")


def execute(options: argparse.Namespace) -> int:
    """Print the working of every agent on the sample; 2 when there is no such sample."""
    from lapel.cli import terminal
    from lapel.cli.assess import assessed
    from lapel.figures import first_of, working

    try:
        with terminal.progress(False) as told:
            assessment = assessed(options.folder, options.rules, told)
    except (InputProblems, UnusableFileError) as problems:
        show_faults(problems)
        return UNUSABLE
    mine = [sample for sample in assessment.samples if sample.sampler == options.sample]
    if not mine:
        known = sorted({sample.sampler for sample in assessment.samples})
        near = did_you_mean(options.sample, known)
        say(f"Found no sample “{options.sample}”. {near}The survey has {first_of(known, MOST_NAMED)}.")
        return UNUSABLE
    for sample in mine:
        last = sample.ppm or sample.concentration or sample.mass or sample.volume
        title = f"{sample.sampler}, {sample.agent.name}: {sample.standing.level}"
        if last is None:
            terminal.show_working(f"{title}; no volume and no mass, so nothing to work", [])
            continue
        terminal.show_working(title, [working(last)])
        for words in sample.assumptions:
            terminal.output().print(f"       Assumed: {words}", style="yellow")
        for verdict_of in assessment.shifts:
            if sample in verdict_of.samples:
                for verdict in verdict_of.verdicts:
                    if verdict.average is not None:
                        name = f"shift {verdict_of.shift.code} against {verdict.limit.authority} {verdict.limit.kind}"
                        terminal.output().print(f"       Used in {name}: {verdict.comparison.reason}", style="dim")
    return DONE
