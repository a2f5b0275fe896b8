"""The terminal view of a group judgement."""

from __future__ import annotations

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lapel.assessment.group import GroupJudgement
from lapel.cli.terminal import output
from lapel.documents import compose_group as compose

OUTCOME_STYLE = {"shown": "green", "above": "bold red"}


def show_judgement(judgement: GroupJudgement) -> None:
    """Print one group: the sentence, the belief, bands, estimates, tests, workers."""
    console = output()
    console.print(Text(compose.title(judgement), style="bold"))
    console.print(judgement.results.in_words())
    console.print()
    console.print(Padding(compose.sentence(judgement), (0, 0, 0, 2)))
    console.print(Padding(compose.belief(judgement), (0, 0, 0, 2)))
    if judgement.prior_decides:
        console.print(
            Padding(Text("The results decide little here: see the notes.", style="bold yellow"), (0, 0, 0, 2))
        )
    console.print()
    bands = Table(title="Where the 95th percentile lies", **_PLAIN)  # type: ignore[arg-type]
    bands.add_column("Share of the limit")
    bands.add_column("Probability", justify="right")
    bands.add_column("")
    for words, chance, p in compose.band_rows(judgement):
        bands.add_row(words, chance, "█" * round(30 * p))
    console.print(bands)
    console.print()
    believed = Table(title="After these results (probability that it is lower)", **_PLAIN)  # type: ignore[arg-type]
    for name in ("", "5 %", "50 %", "70 %", "95 %"):
        believed.add_column(name, justify="left" if not name else "right")
    for row in compose.believed_rows(judgement):
        believed.add_row(*row)
    console.print(believed)
    console.print()
    estimates = Table(title="Estimates without a prior", **_PLAIN)  # type: ignore[arg-type]
    for name in ("", "Estimate", "How"):
        estimates.add_column(name)
    for estimate in compose.estimate_rows(judgement):
        estimates.add_row(*estimate)
    console.print(estimates)
    console.print()
    console.print(Text("Tests", style="bold"))
    for test in compose.test_rows(judgement):
        console.print(Text.assemble((test.outcome, OUTCOME_STYLE.get(test.outcome, "yellow")), f"  {test.rule}"))
        console.print(Padding(test.words, (0, 0, 0, 4)))
        for remark in test.remarks:
            console.print(Padding(Text(f"{remark.removesuffix('.')}.", style="dim"), (0, 0, 0, 4)))
        console.print(Padding(Text(test.source, style="dim"), (0, 0, 0, 4)))
    console.print()
    _workers(judgement)
    for line in (*compose.shape_lines(judgement), *judgement.notes):
        console.print(f"· {line}")
    beforehand = judgement.prior.describe()
    told = (*judgement.notes, *(judgement.by_worker.words if judgement.by_worker else ()))
    if not any(beforehand in words for words in told):
        console.print(beforehand, style="dim")
    console.print()


_PLAIN = {"title_justify": "left", "title_style": "bold", "box": None, "pad_edge": False, "show_edge": False}


def _workers(judgement: GroupJudgement) -> None:
    if judgement.by_worker is None:
        return
    console = output()
    table = Table(title="Worker by worker: own 95th percentile", **_PLAIN)  # type: ignore[arg-type]
    for name in ("Worker", "Results", "Middle", "90 % interval", "Chance above the limit"):
        table.add_column(name, justify="left" if name == "Worker" else "right")
    for row in compose.worker_rows(judgement):
        table.add_row(*row)
    console.print(table)
    for words in judgement.by_worker.words:
        console.print(f"· {words}")
    console.print()
