"""A group judgement as open data: unrounded, with sources."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from lapel.assessment.group import BAND_WORDS, POINTS, Believed, GroupJudgement
from lapel.statistics import NoEstimate

FORMAT = "lapel-judgement"
FORMAT_VERSION = 1


def judgements_as_data(judgements: Sequence[GroupJudgement]) -> dict[str, Any]:
    """
    Lay judgements out as JSON-ready data.

    Returns
    -------
    dict
        Infinite and missing numbers are null; nothing is rounded.
    """
    return {"format": FORMAT, "format_version": FORMAT_VERSION, "groups": [_group(each) for each in judgements]}


def _group(judgement: GroupJudgement) -> dict[str, Any]:
    fitted = judgement.fitted
    return {
        "group": judgement.name,
        "limit": judgement.limit,
        "unit": judgement.unit,
        "results": [
            {"lower": float(low), "upper": _finite(float(high))}
            for low, high in zip(judgement.results.lower, judgement.results.upper, strict=True)
        ],
        "results_in_words": judgement.results.in_words(),
        "tests": [
            {
                "rule": test.rule,
                "outcome": test.outcome,
                "words": test.words,
                "source": test.source,
                "edition": test.edition,
                "source_read": test.source_read,
                "numbers": {name: _finite(float(value)) for name, value in test.numbers.items()},
                "remarks": list(test.remarks),
            }
            for test in judgement.tests
        ],
        "believed": {item.name: _believed(item) for item in judgement.believed},
        "bands_of_95th_percentile": dict(zip(BAND_WORDS, judgement.band_chances, strict=True)),
        "chance_95th_percentile_above_limit": judgement.chance_p95_above,
        "chance_next_shift_above_limit": judgement.chance_next_above,
        "prior": judgement.prior.describe(),
        "prior_decides": judgement.prior_decides,
        "fit": {"reason": fitted.reason}
        if isinstance(fitted, NoEstimate)
        else {
            name: {"estimate": q.estimate, "lower": _finite(q.lower), "upper": _finite(q.upper)}
            for name, q in (("gm", fitted.gm), ("gsd", fitted.gsd), ("mean", fitted.mean), ("p95", fitted.p95))
        },
        "upper_tolerance_limit_95_70": judgement.tolerance_limit,
        "workers": [
            {
                "worker": worker.code,
                "n": worker.n,
                "p95": {"0.05": worker.low, "0.5": worker.middle, "0.95": worker.high},
                "chance_above_limit": worker.chance_above,
            }
            for worker in (judgement.by_worker.workers if judgement.by_worker else ())
        ],
        "notes": list(judgement.notes),
    }


def _believed(item: Believed) -> dict[str, float | None]:
    values = (item.low, item.middle, item.upper70, item.high)
    return {f"{p:g}": _finite(value) for p, value in zip(POINTS, values, strict=True)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
