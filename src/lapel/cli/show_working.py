"""
Print the calculation behind one sample.

Every step from the flow readings to the concentration, with the log entry or report each number stands in, and what
makes the result uncertain.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from lapel.assessment.results import SampleResult, SurveyAssessment
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
        terminal.show_uses(_uses(assessment, sample))
    terminal.output().print(terminal.limit_dates(assessment.survey), style="dim")
    return DONE


def _uses(assessment: SurveyAssessment, sample: SampleResult) -> list[str]:
    """Say which limits the sample was held against, alone or in a shift's average, and what came of it."""
    from lapel.documents.compose import limit_cell

    shifts = [(f"shift {shift.shift.code}", shift.verdicts) for shift in assessment.shifts if sample in shift.samples]
    alone = [("a short-term comparison", short.verdicts) for short in assessment.short_terms if short.sample is sample]
    return [
        f"Used in {where} against {limit_cell(verdict)}: {verdict.comparison.reason}"
        for where, verdicts in shifts + alone
        for verdict in verdicts
    ]
