"""The terminal: what is known of the agents asked for."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from lapel.assessment.scope import BEFORE_SAMPLING, AgentScope, limit_words
from lapel.cli.terminal import output
from lapel.figures import at_decimals
from lapel.reference import CONFIRM, Limit, MethodRow


def show_scope(scopes: Sequence[AgentScope]) -> None:
    """Print every agent, the questions first where there are any, and what to mind before sampling."""
    console = output()
    for each in scopes:
        if each.substance is None:
            console.print(Text.assemble(("To ask  ", "bold yellow"), (each.asked.text, "bold"), f": {each.question}"))
            console.print()
    for each in scopes:
        if each.substance is not None:
            _agent(console, each)
    console.print(Text("Before sampling", style="bold"))
    for words in BEFORE_SAMPLING:
        console.print(Padding(Text(words, style="dim"), (0, 0, 0, 2)))


def _agent(console: Console, each: AgentScope) -> None:
    substance = each.substance
    if substance is None:
        return
    mass = f", {substance.molar_mass:g} g/mol" if substance.molar_mass else ""
    console.print(
        Text.assemble(
            (substance.name, "bold"), f"  CAS {substance.cas}{mass}, {substance.physical_form or 'form unknown'}"
        )
    )
    if each.question:
        console.print(Padding(Text(f"To ask: {each.question}", style="yellow"), (0, 0, 0, 2)))
    if each.limits:
        table = _table("Limits, every authority", ("Authority", "Kind", "Limit", "As of", "Source"))
        for limit in each.limits:
            table.add_row(*map(Text, _limit_row(limit)))
        console.print(Padding(table, (0, 0, 0, 2)))
    for argument in each.arguments:
        console.print(
            Padding(Text(f"{argument.about[:1].upper()}{argument.about[1:]}: {argument.words}"), (0, 0, 0, 2))
        )
    if each.methods:
        table = _table("Methods packaged", ("Method", "Sampler", "Flow, mL/min", "Volume, L", "As of"))
        for method in each.methods:
            table.add_row(*map(Text, _method_row(method)))
        console.print(Padding(table, (0, 0, 0, 2)))
    read = {method.method_id for method in each.methods}
    others = [f"{name.issuer} {name.method}" for name in each.named_methods]
    unread = [name for name in dict.fromkeys(others) if name not in read]
    if unread:
        console.print(Padding(Text(f"Also named, not packaged: {', '.join(unread)}."), (0, 0, 0, 2)))
    for caution in each.cautions:
        console.print(Padding(Text(caution, style="yellow"), (0, 0, 0, 2)))
    console.print()


def _limit_row(limit: Limit) -> tuple[str, str, str, str, str]:
    number = limit_words(limit).removeprefix(f"{limit.authority} {limit.limit_type}").strip(": ")
    as_of = limit.source.as_of.isoformat() if limit.source.as_of else "undated"
    edition = "" if limit.source.as_of else limit.source.edition
    remarks = [edition, f"skin: {limit.skin}" if limit.skin else "", limit.note]
    more = "; ".join(filter(None, remarks))
    own = "your own" if limit.source.own else CONFIRM
    return (
        limit.authority,
        limit.limit_type,
        number,
        as_of,
        f"{limit.source.citation}; {own}" + (f"; {more}" if more else ""),
    )


def _method_row(method: MethodRow) -> tuple[str, str, str, str, str]:
    as_of = method.source.as_of.isoformat() if method.source.as_of else "undated"
    flow = _window(method.flow_min_lpm, method.flow_max_lpm, 1000.0)
    return method.method_id, method.sampler, flow, _window(method.volume_min_l, method.volume_max_l, 1.0), as_of


def _window(low: float | None, high: float | None, factor: float) -> str:
    if low is None and high is None:
        return "not stated"
    ends = ["?" if end is None else f"{float(at_decimals(end * factor, 3)):g}" for end in (low, high)]
    return " to ".join(dict.fromkeys(ends))


def _table(title: str, names: tuple[str, ...]) -> Table:
    table = Table(title=title, title_justify="left", title_style="dim", box=None, pad_edge=False, show_edge=False)
    for place, name in enumerate(names):
        table.add_column(name, overflow="fold", no_wrap=place in (0, 1) and name != "Sampler")
    return table
