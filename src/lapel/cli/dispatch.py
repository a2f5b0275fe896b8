"""
Show what goes to the laboratory, and write the form that goes with a parcel.

Without a parcel: every parcel with its counts, what stops it, and by when it must be there; and what lies in none. With
one: its chain of custody as PDF in three copies and as open data. A parcel that something stops gets no form.
"""

from __future__ import annotations

import argparse
import json
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.exchange.problems import InputProblems, did_you_mean

if TYPE_CHECKING:
    from lapel.assessment.dispatch import Shipment
    from lapel.assessment.inputs import Survey


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder")
    parser.add_argument("parcel", metavar="PARCEL", nargs="?", default="", help="number of the parcel to write for")
    parser.add_argument("--pdf", metavar="FILE", type=Path, help="write the form, its three copies one after another")
    parser.add_argument("--labels", metavar="FILE", type=Path, help="write the parcel's label and seals, one sheet")
    parser.add_argument("--json", metavar="FILE", help="write the parcel as open data; “-” for standard output")
    parser.add_argument(
        "--issue", metavar="N", type=int, default=1, help="number of this issue; 2 and more replace one"
    )
    parser.add_argument("--because", metavar="TEXT", default="", help="why it replaces the issue before")
    parser.add_argument("--laboratory", metavar="TEXT", default="", help="who is to analyse")
    parser.add_argument("--report-to", metavar="TEXT", default="", help="who is to get the report")
    parser.add_argument("--wanted-by", metavar="TEXT", default="", help="by when the report is wanted")


def execute(options: argparse.Namespace) -> int:
    """Show or write; 1 where something stops a parcel, 2 when nothing could be used."""
    from lapel.assessment.dispatch import by_parcel, not_packed, shipments
    from lapel.exchange.survey_folder import read_survey
    from lapel.fieldlog.day import fold
    from lapel.reference import rule_book

    if options.issue < 1 or (options.issue > 1) != bool(options.because):
        say("An issue that replaces another has a number above 1 and says --because. Nothing was written.")
        return UNUSABLE
    if (options.pdf or options.json or options.labels) and not options.parcel:
        say("Name the PARCEL to write for. Nothing was written.")
        return UNUSABLE
    try:
        survey = read_survey(options.folder)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    day = fold(survey.entries)
    there = by_parcel(shipments(survey, day, rule_book(survey.rule_book)))
    if options.parcel and options.parcel not in there:
        near = did_you_mean(options.parcel, list(there))
        say(f"Found no parcel “{options.parcel}”. {near}The log has {', '.join(there) or 'none'}.")
        return UNUSABLE
    chosen = [there[options.parcel]] if options.parcel else list(there.values())
    if options.json != "-":
        _show(survey, chosen, () if options.parcel else not_packed(survey, day))
    if options.parcel and not chosen[0].may_go:
        say("Something stops this parcel: no form is written before it is settled.")
        return FINDINGS
    if options.parcel:
        _write(survey, chosen[0], options)
    return DONE if all(shipment.may_go and not shipment.matters for shipment in chosen) else FINDINGS


def _write(survey: Survey, shipment: Shipment, options: argparse.Namespace) -> None:
    from lapel.cli.writing import open_output
    from lapel.documents.custody_form import Issue, custody_copies
    from lapel.documents.parcel_labels import parcel_labels
    from lapel.documents.render import write_whole
    from lapel.exchange.custody_json import custody_as_data

    now = datetime.now(UTC)
    if options.pdf:
        issue = Issue(options.issue, now, "", options.because, options.report_to, options.laboratory, options.wanted_by)
        write_whole(custody_copies(survey, shipment, issue), options.pdf)
    if options.labels:
        sheet = parcel_labels(survey, shipment, dated=now.date(), receiver=options.laboratory)
        write_whole(sheet, options.labels)
    if options.json:
        data = custody_as_data(survey, shipment, issue=options.issue, made_at=now, reason=options.because)
        with open_output(options.json) as stream:
            json.dump(data, stream, ensure_ascii=False, indent=1)
            stream.write("\n")


def _show(survey: Survey, chosen: list[Shipment], left: tuple[str, ...]) -> None:
    from zoneinfo import ZoneInfo

    from lapel.cli import terminal
    from lapel.documents.custody_form import counts_in_words, custody_words
    from lapel.figures import first_of

    out, zone = terminal.output(), ZoneInfo(survey.site.zone)
    for shipment in chosen:
        out.print(f"Parcel {shipment.parcel.code}", style="bold")
        out.print(f"  {counts_in_words(shipment)}")
        out.print(f"  {custody_words(shipment)}")
        if shipment.latest_arrival is not None:
            until = shipment.latest_arrival.astimezone(zone)
            warm = f", at most {shipment.receipt_max_c:g} °C" if shipment.receipt_max_c is not None else ""
            out.print(f"  Analysis must begin by {until:%Y-%m-%d %H:%M}{warm}.")
        for matter in shipment.matters:
            style = "bold red" if matter.weight == "stop" else "yellow"
            out.print(
                f"  {'Stops it' if matter.weight == 'stop' else 'Look'}: {matter.words} {matter.remedy}", style=style
            )
    if not chosen:
        out.print("No parcel is sealed by the log.")
    if left:
        out.print(f"In no parcel: {first_of(left, 20)}.", style="yellow")
