"""Packaged limits as rows of limits.csv, by the key a survey names them with."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from lapel.reference.rows import Limit

_KINDS = {
    "TWA-8h": "TWA",
    "TWA-10h": "TWA",
    "STEL-15min": "STEL",
    "STEL-60min": "STEL",
    "ceiling": "ceiling",
    "action-level": "action level",
}
"""Kinds a survey can be judged by; a peak is judged by nobody here, and is not offered."""


def limit_key(limit: Limit) -> str:
    """
    Return the key of a packaged limit, as in ``US-OSHA/108-88-3/TWA-8h/200ppm``.

    The number is part of it: should a later edition print another one, an old key is known no more, and nobody's limit
    changes unseen.
    """
    fraction = "/" + re.sub(r"\W+", "-", limit.fraction).strip("-") if limit.fraction else ""
    return f"{limit.authority}/{limit.cas}/{limit.limit_type}/{limit.value:g}{limit.unit}{fraction}"


def packaged_limits() -> Mapping[str, Mapping[str, Any]]:
    """Return the packaged limits by key; each has the columns of limits.csv, and the substance's CAS number."""
    from lapel.reference import library  # opened only for a survey that names one

    rows: dict[str, dict[str, Any]] = {}
    for limit in filter(_usable, library().limits):
        row = _as_row(limit)
        same = rows.setdefault(limit_key(limit), row)
        if same is not row:  # one number printed for two forms of a substance: the note names both
            same["note"] = f"{same['note']}; also: {limit.note}"
    return rows


def _usable(limit: Limit) -> bool:
    return limit.limit_type in _KINDS and limit.value is not None and limit.unit in ("ppm", "mg/m3")


def _as_row(limit: Limit) -> dict[str, Any]:
    remarks = [limit.note, f"skin notation: {limit.skin}" if limit.skin else "", limit.fraction]
    return {
        "cas": limit.cas,
        "authority": limit.authority,
        "kind": _KINDS[limit.limit_type],
        "value": limit.value,
        "unit": limit.unit,
        "averaging_min": limit.averaging_min,
        "source": limit.source.citation,
        "as_of": limit.source.as_of,
        "binding": "law" in limit.jurisdiction,
        "note": "; ".join(["confirm with the authority", *filter(None, remarks)]),
    }
