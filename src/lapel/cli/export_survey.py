"""
Write a recorded survey as a survey folder.

Workers stand in it by code. The delivered laboratory files come back byte for byte.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("survey", metavar="SURVEY", help="code of the survey on record")
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="where to write it; it must not be there yet")
    parser.add_argument(
        "--names", metavar="FILE", type=Path, help="write the names behind the codes to a file outside the folder"
    )
    parser.add_argument("--lead", metavar="NAME", default="", help="lead hygienist of the site who asks for the names")


def execute(options: argparse.Namespace) -> int:
    """Export; 1 when the folder cannot say all that is on record, 2 when nothing was written."""
    from lapel.cli import records

    if bool(options.names) != bool(options.lead):
        say("Names go out only for a lead hygienist: give --names FILE and --lead NAME together. Nothing was written.")
        return UNUSABLE
    if options.names and options.folder.resolve() in options.names.resolve().parents:
        say(f"{options.names} lies inside the folder: a survey folder holds no names. Nothing was written.")
        return UNUSABLE
    if not records.records_are_open():
        return UNUSABLE
    survey = records.survey_on_record(options.survey)
    if survey is None:
        return UNUSABLE
    key = ""
    if options.names:
        found = _key(options.lead, survey.site.code)
        if found is None:
            return UNUSABLE
        key = found
    from lapel.exchange.record_export import export_survey

    try:
        written = export_survey(survey, options.folder)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    if options.names:
        options.names.touch(mode=0o600)
        options.names.write_text(key, encoding="utf-8")
    from lapel.cli import terminal

    terminal.output().print(f"Survey {survey.code} is in {written.path}.")
    for report in written.rewritten_reports:
        say(f"Report {report} stands in Lapel's own columns, because it was changed since or its file was not kept.")
    for difference in written.differences:
        say(f"The folder says it otherwise: {difference}")
    for problem in written.problems:
        say(f"Before the folder can be assessed: {problem}")
    return DONE if written.is_whole else FINDINGS


def _key(lead: str, site: str) -> str | None:
    from django.core.exceptions import PermissionDenied
    from django.http import Http404

    from lapel.cli import records
    from lapel.records.names import name_key

    person = records.person_named(lead)
    if person is None:
        return None
    try:
        return name_key(person, site)
    except (Http404, PermissionDenied):
        say(f"{lead} is no lead hygienist of the site {site}: the names stay there. Nothing was written.")
        return None
