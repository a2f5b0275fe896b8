"""What the scope page shows of what was looked up, as cells."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from lapel.assessment.scope import AgentScope, is_law, limit_words, standing_words
from lapel.assessment.scope import Law as Law
from lapel.documents.compose_plan import from_to
from lapel.exchange.survey_folder.packaged import limit_key
from lapel.office.scope.taking import is_usable, medium_of, suggested
from lapel.reference import CONFIRM, Limit, MethodRow


def found_cells(scopes: Sequence[AgentScope], chosen: Collection[str], here: Law) -> list[dict[str, Any]]:
    """Each line that was looked up: the substance with its limits and methods, or the question it leaves."""
    return [_line(number, each, chosen, here) for number, each in enumerate(scopes)]


def _line(number: int, each: AgentScope, chosen: Collection[str], here: Law) -> dict[str, Any]:
    substance = each.substance
    candidates = {found.substance.cas: found for found in each.candidates}
    read = {method.method_id for method in each.methods}
    return {
        "number": number,
        "asked": each.asked.text,
        "question": each.question,
        "candidates": [
            {"cas": cas, "name": found.substance.name, "matched": found.by} for cas, found in candidates.items()
        ],
        "substance": substance,
        "is_in_survey": substance is not None and substance.cas in chosen,
        "limits": [_limit(limit, suggested(each), here) for limit in each.limits],
        "arguments": [{"about": argument.about.capitalize(), "words": argument.words} for argument in each.arguments],
        "methods": [_method(method, method is _first(each.methods)) for method in each.methods],
        "named": ", ".join(
            dict.fromkeys(
                f"{name.issuer} {name.method}"
                for name in each.named_methods
                if f"{name.issuer} {name.method}" not in read
            )
        ),
        "cautions": each.cautions,
    }


def _limit(limit: Limit, ticked: Collection[str], here: Law) -> dict[str, Any]:
    usable = is_usable(limit)
    key = limit_key(limit) if usable else ""
    return {
        "key": key,
        "words": limit_words(limit).removeprefix(f"{limit.authority} "),
        "authority": limit.authority,
        "is_law": is_law(limit, here),
        "standing": standing_words(limit),
        "note": limit.note,
        "source": limit.source.citation,
        "as_of": limit.source.as_of,
        "confirm": CONFIRM,
        "is_ticked": key in ticked,
    }


def _first(methods: Sequence[MethodRow]) -> MethodRow | None:
    """The method that is ticked before a person looks: the first whose flow window was read, or the first."""
    read = [row for row in methods if row.flow_min_lpm is not None and row.volume_max_l is not None]
    return next(iter((*read, *methods)), None)


def _method(row: MethodRow, is_ticked: bool) -> dict[str, Any]:
    low, high = row.flow_min_lpm, row.flow_max_lpm
    return {
        "id": row.method_id,
        "medium": medium_of(row),
        "flow": _window(low, high, factor=1000, unit="mL/min"),
        "volume": _window(row.volume_min_l or 0, row.volume_max_l, factor=1, unit="L"),
        "detection": "" if row.detection_limit_ug is None else f"{row.detection_limit_ug:g} µg printed as detectable",
        "share": row.can_share_with,
        "is_ticked": is_ticked,
    }


def _window(low: float | None, high: float | None, *, factor: float, unit: str) -> str:
    return "not seen" if low is None or high is None else f"{from_to(f'{low * factor:g}', f'{high * factor:g}')} {unit}"
