"""What is said of many in the same words, said once: findings by their rule, verdicts that differ in a number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from lapel.documents.cells import NOTHING
from lapel.documents.compose import VerdictRow
from lapel.documents.compose_findings import FindingRow
from lapel.said import without_stop

_ONE = r"(?<![\w-])(?:\d+(?:\.\d+)?|∞)(?![\w-])"
_NUMBER = re.compile(rf"{_ONE}(?: to {_ONE})?")
"""A number standing alone, or two with “to” between; not the digits of a code such as G-107."""


@dataclass(frozen=True, slots=True)
class FindingGroup:
    """
    One rule's findings of one effect.

    `found` holds the samplers and what was found on them, `named` every sampler once.
    """

    effect: str
    title: str
    wanted: str
    remedy: str
    source: str
    overridden: str
    clause_unread: bool
    found: tuple[tuple[str, str], ...]
    named: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FoldedVerdicts:
    """
    Verdicts of one worker that are explained in the same words but for their numbers.

    `reason`, `settles` and `turning` (the choices that would give another verdict) hold, where numbers differ, those of
    all limits in the order of `limits`.
    """

    worker: str
    shift: str
    verdict: str
    limits: tuple[str, ...]
    reason: str
    about: str
    turning: tuple[str, ...]
    settles: str


def grouped_findings(rows: Sequence[FindingRow]) -> list[FindingGroup]:
    """Put findings together that want the same for the same reason, in the order in which they come."""
    groups: dict[tuple[str, ...], list[FindingRow]] = {}
    for row in rows:
        key = (row.effect, row.title, row.wanted, row.remedy, row.source, row.overridden)
        groups.setdefault(key, []).append(row)
    return [
        FindingGroup(
            effect, title, without_stop(wanted) if wanted.endswith(".") else wanted, remedy, source, overridden,
            rows[0].clause_unread, tuple((row.samplers, row.found) for row in rows),
            tuple(dict.fromkeys(name for row in rows for name in row.named)),
        )
        for (effect, title, wanted, remedy, source, overridden), rows in groups.items()
    ]  # fmt: skip


def folded_verdicts(rows: Sequence[VerdictRow]) -> list[FoldedVerdicts]:
    """Put verdicts of one worker and shift together whose explanations differ in numbers only."""
    groups: dict[tuple[str, ...], list[VerdictRow]] = {}
    for row in rows:
        kind, _, treatment = row.about.partition(", ")
        about = treatment if kind in ("TWA", "action level") else row.about
        said = (row.reason, row.settles, *_turning(row))
        key = (row.worker, row.shift, row.verdict, about, *(_NUMBER.sub("#", text) for text in said))
        groups.setdefault(key, []).append(row)
    return [_folded(key[3], members) for key, members in groups.items()]


def _folded(about: str, members: Sequence[VerdictRow]) -> FoldedVerdicts:
    first = members[0]
    return FoldedVerdicts(
        first.worker,
        first.shift,
        first.verdict,
        _limits(members),
        _merged([row.reason for row in members]),
        about if len(members) > 1 else first.about,
        tuple(_merged(list(texts)) for texts in zip(*map(_turning, members), strict=True)),
        _merged([row.settles for row in members]),
    )


def _turning(row: VerdictRow) -> tuple[str, ...]:
    return tuple(other for other in row.others if f": {row.verdict} (" not in other)


def _limits(members: Sequence[VerdictRow]) -> tuple[str, ...]:
    """Each agent once, with its limits behind it."""
    by_agent: dict[str, list[str]] = {}
    for row in members:
        by_agent.setdefault(row.agent, []).append(row.limit)
    return tuple(
        agent if limits == [NOTHING] else f"{agent}, {' and '.join(limits)}" for agent, limits in by_agent.items()
    )


def _merged(texts: Sequence[str]) -> str:
    """One text for several that differ in numbers only: where they differ, all of them, in order."""
    if len(set(texts)) == 1:
        return texts[0]
    numbers = [_NUMBER.findall(text) for text in texts]
    columns = iter(list(zip(*numbers, strict=True)))

    def listed(_: re.Match[str]) -> str:
        column: tuple[str, ...] = next(columns)
        if len(set(column)) == 1:
            return column[0]
        return ", ".join(column[:-1]) + f" and {column[-1]}"

    return _NUMBER.sub(listed, texts[0])
