"""
Read a laboratory's report into a survey folder: propose, ask, hold against what was sent, and take over.

Prints how the file would be read, with the cells that say so, and every question it leaves open. Nothing is written
before all are answered and --accept is given; then all of it is, or nothing.
"""

from __future__ import annotations

import argparse
import gc
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.cli.writing import open_output
from lapel.exchange.problems import InputProblem, InputProblems, Place

if TYPE_CHECKING:
    from lapel.assessment.inputs import Survey
    from lapel.exchange.laboratory import LaboratoryFile
    from lapel.exchange.laboratory.session import ReadReport

FEW_COLLECTIONS = (100_000, 50, 100)
"""A long report makes many small objects that stay: looking for rubbish among them as often as usual only costs."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder the report belongs to")
    parser.add_argument("file", metavar="FILE", type=Path, help="the laboratory's .csv, .xlsx or .pdf as it came")
    parser.add_argument("--map", metavar="MAP", type=Path, help="map of this laboratory's reports, with answers")
    parser.add_argument(
        "--answer",
        metavar="KEY=VALUE",
        action="append",
        default=[],
        help="answer a question by the key printed with it; may be given several times",
    )
    parser.add_argument(
        "--confirm-near", action="store_true", help="confirm every near-match of a sampler's name shown"
    )
    parser.add_argument("--amends", metavar="REPORT", default="", help="number of the report this one replaces")
    parser.add_argument(
        "--write-map", metavar="MAP", type=Path, help="write the map with all answers, to fill in or keep"
    )
    parser.add_argument(
        "--letter", metavar="FILE", help="write the questions for the laboratory; “-” for standard output"
    )
    parser.add_argument("--json", metavar="FILE", help="write everything as open data; “-” for standard output")
    parser.add_argument("--accept", action="store_true", help="take the report over into the folder")
    parser.add_argument("--by", metavar="NAME", default="", help="who confirms it; kept with the report")
    parser.add_argument("--reconcile-only", action="store_true", help="neither look for exchanged samples nor assess")
    parser.add_argument("--all", action="store_true", help="print every row, however many")
    parser.add_argument("--quiet", action="store_true", help="print no tables and no progress")


def execute(options: argparse.Namespace) -> int:
    """Read, ask, reconcile, print, write; 0 without findings, 1 with, 2 unusable or with an open question."""
    from lapel.cli import terminal
    from lapel.exchange import read_survey
    from lapel.exchange.laboratory import read_content
    from lapel.exchange.laboratory.refusals import content_of

    gc.set_threshold(*FEW_COLLECTIONS)
    try:
        with terminal.progress(options.quiet) as told:
            survey = read_survey(options.folder, progress=(lambda what: told(what, 0, 0)) if told else None)
            if told:
                told(f"opening {options.file.name}", 0, 0)
            content = content_of(options.file)
            file = read_content(options.file.name, content)
            report_map = _map(options, file, survey)
            read = _read(options, survey, file, report_map, told)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    _write(read, options)
    if not options.quiet and "-" not in (options.json, options.letter):
        from lapel.cli.results_terminal import show_report

        show_report(read, everything=options.all)
    if not read.is_settled:
        say("Nothing was written: answer the questions with --answer KEY=VALUE or in a map, and read the file again.")
        return UNUSABLE
    if options.accept:
        return _accept(options, survey, read, content)
    say("Nothing was written. Look at the evidence; --accept takes the report over.")
    return FINDINGS if read.has_findings else DONE


def _read(
    options: argparse.Namespace,
    survey: Survey,
    file: LaboratoryFile,
    report_map: dict[str, Any],
    told: Any,
) -> ReadReport:
    from lapel.exchange.laboratory.session import confirmed_near, read_report

    validate = not options.reconcile_only
    read = read_report(survey, file, report_map, amends=options.amends, validate=validate, progress=told)
    if options.confirm_near and read.reconciliation is not None and read.reconciliation.near:
        for match in read.reconciliation.near:
            say(f"Confirmed: “{match.printed}” is {match.sampler} ({match.why}).")
        read = read_report(survey, file, confirmed_near(read), amends=options.amends, validate=validate, progress=told)
    return read


def _map(options: argparse.Namespace, file: LaboratoryFile, survey: Survey) -> dict[str, Any]:
    """Return what is decided: a map given, else one remembered whose headings this file has; then the answers."""
    from lapel.exchange.laboratory import empty_map, map_from_text, with_answer
    from lapel.exchange.laboratory.remembering import remembered_map

    if options.map is not None:
        try:
            text = options.map.read_text(encoding="utf-8")
        except (OSError, UnicodeError) as problem:
            found = f"it cannot be read ({problem})"
            raise InputProblems(
                [InputProblem(Place(str(options.map)), found, "a map as --write-map writes it", "Check its path.")]
            ) from problem
        report_map = map_from_text(text, options.map.name)
    else:
        found_map = remembered_map(options.folder, file)
        if found_map is not None:
            name, report_map = found_map
            say(f"Read as earlier reports of this laboratory: {name}.")
        else:
            report_map = empty_map()
    for answer in options.answer:
        key, equals, value = answer.partition("=")
        if not equals:
            raise InputProblems(
                [InputProblem(Place("--answer"), f"“{answer}”", "KEY=VALUE, as in decimal_mark=comma", "Write both.")]
            )
        report_map = with_answer(report_map, key.strip(), value.strip())
    return report_map


def _write(read: ReadReport, options: argparse.Namespace) -> None:
    from lapel.exchange.laboratory import map_text
    from lapel.exchange.results_json import report_as_data

    if options.write_map is not None:
        with open_output(str(options.write_map)) as stream:
            stream.write(map_text(read.proposal.report_map))
    if options.letter:
        with open_output(options.letter) as stream:
            stream.write(read.letter or "There is nothing to ask the laboratory.\n")
    if options.json:
        with open_output(options.json) as stream:
            json.dump(report_as_data(read), stream, ensure_ascii=False, indent=1, allow_nan=False)
            stream.write("\n")


def _accept(options: argparse.Namespace, survey: Survey, read: ReadReport, content: bytes) -> int:
    from lapel.exchange.laboratory import accept

    try:
        written = accept(
            options.folder, survey, read.proposal, content, read.results, read.lost,
            amends=options.amends, confirmed_by=options.by,
        )  # fmt: skip
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    version = f", version {written.version}" if written.version > 1 else ""
    say(f"Taken over: report {read.proposal.facts.code}{version}. Written: {', '.join(written.files)}.")
    return FINDINGS if read.has_findings else DONE
