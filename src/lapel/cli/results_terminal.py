"""A laboratory's report on the terminal: how it is read and why, what is asked, what does not agree."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from lapel.assessment.reconcile_matters import Matter
from lapel.cli.tables import Column, fill, print_table
from lapel.cli.terminal import LEVEL_STYLE, MANY, output
from lapel.documents.compose_findings import finding_rows
from lapel.exchange.laboratory.proposal import Proposal, TableProposal
from lapel.exchange.laboratory.role_words import MEANINGS
from lapel.exchange.laboratory.session import ReadReport
from lapel.figures import first_of

FEW_QUESTIONS = 40
_WEIGHT_STYLE = {"settle": "bold red", "ask": "yellow", "note": "dim"}
_WEIGHT_WORDS = {"settle": "To settle", "ask": "To ask", "note": "Note"}


def show_report(read: ReadReport, *, everything: bool = False) -> None:
    """Print a report that was read."""
    console = output()
    proposal = read.proposal
    _head(console, proposal)
    for table in proposal.tables:
        _table(console, table)
    _left_out(console, proposal, everything)
    for remark in proposal.remarks:
        console.print(Text.assemble(("Note: ", "dim"), remark))
    _questions(console, proposal, everything)
    if read.reconciliation is not None:
        _matters(console, read, everything)
    for suspicion in read.suspicions:
        console.print(Text.assemble(("Exchanged? ", "bold red"), f"{suspicion.one} and {suspicion.other}"))
        for words in suspicion.evidence:
            console.print(Padding(words, (0, 0, 0, 4)))
        console.print(
            Padding(
                Text(f"log likelihood ratio {suspicion.log_ratio:.1f}; asked from {suspicion.threshold:.1f}", "dim"),
                (0, 0, 0, 4),
            )
        )  # fmt: skip
    if read.results:
        console.print(Text.assemble(("Note: ", "dim"), NOT_TOLD_APART))
    if read.replaces:
        _changes(console, read)
    if read.assessment is not None:
        _standings(console, read, everything)


NOT_TOLD_APART = (
    "tubes of two workers of one group with none beside them, and of one shift one after the other, cannot be told "
    "apart by any figure if they changed places: no question about it is no proof."
)


def _head(console: Console, proposal: Proposal) -> None:
    file, facts = proposal.file, proposal.facts
    console.print(Text(file.name, style="bold"))
    read_as = ", ".join(f"{name} {value}" for name, value in file.read_as.items())
    console.print(f"{read_as + ' · ' if read_as else ''}SHA-256 {file.sha256[:16]}…")
    for sheet, marks in proposal.marks.items():
        if marks.decimal:
            where = f"Sheet {sheet}: " if sheet else ""
            console.print(
                f"{where}numbers with a decimal {marks.decimal}, as {', '.join(marks.because[:3])} can only be read"
                + (f"; but also {', '.join(marks.against[:3])}" if marks.against else "")
            )
    rows = [
        ("report", facts.code, "code"),
        ("laboratory", facts.laboratory, "laboratory"),
        ("report came on", str(facts.received_on or ""), "received_on"),
        ("samples arrived on", str(facts.samples_received_on or ""), "samples_received_on"),
        (
            "temperature on receipt",
            f"{facts.receipt_temperature} {facts.receipt_temperature_unit}".strip(),
            "receipt_temperature",
        ),
        ("recovery corrected by", facts.recovery_corrected_by, "recovery_corrected_by"),
        ("blank corrected by", facts.blank_corrected_by, "blank_corrected_by"),
    ]
    for name, value, key in rows:
        if value:
            console.print(Text.assemble(f"  {name}: ", (value, "bold"), (f"   {facts.evidence.get(key, '')}", "dim")))
    console.print()


def _table(console: Console, proposal: TableProposal) -> None:
    columns = [
        Column("Column", right=True),
        Column("Heading", wraps=True),
        Column("Holds", wraps=True),
        Column("Unit", spare=1),
        Column("Sure", right=True),
        Column("Why", spare=2, wraps=True),
        Column("First cells", spare=3, wraps=True),
    ]
    for column in proposal.columns:
        if not column.cells and column.role == "other":
            continue
        holds = MEANINGS[column.role] + (f" ({column.agent})" if column.agent else "")
        cells = ", ".join(cell.partition(": ")[2] for cell in column.cells)
        unit = column.unit.name if column.unit else ""
        fill(
            columns,
            str(column.column),
            column.heading or "–",
            holds,
            unit,
            f"{column.confidence:.0%}",
            column.evidence,
            cells[:80],
        )
    rows = proposal.table.header_rows
    lines = f"row {rows[0]}" if len(rows) == 1 else f"rows {rows[0]} to {rows[-1]}"
    sheet = f"sheet {proposal.table.sheet}, " if proposal.table.sheet else ""
    about = f", all about {proposal.agent}" if proposal.agent else ""
    print_table(console, f"How the table is read ({sheet}heading in {lines}{about})", columns)
    console.print()


def _left_out(console: Console, proposal: Proposal, everything: bool) -> None:
    if not proposal.left_out:
        return
    counts = Counter(row.why.partition(":")[0] for row in proposal.left_out)
    console.print("Left out: " + "; ".join(f"{count} × {why}" for why, count in counts.items()) + ".")
    shown = proposal.left_out if everything else proposal.left_out[:12]
    for row in shown:
        console.print(Padding(Text(f"{row.where}: {row.why}: {row.cells}"[:190], style="dim"), (0, 0, 0, 2)))
    if len(shown) < len(proposal.left_out):
        console.print(f"  {len(proposal.left_out) - len(shown)} more; --all shows them.", style="dim")
    console.print()


def _questions(console: Console, proposal: Proposal, everything: bool) -> None:
    if not proposal.questions:
        return
    console.print(Text(f"{len(proposal.questions)} to answer before anything is taken over", style="bold red"))
    for question in proposal.questions if everything else proposal.questions[:FEW_QUESTIONS]:
        console.print(Text.assemble(("? ", "bold red"), question.asks))
        if question.where or question.cells:
            there = " · ".join(cell for cell in question.cells if cell)
            console.print(Padding(Text(f"{question.where}   {there}".strip(), style="dim"), (0, 0, 0, 4)))
        for choice in question.choices:
            means = f"  ({choice.means})" if choice.means else ""
            console.print(Padding(f'--answer "{question.key}={choice.answer}"{means}', (0, 0, 0, 4)))
        if not question.choices:
            console.print(Padding(f'--answer "{question.key}=…"', (0, 0, 0, 4)))
    if not everything and len(proposal.questions) > FEW_QUESTIONS:
        console.print(f"{len(proposal.questions) - FEW_QUESTIONS} more; --all shows them.", style="dim")
    console.print()


def _matters(console: Console, read: ReadReport, everything: bool) -> None:
    reconciled = read.reconciliation
    if reconciled is None:
        return
    hows = Counter(match.how for match in reconciled.matches)
    console.print(
        f"{len(reconciled.in_scope)} samplers and blanks should be in it; {len(reconciled.matches)} are: "
        f"{hows['exact']} by the same name, {hows['confirmed']} confirmed, {hows['near']} nearly. "
        f"{len(read.proposal.results)} results."
    )
    by_kind: dict[tuple[str, str], list[Matter]] = {}
    for matter in reconciled.matters:
        by_kind.setdefault((matter.weight, matter.kind), []).append(matter)
    for (weight, kind), matters in by_kind.items():
        console.print(Text.assemble((f"{_WEIGHT_WORDS[weight]}  ", _WEIGHT_STYLE[weight]), (kind, "bold"),
                                    f"  {len(matters)} ×" if len(matters) > 1 else ""))  # fmt: skip
        _list(console, [_with_answer(matter) for matter in matters], everything)
    if reconciled.near:
        console.print("Near-matches are confirmed one by one as above, or all with --confirm-near.", style="dim")
    console.print()


def _with_answer(matter: Matter) -> str:
    if matter.kind == "sampler nearly":
        printed = matter.found.partition("”")[0].removeprefix("“")
        return f'{matter.found}   --answer "report.samplers.{printed}={matter.sampler}"'
    if matter.kind == "sampler unknown":
        printed = matter.found.partition("”")[0].removeprefix("“")
        ways = f'--answer "report.samplers.{printed}=CODE" or "report.ignored_samplers={printed}"'
        return f"{matter.found}   {ways}"
    return matter.found


def _list(console: Console, lines: Sequence[str], everything: bool) -> None:
    shown = lines if everything else lines[:8]
    for line in shown:
        console.print(Padding(line, (0, 0, 0, 4)))
    if len(shown) < len(lines):
        console.print(f"    {len(lines) - len(shown)} more; --all shows them.", style="dim")


def _changes(console: Console, read: ReadReport) -> None:
    console.print(Text(f"Against report {read.replaces} as it is there: {len(read.changes)} differences", style="bold"))
    _list(console, [change.words() for change in read.changes], everything=len(read.changes) < MANY)
    console.print()


def _standings(console: Console, read: ReadReport, everything: bool) -> None:
    if read.assessment is None:
        return
    mine = {(row.sampler, row.agent) for row in read.results}
    samples = [s for s in read.assessment.samples if (s.sampler, s.agent.key) in mine]
    levels = Counter(sample.standing.level for sample in samples)
    said = Text("Standing of these results: ")
    for level in ("sound", "qualified", "void"):
        if levels[level]:
            said.append(f"{levels[level]} {level}  ", style=LEVEL_STYLE[level])
    console.print(said)
    codes = {sampler for sampler, _ in mine}
    for row in finding_rows(read.assessment):
        named = [name for name in row.samplers.split(", ") if name.split(" ")[0] in codes]
        if not named or (row.effect == "remark" and not everything):
            continue
        style = "bold red" if row.effect == "void" else "yellow"
        console.print(Text.assemble((f"{row.effect}  ", style), (row.title, "bold"), f"  {first_of(named, 8)}"))
        console.print(Padding(f"Found: {row.found}. Do: {row.remedy}", (0, 0, 0, 4)))
