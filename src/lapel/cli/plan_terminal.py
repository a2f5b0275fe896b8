"""A plan on the terminal: what, who, when, with what; what cannot be done and what to relax; proof or gap."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lapel.assessment.plan_products import Products
from lapel.assessment.planned import SurveyPlan
from lapel.cli.terminal import output
from lapel.documents import compose_plan


def show_plan(plan: SurveyPlan, products: Products) -> None:
    """Print a plan."""
    console = output()
    console.print(Text(plan.inputs.title, style="bold"))
    console.print(f"{plan.inputs.site.name} · plan of {plan.inputs.made_on}")
    for line in compose_plan.headline(plan, products):
        console.print(Text(f"  {line}"))
    console.print()
    _faults(console, plan)
    _cannot(console, plan)
    _show(
        console,
        "Windows (the lowest limit sets the least volume)",
        ("Question", "What", "Method", "Lowest limit", "Volume a sampler", "How"),
        compose_plan.window_rows(plan),
    )
    console.print(Text("How many and whom", style="bold"))
    for each in plan.sought:
        console.print(Text.assemble((f"{each.question.code}  ", "bold"), each.how_many))
        console.print(Padding(Text(each.whom[:1].upper() + each.whom[1:] + "."), (0, 0, 0, 4)))
    console.print()
    _show(
        console,
        "Kinds of samplers",
        ("Kind", "Medium", "Agents", "For", "Flow", "Period"),
        [compose_plan.kind_row(kind, plan) for kind in plan.kinds.values()],
    )
    for day in plan.days:
        rows = [
            (
                train.code,
                train.worker,
                train.pump,
                train.splitter or "–",
                compose_plan.train_ports(train),
                train.technician,
                compose_plan.clock(train.hang_at_min),
            )
            for train in plan.trains_on(day)
        ]
        names = ("Train", "Worker", "Pump", "Splitter", "Ports (letter, kind, flow)", "Technician", "Hang at")
        _show(console, day, names, rows)
    _show(
        console,
        "To take and order",
        ("Medium", "Lot", "Samples", "Blanks", "Duplicates", "Spares", "Packs"),
        [
            (k.medium, k.lot or k.remark, str(k.samples), str(k.blanks), str(k.duplicates), str(k.spares), str(k.packs))
            for k in products.kit
        ],
    )
    if plan.campaign.goals:
        _show(console, "Goals, most important first", ("Goal", "Reached", "How sure"), compose_plan.goal_rows(plan))
    console.print(f"Cost: {compose_plan.cost_words(products, plan.inputs.rates.currency)}.")
    for trains, words in compose_plan.warning_lines(plan):
        console.print(Text.assemble(("Weak point  ", "yellow"), f"{words} ({trains})"))
    for words in (*plan.cautions, *products.remarks):
        console.print(Text.assemble(("Note  ", "yellow"), words))
    for words in compose_plan.CAUTIONS:
        console.print(Text(words, style="dim"))


def _faults(console: Console, plan: SurveyPlan) -> None:
    if not plan.faults:
        return
    console.print(Text("Faults: nothing was put right", style="bold red"))
    for fault in plan.faults:
        console.print(Text.assemble(("  " + fault.where, "bold"), f": {fault.words}"))
    console.print()


def _cannot(console: Console, plan: SurveyPlan) -> None:
    told = compose_plan.infeasible_lines(plan) + compose_plan.missing_lines(plan)
    if not told and not plan.campaign.advice:
        return
    console.print(Text("What cannot be done, and what to relax", style="bold yellow"))
    for what, why in told:
        console.print(Text("  " + what, style="bold"))
        console.print(Padding(Text(why), (0, 0, 0, 6)))
    for words in plan.campaign.advice:
        console.print(Padding(Text(words), (0, 0, 0, 2)))
    console.print()


def _show(console: Console, title: str, names: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> None:
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, show_edge=False)
    for place, name in enumerate(names):
        table.add_column(name, overflow="fold", no_wrap=place == 0)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    console.print(table)
    console.print()
