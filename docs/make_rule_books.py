"""
Write `docs/reference/rule-books.md` from the packaged rule books.

Run `python docs/make_rule_books.py` after changing a rule; a test holds that the page is up to date.
"""

from __future__ import annotations

from pathlib import Path

from lapel.hygiene.measures import MEASURES
from lapel.hygiene.measures.measure import shown_number
from lapel.hygiene.rulebook import CERTAINTY_WORDS, CHOICES, Citation, Rule, RuleBook, Tier
from lapel.reference import PACKAGED, rule_book

PAGE = Path(__file__).parent / "reference" / "rule-books.md"

HEAD = """# Rule books

A rule book says, for one authority or one house, which thresholds a sample must meet, what follows where it does not,
and where each threshold is written. What the effects mean is in [Standing of a sample](../science/standing.md); how to
write one for your house in [Write a house rule book](../how-to/write-a-house-rule-book.md). The layout of the files is
published as [JSON Schema](rule-book.schema.json).

**Every number here is a reading made on the day named with the book, and most clauses were read in copies or not at
all. Confirm with the authority before acting on a result.** The marks:

{marks}
- **clause not read**: nobody has read the clause in its current edition; shown beside every finding that rests on it

This page is written from the books themselves (`python docs/make_rule_books.py`). “practice” is the ground the other
books stand on: of those, only what differs is listed.
"""


def citation(where: Citation) -> str:
    """Source and its mark, for a cell."""
    return f"{where} ({where.certainty})".replace("|", "/")


def step(rule: Rule, tier: Tier) -> str:
    """One tier as a cell line: what crosses it and what follows."""
    unit = MEASURES[rule.measure].unit
    crossed = "where it is so" if tier.value is None else f"{tier.bound} {shown_number(tier.value, unit)}"
    if tier.bound == "not recorded":
        crossed = "where not recorded"
    own = f" [{citation(tier.citation)}]" if tier.citation else ""
    return f"{crossed}: **{tier.effect}**{own}"


def rule_row(rule: Rule) -> str:
    """One rule as a row of the table."""
    basis = rule.wanted.replace("{basis}", "the flow named by the choice `change_basis`")
    first = rule.tiers[0].value if rule.tiers else None
    wanted = basis.replace("{limit}", "" if first is None else shown_number(first, MEASURES[rule.measure].unit))
    tiers = [step(rule, tier) for tier in (*rule.tiers, *([rule.unrecorded] if rule.unrecorded else []))]
    return f"| `{rule.id}` | {wanted} | {'; '.join(tiers)} | {citation(rule.citation)} |"


def book_section(book: RuleBook, ground: RuleBook | None) -> str:
    """One book: who it is, its choices and its rules, of a book on a ground only what differs."""
    choices = [c for name, c in book.choices.items() if ground is None or ground.choices[name] != c]
    below = {rule.id: rule for rule in ground.rules} if ground else {}
    rules = [rule for rule in book.rules if below.get(rule.id) != rule]
    gone = [rule_id for rule_id in below if rule_id not in {rule.id for rule in book.rules}]
    lines = [f"## {book.title} (`{book.key}`)", "", f"{book.authority}. Reading of {book.edition}. {book.source}.", ""]
    lines += [f"> {book.caution}", "", "| Choice | Value | Words | Source |", "|---|---|---|---|"]
    for choice in choices:
        value = ", ".join(choice.value) or "none" if isinstance(choice.value, tuple) else choice.value
        lines.append(f"| `{choice.name}` | {value} | {choice.words} | {citation(choice.citation)} |")
    lines += ["", "| Rule | Wants | Otherwise | Source |", "|---|---|---|---|"]
    lines += [rule_row(rule) for rule in rules]
    if gone:
        lines += ["", f"Left out: {', '.join(f'`{rule_id}`' for rule_id in gone)}."]
    return "\n".join(lines)


def page() -> str:
    """Return the whole page."""
    marks = "\n".join(f"- **{mark}**: {words}" for mark, words in CERTAINTY_WORDS.items())
    ground = rule_book("practice")
    parts = [HEAD.format(marks=marks)]
    parts += [book_section(rule_book(key), None if key == ground.key else ground) for key in PACKAGED]
    parts.append("## Choices a book makes\n\n| Choice | What it decides | Values |\n|---|---|---|")
    rows = [
        f"| `{name}` | {spec.words} | {', '.join(spec.allowed) or ('words' if spec.kind == 'words' else 'a number')} |"
        for name, spec in CHOICES.items()
    ]
    parts[-1] += "\n" + "\n".join(rows)
    parts.append("## Measures a rule can ask\n\n| Measure | Unit | What is measured |\n|---|---|---|")
    parts[-1] += "\n" + "\n".join(
        f"| `{measure.key}` | {measure.unit or 'a bare number'} | {measure.words} |"
        for measure in sorted(MEASURES.values(), key=lambda measure: measure.key)
    )
    return "\n\n".join(parts) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
