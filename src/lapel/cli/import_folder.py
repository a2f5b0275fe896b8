"""
Bring a survey folder into the records of this server.

Everything is checked first and every fault is told at once; then all of it is written, or nothing. What is on record
already is never changed by a folder.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder to bring in")
    parser.add_argument(
        "--survey", metavar="CODE", default="", help="code of the survey; else made of the folder's name"
    )
    parser.add_argument("--site", metavar="CODE", default="", help="code of its site; else made of the site's name")
    parser.add_argument("--user", metavar="NAME", default="", help="who brings it in; leads the site if it is new")


def execute(options: argparse.Namespace) -> int:
    """Import and say what is new; 1 with remarks, 2 when nothing was kept."""
    from lapel.cli import records

    if not records.records_are_open():
        return UNUSABLE
    from django.core.exceptions import PermissionDenied
    from django.http import Http404

    from lapel.exchange.record_transfer import import_survey
    from lapel.records.access import site_for
    from lapel.records.models import Site

    person = records.person_named(options.user) if options.user else None
    if options.user and person is None:
        return UNUSABLE
    try:
        if person is not None and options.site and Site.objects.filter(code=options.site).exists():
            site_for(person, options.site, to="plan")
        imported = import_survey(options.folder, survey_code=options.survey, site_code=options.site, user=person)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    except (Http404, PermissionDenied) as refused:
        say(f"{options.user} may not add a survey to the site {options.site}: {refused} Nothing was kept.")
        return UNUSABLE
    from lapel.cli import terminal

    output = terminal.output()
    output.print(f"Survey {imported.survey.code} of the site {imported.survey.site.code} is on record.")
    output.print("New: " + ", ".join(f"{name} {count}" for name, count in imported.added.items()) + ".")
    for remark in imported.remarks:
        say(remark)
    return FINDINGS if imported.remarks else DONE
