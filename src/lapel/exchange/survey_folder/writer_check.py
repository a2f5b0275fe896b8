"""Whether two surveys say the same, whatever files they were read from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from itertools import islice
from typing import Any

from lapel.assessment.inputs import Survey
from lapel.assessment.plan_inputs import PlanInputs

_OF_THE_FILES = frozenset({"origin", "input_sha256", "file", "sha256"})
MOST = 200


def differences(before: Survey, after: Survey) -> tuple[str, ...]:
    """
    Compare two surveys part by part.

    Returns
    -------
    tuple of str
        A line each, at most `MOST`; empty if they are the same but for the places and files they were read from. The
        order of the log's entries, and in which order reports came, says nothing and is not compared; that of
        everything else is.
    """
    found: list[str] = []
    for part in fields(Survey):
        one, other = getattr(before, part.name), getattr(after, part.name)
        if part.name == "entries":
            one, other = ({entry.id: entry for entry in log} for log in (one, other))
        if part.name == "results":
            one, other = (tuple(sorted(results, key=lambda result: result.report)) for results in (one, other))
        for line in _of(part.name, one, other):
            found.append(line)
            if len(found) == MOST:
                return tuple(found)
    return tuple(found)


def plan_differences(before: PlanInputs, after: PlanInputs) -> tuple[str, ...]:
    """Compare what two plans are made from, part by part, as `differences` does."""
    return tuple(islice(_of("plan", before, after), MOST))


def _of(where: str, one: Any, other: Any) -> Iterator[str]:
    name = where.rpartition(".")[2]
    if name in _OF_THE_FILES:
        return
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        yield from _of_mappings(where, one, other)
    elif is_dataclass(one) and type(one) is type(other):
        for part in fields(one):
            yield from _of(f"{where}.{part.name}", getattr(one, part.name), getattr(other, part.name))
    elif isinstance(one, tuple) and isinstance(other, tuple) and one and is_dataclass(one[0]):
        if len(one) != len(other):
            yield f"{where}: {len(one)} before, {len(other)} after"
        for number, (left, right) in enumerate(zip(one, other, strict=False), start=1):
            yield from _of(f"{where} {number}", left, right)
    elif one != other:
        yield f"{where}: {one!r} before, {other!r} after"


def _of_mappings(where: str, one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[str]:
    for key in one.keys() | other.keys():
        if key not in other:
            yield f"{where} {key}: lost"
        elif key not in one:
            yield f"{where} {key}: new"
        else:
            yield from _of(f"{where} {key}", one[key], other[key])
