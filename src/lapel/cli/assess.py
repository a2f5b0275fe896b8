"""
Assess a survey folder, or a survey on record.

Everything is checked first and every fault is reported at once. Then: standing of every sample with its findings,
concentrations with uncertainty, shift averages, and under, over or cannot tell against each limit.
"""

from __future__ import annotations

import argparse
import gc
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.assessment.results import SurveyAssessment
from lapel.cli.exits import DONE, FINDINGS, HELD_TO_THE_END, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.cli.writing import NotWritten, open_output
from lapel.exchange.problems import InputProblems
from lapel.reference import UnusableFileError

if TYPE_CHECKING:
    from lapel.hygiene.rulebook import RuleBook
    from lapel.records.models import Survey


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", nargs="?", type=Path, help="survey folder to assess")
    parser.add_argument("--survey", metavar="CODE", help="assess a survey on record instead of a folder")
    parser.add_argument("--json", metavar="FILE", help="write the result as open data; “-” for standard output")
    parser.add_argument("--pdf", metavar="FILE", type=Path, help="write the calculation record as PDF")
    parser.add_argument("--language", choices=("en", "es"), default="en", help="language of that PDF: en, es")
    parser.add_argument(
        "--rules", metavar="BOOK", help="decide by this rule book (key or file) instead of the survey's"
    )
    parser.add_argument("--all", action="store_true", help="print every row, however many")
    parser.add_argument("--quiet", action="store_true", help="print no tables and no progress")


def execute(options: argparse.Namespace) -> int:
    """Read, assess, print and write; 0 without findings, 1 with, 2 when nothing could be used."""
    from lapel.cli import terminal

    if (options.folder is None) == (options.survey is None):
        say("Give one of the two: a survey FOLDER, or --survey CODE for a survey on record. Nothing was computed.")
        return UNUSABLE
    record = None
    if options.survey:
        from lapel.cli import records

        record = records.survey_on_record(options.survey) if records.records_are_open() else None
        if record is None:
            return UNUSABLE
    gc.disable()  # many small objects that stay: looking for rubbish among them only costs
    try:
        with terminal.progress(options.quiet) as told:
            if record is None:
                assessment = assessed(options.folder, options.rules, told)
            else:
                assessment = assessed_record(record, options.rules, told)
    except (InputProblems, UnusableFileError) as problems:
        show_faults(problems)
        return UNUSABLE
    finally:
        gc.freeze()
        gc.enable()
    HELD_TO_THE_END[:] = [assessment]
    _write(assessment, options)
    if not options.quiet and options.json != "-":
        terminal.show_assessment(assessment, everything=options.all)
    return FINDINGS if assessment.has_findings else DONE


def _write(assessment: SurveyAssessment, options: argparse.Namespace) -> None:
    """Write what was asked for: both or, where one of them cannot be written, neither."""
    from lapel.exchange.assessment_json import write_assessment_json

    to_file = options.json is not None and options.json != "-"
    with open_output(options.json) if to_file else nullcontext() as stream:
        if stream is not None:
            write_assessment_json(assessment, stream)
        if options.pdf:
            from lapel.cli import terminal
            from lapel.documents.assessment_record import write_assessment_record
            from lapel.documents.wording import wording

            try:
                with terminal.progress(options.quiet) as told:
                    write_assessment_record(assessment, options.pdf, wording(options.language), progress=told)
            except OSError as problem:
                raise NotWritten(str(problem)) from problem
    if options.json == "-":
        with open_output("-") as stream:
            write_assessment_json(assessment, stream)


def assessed(folder: Path, rules: str | None, told: Callable[[str, int, int], None] | None = None) -> SurveyAssessment:
    """
    Read a survey folder and assess it.

    Raises
    ------
    InputProblems
        Anything in the folder cannot be used.
    UnusableFileError
        The rule book asked for cannot be used.
    """
    from lapel.assessment.survey import assess
    from lapel.exchange.survey_folder import read_survey

    book = asked_rule_book(rules) if rules else None
    survey = read_survey(folder, progress=(lambda what: told(what, 0, 0)) if told else None)
    return assess(survey, book=book, progress=told)


def assessed_record(
    record: Survey, rules: str | None, told: Callable[[str, int, int], None] | None = None
) -> SurveyAssessment:
    """
    Assess a survey on record.

    Raises
    ------
    UnusableFileError
        The rule book asked for cannot be used.
    """
    from lapel.assessment.recorded_survey import recorded_survey, with_input_hash
    from lapel.assessment.survey import assess

    book = asked_rule_book(rules) if rules else None
    return assess(with_input_hash(recorded_survey(record)), book=book, progress=told)


def asked_rule_book(name: str) -> RuleBook:
    """
    Load a packaged rule book by its key, or one of the house from a file.

    Raises
    ------
    UnusableFileError
        There is no such book, or the file is not one.
    """
    from lapel.reference import PACKAGED, FileFault, rule_book, rule_book_from

    if name.endswith(".toml"):
        return rule_book_from(name)
    if name not in PACKAGED:
        wanted = f"one of {', '.join(PACKAGED)}, or a file ending in .toml"
        fault = FileFault("--rules", f"“{name}”", wanted, "Name a rule book that is there.")
        raise UnusableFileError([fault])
    return rule_book(name)
