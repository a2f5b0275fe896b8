"""What a test says, in words that claim no more than it shows, with the rule and the edition that make it say so."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from lapel.statistics.sentences import Sentence, said

__all__ = ["Outcome", "Verdict"]

Outcome = Literal["shown", "not shown", "above", "more results", "no verdict"]


@dataclass(frozen=True)
class Verdict:
    """
    Outcome of a test of a group or a worker against a limit.

    Parameters
    ----------
    outcome : {"shown", "not shown", "above", "more results", "no verdict"}
        ``shown``: the test's own criterion is met. ``not shown``: it is not met, which proves nothing of
        the opposite. ``above``: a result decides against. ``more results``: the rule asks for more.
        ``no verdict``: the test's conditions fail; `words` says which.
    words : str
        One or two honest sentences for a report.
    rule : str
        The criterion, in words.
    source, edition : str
        Document with clause, and its edition.
    source_read : bool
        Whether the clause itself was read by the authors of this program; if not, it is known from
        others' quotation and must be checked before it is shown as a rule.
    numbers : mapping of str to float
        What the test computed, by name.
    remarks : tuple of str
        Limitations, treatment of non-detects, what to look at next.
    """

    outcome: Outcome
    words: str
    rule: str
    source: str
    edition: str
    source_read: bool = False
    numbers: Mapping[str, float] = field(default_factory=dict)
    remarks: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.words


EN_689 = "EN 689:2018+AC:2019"
"""Document and edition of the two tests of a group."""

EN_689_NOT_READ = said("The clause is known from others' quotation; check it in the standard before citing it")


_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def counted(n: int, noun: str = "result") -> Sentence:
    """A count as in running text: "six results", "13 results", "one result"."""
    if n < 2:
        return said(f"{_SMALL[n]} {noun}" if n else f"no {noun}s")
    return said(f"{{number}} {noun}s", number=said(_SMALL[n]) if n < len(_SMALL) else str(n))


def percent(share: float) -> str:
    """A share as a percentage with two significant digits: "70 %", "0.72 %", "3.5 %"."""
    return f"{float(f'{100.0 * share:.2g}'):g} %"


def these(n: int) -> Sentence:
    """Start of a sentence about the results: "These six results", "This one result"."""
    return said("This one result") if n == 1 else said("These {results}", results=counted(n))
