"""
Plan a survey from its folder.

Windows of every sample, how many results and of whom, and who wears what on which day: proven the best, or with its
gap. What cannot be done is said with what to relax. Every plan is read again by an independent checker.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.cli.writing import open_output
from lapel.exchange.problems import InputProblems


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="survey folder with a folder “plan”")
    parser.add_argument("--checked", metavar="FILE", type=Path, help="check this plan edited by hand, and plan nothing")
    parser.add_argument("--write-hand", metavar="FILE", help="write the plan as a table to edit by hand")
    parser.add_argument("--json", metavar="FILE", help="write the plan as open data; “-” for standard output")
    parser.add_argument(
        "--pdf", metavar="FILE", type=Path, help="write the sampling plan as PDF, and its labels beside it"
    )
    parser.add_argument("--seconds", metavar="N", type=float, default=30.0, help="time granted to the search")
    parser.add_argument("--quiet", action="store_true", help="print no tables")


def execute(options: argparse.Namespace) -> int:
    """Read, plan or check, print and write; 0 all planned, 1 something cannot be done, 2 nothing could be used."""
    from lapel.assessment.plan_by_hand import plan_by_hand
    from lapel.assessment.plan_products import products_of
    from lapel.assessment.planned import plan_kinds, plan_survey
    from lapel.exchange.plan_folder.hand import read_hand, write_hand
    from lapel.exchange.plan_folder.reader import PlanFolder

    if not options.seconds > 0:
        say(f"Found {options.seconds:g} as --seconds; wanted a number above 0. Nothing was planned.")
        return UNUSABLE
    try:
        folder = PlanFolder(options.folder)
        if options.checked:
            trains = read_hand(options.checked, folder, frozenset(plan_kinds(folder.inputs)))
            plan = plan_by_hand(folder.inputs, trains, source=options.checked.name)
        else:
            plan = plan_survey(folder.inputs, seconds=options.seconds)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    products = products_of(plan)
    if options.json:
        from lapel.exchange.plan_json import plan_as_data

        with open_output(options.json) as stream:
            json.dump(plan_as_data(plan, products), stream, ensure_ascii=False, indent=1, allow_nan=False)
            stream.write("\n")
    if options.write_hand:
        with open_output(options.write_hand) as stream:
            write_hand(plan, stream)
    if options.pdf and plan.faults:
        say("No PDF was written: the plan has faults, and paper would hide them. Correct the table first.")
    elif options.pdf:
        from lapel.documents.sampling_plan import write_sampling_plan

        for path in write_sampling_plan(plan, products, options.pdf):
            say(f"Written: {path}")
    if not options.quiet and "-" not in (options.json, options.write_hand):
        from lapel.cli.plan_terminal import show_plan

        show_plan(plan, products)
    return FINDINGS if plan.has_findings else DONE
