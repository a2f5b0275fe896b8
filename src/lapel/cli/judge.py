"""
Judge a group of results against a limit.

Non-detects ("<0.5") stay what they are. Each test's verdict comes in its own words with its source; beside them stands
what the results leave to be believed of the group's 95th percentile.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from lapel.cli.exits import DONE, FINDINGS, UNUSABLE
from lapel.cli.faults import say, show_faults
from lapel.cli.writing import open_output
from lapel.exchange.problems import InputProblems

if TYPE_CHECKING:
    from lapel.assessment.group import GroupJudgement


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("results", metavar="RESULTS", type=Path, help="CSV with a column “value”")
    parser.add_argument("--limit", metavar="LIMIT", required=True, help="limit with its unit, as in “50 ppm”")
    parser.add_argument("--group", metavar="NAME", help="only this group of the table")
    parser.add_argument(
        "--error-cv",
        metavar="PERCENT",
        help="measurement error in percent, as in 10, or a range, as in 5-15; a column of the table goes before it",
    )
    parser.add_argument(
        "--prior",
        choices=("published", "flat"),
        default="published",
        help="what is believed of the spread beforehand: published variance components, or flat between two spreads",
    )
    parser.add_argument("--json", metavar="FILE", help="write the result as open data; “-” for standard output")
    parser.add_argument("--pdf", metavar="FILE", type=Path, help="write the judgement as PDF; one file a group")
    parser.add_argument("--quiet", action="store_true", help="print no tables")


def execute(options: argparse.Namespace) -> int:
    """Read, judge, print and write; 0 where every test was met, 1 where not, 2 when nothing could be used."""
    from lapel.figures import UnitProblem

    try:
        judgements = _judged(options)
    except InputProblems as problems:
        show_faults(problems)
        return UNUSABLE
    except UnitProblem as problem:
        say(f"The arguments cannot be used: {problem}. Nothing was computed.")
        return UNUSABLE
    if not judgements:
        say(f"Found no group “{options.group}” in {options.results.name}.")
        return UNUSABLE
    if options.json:
        from lapel.exchange.judgement_json import judgements_as_data

        with open_output(options.json) as stream:
            json.dump(judgements_as_data(judgements), stream, ensure_ascii=False, indent=1, allow_nan=False)
            stream.write("\n")
    if options.pdf:
        from lapel.documents.group_judgement import write_group_judgement

        for number, judgement in enumerate(judgements, start=1):
            path = options.pdf
            if len(judgements) > 1:
                path = path.with_name(f"{path.stem}-{number}{path.suffix}")
            write_group_judgement(judgement, path, source=options.results.name)
            say(f"Written: {path}")
    if not options.quiet and options.json != "-":
        from lapel.cli.group_terminal import show_judgement

        for judgement in judgements:
            show_judgement(judgement)
    return DONE if all(judgement.is_settled_below for judgement in judgements) else FINDINGS


def _judged(options: argparse.Namespace) -> list[GroupJudgement]:
    from lapel.assessment.group import judge_group
    from lapel.exchange.results_table import read_results, stated_limit
    from lapel.statistics.priors import PUBLISHED_SPREAD, FlatPrior

    limit = stated_limit(options.limit)
    stated_cv = _error_cv(options.error_cv)
    rows = read_results(options.results, limit.unit)
    names = [name for name in dict.fromkeys(row.group for row in rows) if options.group in (None, name)]
    judgements = []
    for name in names:
        mine = [row for row in rows if row.group == name]
        judgements.append(
            judge_group(
                [row.lower for row in mine],
                [row.upper for row in mine],
                limit=limit.value,
                unit=limit.unit,
                limit_text=limit.text,
                name=name,
                workers=[row.worker for row in mine],
                days=[row.day for row in mine],
                prior=PUBLISHED_SPREAD if options.prior == "published" else FlatPrior(),
                error_cv=_error_of_rows([row.error_cv for row in mine], stated_cv),
            )
        )
    return judgements


def _error_of_rows(
    own: list[float | None], stated: float | tuple[float, float] | None
) -> float | tuple[float, float] | list[float] | None:
    """Each row's own measurement error; where it has none, the stated one, and without either none."""
    if all(cv is None for cv in own):
        return stated
    if isinstance(stated, tuple):
        from lapel.figures import UnitProblem

        left = sum(cv is None for cv in own)
        if left:
            raise UnitProblem(
                f"found a range as measurement error beside a column that states it for {len(own) - left} of "
                f"{len(own)} results; wanted one number for the others, as in 10, or the column filled"
            )
        stated = None
    return [cv if cv is not None else stated or 0.0 for cv in own]


def _error_cv(text: str | None) -> float | tuple[float, float] | None:
    """Read “10” or “5-15” percent."""
    from lapel.figures import UnitProblem, parsed_number

    if text is None:
        return None
    ends = [float(parsed_number(part)) / 100.0 for part in text.split("-")]
    if len(ends) > 2 or not all(0.0 <= end <= 1.0 for end in ends) or ends != sorted(ends):
        raise UnitProblem(f"found “{text}” as measurement error; wanted percent from 0 to 100, as in 10 or 5-15")
    return ends[0] if len(ends) == 1 else (ends[0], ends[1])
