"""
A thousand simulated surveys: do all that people are handed say what the kernel says?

    python benchmarks/thousand_surveys.py [--surveys 1000] [--seed 8]

Takes the small example with masses drawn anew (lognormal, some below the reporting limit, from far below the limit to
far above it), assesses it, and holds against the kernel's own functions, called on the same numbers: every verdict of
every shift, the row of the open data, the line of the worker's letter, and every group's test and 95th percentile. Any
difference is printed and counted; the exit code is 1 if there is one.
"""

from __future__ import annotations

import argparse
import csv
import io
import random
import sys
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

from lapel.assessment.judged_groups import group_questions, judged
from lapel.assessment.results import SurveyAssessment
from lapel.assessment.survey import assess
from lapel.documents.worker_results import results_by_worker
from lapel.exchange.open_data import verdicts_table
from lapel.exchange.survey_folder import read_survey
from lapel.hygiene.limits import compare
from lapel.statistics import compliance_test, observed
from lapel.statistics.posterior import posterior

ROOT = Path(__file__).parents[1]


def main() -> int:
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("--surveys", type=int, default=1000)
    arguments.add_argument("--seed", type=int, default=8)
    given = arguments.parse_args()
    drawn = random.Random(given.seed)
    survey = read_survey(ROOT / "examples" / "small")
    started, told, checked, outcomes = time.process_time(), 0, 0, Counter[str]()
    for number in range(given.surveys):
        level = drawn.uniform(-3.0, 2.5)
        results = tuple(
            replace(
                row,
                front_ug=max(mass, row.reporting_limit_ug or 0.0),
                front_below=mass < (row.reporting_limit_ug or 0.0),
            )
            for row in survey.results
            for mass in [row.front_ug * 2.718281828 ** drawn.gauss(level, 0.8)]
        )
        assessment = assess(replace(survey, results=results))
        for words in differences(assessment, outcomes):
            told += 1
            print(f"survey {number}: {words}")
        checked += 1
    spent = time.process_time() - started
    made = f"{checked} surveys, {sum(outcomes.values())} comparisons ({dict(outcomes)})"
    print(f"{made}: {told} differences; {spent:.0f} s of processor")
    return 1 if told else 0


def differences(assessment: SurveyAssessment, outcomes: Counter[str]) -> list[str]:
    """Everything in which what is handed out differs from the kernel's own answer."""
    found = []
    rows = {
        (r["shift"], r["agent"], r["authority"], r["kind"]): r
        for r in csv.DictReader(io.StringIO(verdicts_table(assessment)))
    }
    letters = {
        (result.shift.code, result.agent, result.limit): result.verdict
        for results in results_by_worker(assessment).values()
        for result in results
    }
    for shift in assessment.shifts:
        for verdict in shift.verdicts:
            average = verdict.average
            if average is None:
                continue
            said = verdict.comparison.verdict
            outcomes[said] += 1
            where = f"{shift.shift.code}, {shift.agent.key}, {verdict.limit.authority} {verdict.limit.kind}"
            kernel = compare(average.lower, average.upper, verdict.limit_value).verdict
            row = rows[shift.shift.code, shift.agent.key, verdict.limit.authority, verdict.limit.kind]
            told = {key[2]: value for key, value in letters.items() if key[:2] == (shift.shift.code, shift.agent.name)}
            in_letter = [
                value for limit, value in told.items() if f"({verdict.limit.authority} {verdict.limit.kind}" in limit
            ]
            if said != kernel:
                found.append(f"{where}: assessed {said}, kernel {kernel}")
            if row["verdict"] != said or (
                average.upper.sense == "exactly" and float(row["upper"]) != average.upper.value
            ):
                found.append(f"{where}: assessed {said}, open data {row['verdict']}")
            if verdict.limit.binding and in_letter != [said]:
                found.append(f"{where}: assessed {said}, letter {in_letter}")
    for question in group_questions(assessment):
        group = judged(question)
        if group is None:
            continue
        seen = observed(lower=[row.lower for row in question.rows], upper=[row.upper for row in question.rows])
        test = compliance_test(seen, question.limit.value)
        if (group.tests[0].outcome, group.tests[0].words) != (test.outcome, test.words):
            found.append(f"{question.key}: {group.tests[0].outcome}, kernel {test.outcome}")
        errors = [row.error_cv if row.error_cv >= 0.01 else 0.0 for row in question.rows]
        after = posterior(seen, limit=question.limit.value, error_cv=errors if any(errors) else None)
        if (
            group.p95.middle != float(after.quantiles("p95", (0.5,))[0][0])
            and abs(group.p95.middle / float(after.quantiles("p95", (0.5,))[0][0]) - 1.0) > 1e-9
        ):
            found.append(f"{question.key}: 95th percentile {group.p95.middle}, kernel otherwise")
    return found


if __name__ == "__main__":
    sys.exit(main())
