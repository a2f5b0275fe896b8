"""The terminal: an assessment as tables to read, results to stdout, progress and words to stderr."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from lapel.assessment.results import SurveyAssessment
from lapel.documents import compose
from lapel.figures import Working

VERDICT_STYLE = {"under": "green", "over": "bold red", "cannot tell": "yellow"}
VERDICT_MARK = {"under": "under", "over": "OVER", "cannot tell": "cannot tell"}
LEVEL_STYLE = {"sound": "green", "qualified": "yellow", "void": "bold red"}
MANY = 100
"""More rows than this are summarised; `--all` shows them."""


def output() -> Console:
    """Where results go."""
    return Console(highlight=False, soft_wrap=False)


def words() -> Console:
    """Where words for people go."""
    return Console(stderr=True, highlight=False)


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
        console.print(f"  {line}")
    console.print()
    _samples(console, assessment, everything)
    _verdicts(console, assessment, everything)
    _findings(console, assessment)
    _side_by_side(console, assessment, everything)
    _blanks(console, assessment, everything)
    for conflict in assessment.day.conflicts:
        console.print(f"[yellow]To settle:[/] {conflict.words} (entries {', '.join(conflict.entry_ids)})")
    for unusable in assessment.day.unusable:
        console.print(f"[yellow]Not counted:[/] entry {unusable.entry_id}: {'; '.join(unusable.problems)}")
    for note in assessment.notes:
        console.print(f"[yellow]Note:[/] {note}")
    console.print(
        "Limits are as of the dates given with them: confirm each with its authority before acting on a result.",
        style="dim",
    )


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
                console.print(f"       {term.label} = {term.text}   [dim]{term.origin}[/]")
            console.print(f"       = [bold]{step.result}[/] {step.uncertainty}   [dim]{step.source}[/]")
        if working.budget:
            console.print("       What makes it uncertain (share of the variance):", style="dim")
            for row in working.budget[:8]:
                bar = "█" * max(1, round(24 * row.share))
                console.print(f"       {100 * row.share:5.1f} %  {bar:<24}  {row.cause}")


def _table(title: str, columns: Iterable[tuple[str, dict[str, Any]]]) -> Table:
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, show_edge=False)
    for name, options in columns:
        table.add_column(name, **{"overflow": "fold", **options})
    return table


def _samples(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    right = {"justify": "right", "no_wrap": True}
    table = _table(
        "Samples",
        [
            ("Sample", {"no_wrap": True}),
            ("Worker", {}),
            ("Port", {"no_wrap": True}),
            ("Agent", {}),
            ("min", right),
            ("Flow", right),
            ("Change", right),
            ("Volume", right),
            ("Mass", right),
            ("Conc. (k = 2)", right),
            ("ppm", right),
            ("Standing", {"min_width": 9}),
        ],
    )
    rows = compose.sample_rows(assessment)
    shown = rows if everything or len(rows) <= MANY else [row for row in rows if row.because][:MANY]
    for row in shown:
        style = LEVEL_STYLE[row.standing.split(":")[0]]
        table.add_row(
            row.sampler, row.worker, row.train, row.agent, row.minutes, row.flow, row.change, row.volume, row.mass,
            row.concentration, row.ppm.replace(" ppm", ""), Text(row.standing, style=style),
        )  # fmt: skip
    console.print(table)
    if len(shown) < len(rows):
        console.print(f"{len(rows) - len(shown)} of {len(rows)} rows not shown; --all shows them.", style="dim")
    console.print()


def _verdicts(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    rows = compose.verdict_rows(assessment)
    table = _table(
        "Against the limits (share of the limit; in brackets what one-sided 95 % confidence leaves)",
        [
            ("Worker", {}),
            ("Shift", {}),
            ("Agent", {}),
            ("Exposure", {"justify": "right"}),
            ("Limit", {}),
            ("Share", {"no_wrap": True}),
            ("Verdict", {"no_wrap": True}),
            ("Robust", {}),
        ],
    )
    shown = rows if everything or len(rows) <= MANY else [row for row in rows if row.verdict != "under"][:MANY]
    for row in shown:
        verdict = Text(VERDICT_MARK[row.verdict], style=VERDICT_STYLE[row.verdict])
        table.add_row(row.worker, row.shift, row.agent, row.average, row.limit, row.share, verdict, row.robust)
    console.print(table)
    if len(shown) < len(rows):
        console.print(f"{len(rows) - len(shown)} of {len(rows)} rows not shown; --all shows them.", style="dim")
    console.print()
    for row in shown:
        if row.verdict != "under" or row.robust == "no":
            _reasons(console, row)


def _reasons(console: Console, row: compose.VerdictRow) -> None:
    """Say why a verdict is over, open or shaky, which other choice would turn it, and what would settle it."""
    verdict = Text(VERDICT_MARK[row.verdict], style=VERDICT_STYLE[row.verdict])
    console.print(Text.assemble((f"{row.worker}, {row.agent}, {row.limit}", "bold"), "  ", verdict))
    if not row.settles or row.verdict == "over":
        console.print(Padding(f"{row.reason} [dim]({row.about})[/]", (0, 0, 0, 4)))
    turning = [other for other in row.others if f": {row.verdict} (" not in other]
    if turning:
        console.print(Padding(f"[dim]Otherwise with: {'; '.join(turning)}.[/]", (0, 0, 0, 4)))
    if row.settles:
        console.print(Padding(f"[bold]Would settle it:[/] {row.settles}.", (0, 0, 0, 4)))


def _findings(console: Console, assessment: SurveyAssessment) -> None:
    rows = compose.finding_rows(assessment)
    if not rows:
        return
    console.print(Text(f"Findings under {assessment.rule_book.title}", style="bold"))
    for row in rows:
        style = "bold red" if row.effect == "void" else "yellow" if row.effect != "remark" else "dim"
        console.print(Text.assemble((f"{row.effect}  ", style), (row.title, "bold"), f"  {row.samplers}"))
        console.print(Padding(f"Found: {row.found}. Wanted: {row.wanted.rstrip('.')}.", (0, 0, 0, 4)))
        console.print(Padding(f"Do: {row.remedy}", (0, 0, 0, 4)))
        console.print(Padding(f"[dim]{row.source}[/]", (0, 0, 0, 4)))
        if row.overridden:
            console.print(Padding(f"[magenta]{row.overridden}[/]", (0, 0, 0, 4)))
    console.print()


def _side_by_side(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    if not assessment.compared:
        return
    books = [assessment.rule_book, *assessment.compared]
    table = _table("Standing under each rule book", [("Sample", {}), ("Agent", {}), *((b.title, {}) for b in books)])
    rows = compose.other_standing_rows(assessment)
    differing = [row for row in rows if len(set(row[2:])) > 1]
    for row in rows if everything else differing[:MANY]:
        table.add_row(*row[:2], *(Text(words, style=LEVEL_STYLE[words.split(":")[0]]) for words in row[2:]))
    if differing or everything:
        console.print(table)
    else:
        console.print(f"Standing is the same under {' and '.join(book.title for book in books)}.")
    console.print()


def _blanks(console: Console, assessment: SurveyAssessment, everything: bool) -> None:
    rows = compose.blank_rows(assessment)
    if not rows:
        return
    names = ("Blank", "Use", "Medium and lot", "Agent", "Mass")
    table = _table("Blanks", [(name, {}) for name in names])
    for row in rows if everything or len(rows) <= MANY else rows[:MANY]:
        table.add_row(*row)
    console.print(table)
    console.print()
