"""
How well columns are understood, and what a very large report costs.

    python benchmarks/results_import.py matrix [--files 1000]     confusion matrix of the mapper over drawn layouts
    python benchmarks/results_import.py speed [--rows 100000]     a report of so many results, read and reconciled

The layouts are those of tests/exchange/laboratory/writer_of_reports.py: the writer knows what every column was for.
"""

import argparse
import csv
import io
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "exchange" / "laboratory"), str(ROOT / "benchmarks")]


def matrix(files, first_seed):
    """Print what each kind of column was taken for, in Markdown, and what became of the files."""
    from writer_of_reports import drawn_style, expected, true_rows, written

    from lapel.exchange.laboratory import empty_map, propose, read_content

    facts = {"report.code", "laboratory", "report.received_on", "recovery_corrected_by", "blank_corrected_by"}
    taken = Counter()
    outcome = Counter()
    ours = expected()
    for seed in range(first_seed, first_seed + files):
        style = drawn_style(seed)
        try:
            name, content, truth = written(style, true_rows(seed))
        except UnicodeEncodeError:
            continue
        proposal = propose(read_content(name, content), ours, empty_map())
        asked = {question.key.removeprefix("columns.") for question in proposal.questions}
        for table in proposal.tables:
            for column in table.columns:
                meant = truth.columns.get(column.heading)
                if meant:
                    taken[meant, "asked" if column.heading in asked else column.role] += 1
        wrong = sum(_differs(result, truth, style) for result in proposal.results)
        questions = {question.key for question in proposal.questions} - facts
        outcome["read wrong" if wrong else "asked" if questions else "read right"] += 1
        outcome["results read wrong"] += wrong
    meant = sorted({m for m, _ in taken})
    found = sorted({f for _, f in taken})
    print("| Meant \\ taken for | " + " | ".join(found) + " |")
    print("|---|" + "---:|" * len(found))
    for one in meant:
        print(f"| {one} | " + " | ".join(str(taken[one, other] or "") for other in found) + " |")
    total = sum(taken.values())
    right = sum(count for (one, other), count in taken.items() if one == other or other in SAME.get(one, ()))
    print(f"\n{total} columns in {files} files; {100 * right / total:.2f} % taken for what they were meant.")
    print(", ".join(f"{name}: {count}" for name, count in outcome.items()))


SAME = {"result": ("mass", "concentration"), "mass": ("result",)}
"""A result with a unit of mass in its heading, and a mass with its unit elsewhere, come to the same."""


def _differs(result, truth, style):
    row = truth.rows.get((result.sampler, result.agent))
    if row is None or result.front_ug is None:
        return True
    off = abs(result.front_ug - float(row.front)) > 1e-9 * float(row.front) or result.front_below != row.front_below
    if style.two_sections and result.back_ug is not None:
        off = off or abs(result.back_ug - float(row.back)) > 1e-9 * float(row.back)
    return off


def speed(rows, kind):
    """Time and memory of a report of many results, with what it is held against."""
    from make_big_folder import make_big_folder

    from lapel.exchange import read_survey
    from lapel.exchange.laboratory import empty_map, read_content, with_answer
    from lapel.exchange.laboratory.session import read_report

    agents = 8
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "big"
        make_big_folder(folder, samples=rows // agents, template=ROOT / "examples" / "small", seed=7)
        for path in (folder / "laboratory").iterdir():
            path.unlink()
        survey = with_agents(read_survey(folder), agents)
        content = report(survey, rows, agents, kind)
        print(
            f"{len(survey.orders)} samplers, {len(survey.entries)} log entries, report of {len(content) / 1e6:.1f} MB"
        )
        held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        given = empty_map()
        for key, answer in (
            ("report.code", "BIG-1"), ("laboratory", "Quarrybank"), ("report.received_on", str(survey.assessed_on)),
            ("recovery_corrected_by", "laboratory"), ("blank_corrected_by", "nobody"),
        ):  # fmt: skip
            given = with_answer(given, key, answer)
        steps = []
        started, of_process = time.monotonic(), time.process_time()
        file = read_content(f"big.{kind}", content)
        read_at = time.monotonic()
        read = read_report(survey, file, given, validate=False, progress=lambda what, done, total: steps.append(what))
        done = time.monotonic()
        worked = time.process_time() - of_process
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{len(read.proposal.results)} results read, {len(read.results)} reconciled")
        print(f"{len(read.reconciliation.matters)} matters, {len(read.proposal.questions)} questions")
        print(f"cells {read_at - started:.1f} s, understood and reconciled {done - read_at:.1f} s")
        print(f"{worked:.1f} s of one processor; {len(steps)} reports of progress")
        print(f"peak {peak:.0f} MB, of which the survey itself {held:.0f} MB")


def with_agents(survey, agents):
    """The same survey with so many agents ordered on every sampler."""
    from dataclasses import replace

    from lapel.assessment.inputs import Agent

    named = {f"agent-{number}": Agent(f"agent-{number}", f"Agent number {number}") for number in range(agents)}
    methods = {
        f"{code}-{key}": replace(method, code=f"{code}-{key}", agent=key)
        for code, method in survey.methods.items()
        for key in named
    }
    orders = {
        code: replace(order, methods=tuple(f"{order.methods[0]}-{key}" for key in named))
        for code, order in survey.orders.items()
    }
    return replace(survey, agents=named, methods=methods, orders=orders, limits=(), results=(), reports={})


def report(survey, rows, agents, kind):
    """Write a long report: eight agents a sampler."""
    heads = [
        "Lab ID",
        "Sample ID",
        "Analyte",
        "Front (ug)",
        "Back (ug)",
        "Reporting limit (ug)",
        "Volume (L)",
        "Analysed",
    ]
    body = []
    for code in survey.orders:
        for agent in list(survey.agents.values())[:agents]:
            mass = f"{len(body) % 977 + 5.5}"
            body.append([len(body), code, agent.name, mass, "<5", "5", "10.2", "2026-05-04"])
    body = body[:rows]
    if kind == "csv":
        text = io.StringIO(newline="")
        csv.writer(text).writerows([heads, *body])
        return text.getvalue().encode()
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Results")
    for row in [heads, *body]:
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def main():
    arguments = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0].strip())
    arguments.add_argument("what", choices=("matrix", "speed"))
    arguments.add_argument("--files", type=int, default=1000)
    arguments.add_argument("--seed", type=int, default=0)
    arguments.add_argument("--rows", type=int, default=100_000)
    arguments.add_argument("--kind", choices=("csv", "xlsx"), default="csv")
    given = arguments.parse_args()
    if given.what == "matrix":
        matrix(given.files, given.seed)
    else:
        speed(given.rows, given.kind)


if __name__ == "__main__":
    main()
