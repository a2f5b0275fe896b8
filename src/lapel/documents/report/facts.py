"""What a report says beside the assessment: its author's own texts, the judged groups, what is to be done by whom."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from lapel.assessment.follow_up import RUNGS, JudgedGroup, Rung
from lapel.assessment.notification import Clock
from lapel.documents.render import Picture
from lapel.said import listed, said

OWN_TEXTS = ("process", "controls", "strategy", "weak")
"""Parts of a report only its author can write; each is a key of `ReportFacts.texts`."""


@dataclass(frozen=True, slots=True)
class Recommendation:
    """One thing to do; `is_proposal` until somebody has made it theirs."""

    rung: Rung
    action: str
    reason: str = ""
    owner: str = ""
    by: date | None = None
    is_proposal: bool = True


@dataclass(frozen=True, slots=True)
class ReportFacts:
    """
    What the assessment does not know.

    Attributes
    ----------
    texts : mapping of str to str
        The author's own words, by `OWN_TEXTS`.
    recommendations : tuple of Recommendation
        What is to be done; the proposals (`proposed`), if nobody has written any.
    clocks : tuple of Clock
        When workers must be told.
    """

    texts: Mapping[str, str] = field(default_factory=dict)
    recommendations: tuple[Recommendation, ...] = ()
    clocks: tuple[Clock, ...] = ()
    dated: date | None = None
    logo: Picture | None = None


def proposed(groups: Sequence[JudgedGroup]) -> tuple[Recommendation, ...]:
    """Give the proposals of all groups, each once, from the strongest control down."""
    found: dict[tuple[Rung, str], list[str]] = {}
    dates: dict[tuple[Rung, str], date | None] = {}
    for group in groups:
        if group.follow_up is None:
            continue
        for proposal in group.follow_up.proposals:
            key = (proposal.rung, proposal.words)
            where = listed("", (group.question.group.name, ", ", group.question.agent.name, ": ", proposal.reason))
            found.setdefault(key, []).append(where)
            again = proposal.words.startswith("Sample again: ") and bool(proposal.source)
            dates.setdefault(key, group.follow_up.again_on if again else None)
    ordered = sorted(found.items(), key=lambda item: RUNGS.index(item[0][0]))
    return tuple(
        Recommendation(rung, words, _reasons(reasons), by=dates[rung, words]) for (rung, words), reasons in ordered
    )


def _reasons(reasons: Sequence[str], most: int = 3) -> str:
    distinct = list(dict.fromkeys(reasons))
    more = said("; and {n} more", n=len(distinct) - most) if len(distinct) > most else ""
    return listed("; ", distinct[:most]) + more
