"""The terminal: an assessment as tables to read, results to stdout, progress and words to stderr."""

from __future__ import annotations

import os
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.text import Text

from lapel.assessment.inputs import LimitChoice, Survey
from lapel.assessment.results import SurveyAssessment
from lapel.cli.tables import Column, fill, print_table
from lapel.documents import compose
from lapel.documents.blank_words import MASS_WORDS, blank_lines
from lapel.documents.compose_findings import finding_rows, idle_override_lines
from lapel.documents.folding import FoldedVerdicts, folded_verdicts, grouped_findings
from lapel.figures import Working

VERDICT_STYLE = {"under": "green", "over": "bold red", "cannot tell": "yellow"}
VERDICT_MARK = {"under": "under", "over": "OVER", "cannot tell": "cannot tell"}
LEVEL_STYLE = {"sound": "green", "qualified": "yellow", "void": "bold red"}
MANY = 100
"""More rows than this are summarised; `--all` shows them."""

HOW_SURE = (
    "In brackets after a source: read = the clause was read; known = from the named document, not re-read; judgement = "
    "good practice, no authority behind it."
)

LEAST_SHARE = 0.0005
"""A smaller share of the variance would read 0.0 %, and it is not nothing."""

PIPED_WIDTH = 200
"""Width of what goes to a file or another program, unless COLUMNS says otherwise."""


def output() -> Console:
    """Where results go; what people typed is never taken for styling."""
    piped = not sys.stdout.isatty() and not os.environ.get("COLUMNS")
    return Console(highlight=False, soft_wrap=False, markup=False, emoji=False, width=PIPED_WIDTH if piped else None)


def words() -> Console:
    """Where words for people go."""
    return Console(stderr=True, highlight=False, markup=False, emoji=False)


@contextmanager
def progress(quiet: bool) -> Iterator[Callable[[str, int, int], None] | None]:
    """Show how far long work is, on a terminal only."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=words(), transient=True) as bar:
        task = bar.add_task("")
        yield lambda what, done, total: bar.update(task, description=what, completed=done, total=total)


def show_assessment(assessment: SurveyAssessment, *, everything: bool = False) -> None:
    """Print an assessment: headline, samples, limits, findings, blanks."""
    console = output()
    survey = assessment.survey
    console.print(Text(survey.title, style="bold"))
    console.print(f"{survey.site.name} · assessed {survey.assessed_on} · rules: {assessment.rule_book.title}")
    for line in compose.headline(assessment):
        console.print(Padding(line, (0, 0, 0, 2)))
    console.print()
    _samples(console, assessment, everything)
    _verdicts(console, assessment, everything)
    _findings(console, assessment)
    _side_by_side(console, assessment, everything)
    _blanks(console, assessment, everything)
    for conflict in assessment.day.conflicts:
        _labelled(console, "To settle", f"{conflict.words} (entries {', '.join(conflict.entry_ids)})")
    for unusable in assessment.day.unusable:
        _labelled(console, "Not counted", f"entry {unusable.entry_id}: {'; '.join(unusable.problems)}")
    for line in (*idle_override_lines(assessment), *assessment.notes):
        _labelled(console, "Note", line)
    console.print(Text(limit_dates(survey), style="dim"))


def limit_dates(survey: Survey) -> str:
    """Say which day each authority's limits are as of, agent by agent where its limits are of several days."""
    if not survey.limits:
        return "No limit is stated."
    by_day: dict[str, list[LimitChoice]] = defaultdict(list)
    days_of: dict[str, set[str]] = defaultdict(set)
    for limit in survey.limits:
        day = limit.as_of.isoformat() if limit.as_of else "no stated day"
        by_day[day].append(limit)
        days_of[limit.authority].add(day)

    def named(limit: LimitChoice) -> str:
        agent = survey.agents[limit.agent].name
        several = len(days_of[limit.authority]) > 1
        return f"{limit.authority} {limit.kind} for {agent}" if several else limit.authority

    dated = [f"{day} ({', '.join(dict.fromkeys(map(named, limits)))})" for day, limits in sorted(by_day.items())]
    return f"Limits as of {'; '.join(dated)}: confirm each with its authority before acting on a result."


def show_working(title: str, workings: Iterable[Working]) -> None:
    """Print worked calculations step by step, with the budget of uncertainty."""
    console = output()
    console.print(Text(title, style="bold"))
    for working in workings:
        console.print()
        console.print(Text(working.title[:1].upper() + working.title[1:], style="bold underline"))
        for step in working.steps:
            expression = f"   {step.expression}" if step.expression else ""
            console.print(Text.assemble((f"{step.number:>3}  ", "dim"), (step.name, "bold"), expression))
            for term in step.terms:
                _indented(console, Text.assemble(f"{term.label} = {term.text}   ", (term.origin, "dim")), 7)
            result = Text.assemble("= ", (step.result, "bold"), f" {step.uncertainty}   ", (step.source, "dim"))
            _indented(console, result, 7)
        if working.budget:
            console.print("       What makes it uncertain (share of the variance):", style="dim")
            for row in working.budget[:8]:
                share = f"{100 * row.share:.1f} %" if row.share >= LEAST_SHARE else "< 0.1 %"
                bar = "█" * round(24 * row.share)
                console.print(f"       {share:>7}  {bar:<24}  {row.cause}")


def show_uses(lines: Iterable[str]) -> None:
    """Print what a worked result was used for."""
    console = output()
    for line in lines:
        _indented(console, Text(line, style="dim"), 7)


def _labelled(console: Console, label: str, said: str) -> None:
    console.print(Text.assemble((f"{label}: ", "yellow"), said))


def _indented(console: Console, said: str | Text, by: int = 4) -> None:
    console.print(Padding(said, (0, 0, 0, by)))


def _not_all(console: Console, shown: int, rows: int) -> None:
    if shown < rows:
        console.print(f"{rows - shown} of {rows} rows not shown; --all shows them.", style="dim")
    console.print()


def _samples(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    columns = [
        Column("Sample"),
        Column("Worker", spare=4),
        Column("Port", spare=6),
        Column("Agent", wraps=True),
        Column("min", spare=3, right=True),
        Column("Flow", spare=5, right=True),
        Column("Change", spare=8, right=True),
        Column("Volume", spare=2, right=True),
        Column("Mass", spare=7, right=True),
        Column("Conc. (k = 2)", right=True),
        Column("ppm", spare=1, right=True),
        Column("Standing", wraps=True),
    ]
    rows = compose.sample_rows(assessment)
    shown = rows if everything or len(rows) <= MANY else [row for row in rows if row.because][:MANY]
    for row in shown:
        standing = Text(row.standing, style=LEVEL_STYLE[row.standing.split(":")[0]])
        fill(
            columns, row.sampler, row.worker, row.train, row.agent, row.minutes, row.flow, row.change, row.volume,
            row.mass, row.concentration, row.ppm.replace(" ppm", ""), standing,
        )  # fmt: skip
    printed = print_table(console, "Samples", columns)
    if "Mass" in printed:
        console.print(Text(MASS_WORDS, style="dim"))
    _not_all(console, len(shown), len(rows))


def _verdicts(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    rows = compose.verdict_rows(assessment)
    columns = [
        Column("Worker"),
        Column("Shift"),
        Column("Start", spare=3),
        Column("Agent", wraps=True),
        Column("Exposure", spare=2, right=True),
        Column("Limit", wraps=True),
        Column("Share", wraps=True, mostly_whole=True),
        Column("Verdict"),
        Column("Robust", spare=1),
    ]
    shown = rows if everything or len(rows) <= MANY else [row for row in rows if row.verdict != "under"][:MANY]
    for row in shown:
        verdict = Text(VERDICT_MARK[row.verdict], style=VERDICT_STYLE[row.verdict])
        code, _, start = row.shift.partition(", ")
        fill(columns, row.worker, code, start, row.agent, row.average, row.limit, row.share, verdict, row.robust)
    print_table(
        console, "Against the limits (share of the limit; in brackets what one-sided 95 % confidence leaves)", columns
    )
    _not_all(console, len(shown), len(rows))
    for folded in folded_verdicts([row for row in shown if row.verdict != "under" or row.robust == "no"]):
        _reasons(console, folded)


def _reasons(console: Console, folded: FoldedVerdicts) -> None:
    """Say why verdicts are over, open or shaky, which other choice would turn them, and what would settle them."""
    verdict = Text(VERDICT_MARK[folded.verdict], style=VERDICT_STYLE[folded.verdict])
    about = Text(f"{folded.worker}, {'; '.join(folded.limits)}", style="bold")
    console.print(Text.assemble(about, "  ", verdict))
    _indented(console, Text.assemble(f"{folded.reason} ", (f"({folded.about})", "dim")))
    if folded.turning:
        _indented(console, Text(f"Otherwise with: {'; '.join(folded.turning)}.", style="dim"))
    if folded.settles:
        _indented(console, Text.assemble(("Would settle it: ", "bold"), f"{folded.settles}."))


def _findings(console: Console, assessment: SurveyAssessment) -> None:
    groups = grouped_findings(finding_rows(assessment))
    if not groups:
        return
    console.print()
    console.print(Text(f"Findings under {assessment.rule_book.title}", style="bold"))
    for group in groups:
        style = "bold red" if group.effect == "void" else "yellow" if group.effect != "remark" else "dim"
        title = Text.assemble((f"{group.effect}  ", style), (group.title, "bold"))
        if len(group.found) == 1:
            ((samplers, found),) = group.found
            console.print(Text.assemble(title, f"  {samplers}"))
            _indented(console, f"Found: {found}. Wanted: {group.wanted}.")
        else:
            console.print(title)
            for samplers, found in group.found[:MANY]:
                _indented(console, Text.assemble((f"{samplers}: ", "bold"), f"{found}."))
            if len(group.found) > MANY:
                _indented(console, Text(f"{len(group.found) - MANY} more like these; --json has them.", style="dim"))
            _indented(console, f"Wanted: {group.wanted}.")
        _indented(console, f"Do: {group.remedy}")
        _indented(console, Text(group.source, style="dim"))
        if group.overridden:
            _indented(console, Text(group.overridden[:1].upper() + group.overridden[1:], style="magenta"))
    console.print(HOW_SURE, style="dim")
    console.print()


def _side_by_side(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    if not assessment.compared:
        return
    books = [assessment.rule_book, *assessment.compared]
    columns = [Column("Sample"), Column("Agent", wraps=True), *(Column(book.key, wraps=True) for book in books)]
    rows = compose.other_standing_rows(assessment)
    differing = [row for row in rows if len(set(row[2:])) > 1]
    shown = rows if everything else differing[:MANY]
    for row in shown:
        fill(columns, *row[:2], *(Text(said, style=LEVEL_STYLE[said.split(":")[0]]) for said in row[2:]))
    if shown:
        print_table(console, "Standing under each rule book" + ("" if everything else ", where they differ"), columns)
        if not everything and len(differing) > MANY:
            console.print(f"{len(differing) - MANY} more differ; --all shows them.", style="dim")
    else:
        console.print(f"Standing is the same under {' and '.join(book.title for book in books)}.")
    console.print()


def _blanks(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    rows = compose.blank_rows(assessment)
    if not rows:
        return
    columns = [
        Column("Blank"),
        Column("Use", spare=1),
        Column("Medium and lot", wraps=True),
        Column("Agent", wraps=True),
        Column("Mass", right=True),
    ]
    shown = rows if everything or len(rows) <= MANY else rows[:MANY]
    for row in shown:
        fill(columns, *row)
    print_table(console, "Blanks", columns)
    for line in blank_lines(assessment)[:MANY]:
        console.print(line)
    _not_all(console, len(shown), len(rows))
