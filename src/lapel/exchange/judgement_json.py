"""A group judgement as open data: unrounded, with sources."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
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
            {
                "lower": float(low),
                "upper": _finite(float(high)),
                "worker": judgement.workers[row] if row < len(judgement.workers) else "",
                "date": day.isoformat() if row < len(judgement.days) and (day := judgement.days[row]) else None,
            }
            for row, (low, high) in enumerate(zip(judgement.results.lower, judgement.results.upper, strict=True))
        ],
        "error_cv": list(cv) if isinstance(cv := judgement.error_cv, tuple) else cv,
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
        "exceedance": None
        if (share := judgement.exceedance) is None
        else {
            "estimate": share.estimate,
            "lower": share.lower,
            "upper": share.upper,
            "confidence": share.confidence,
            "remark": share.remark,
        },
        "shape": _plain(judgement.shape),
        "outliers": _plain(judgement.apart),
        "two_populations": _plain(judgement.split),
        "trend_a_year": _plain(judgement.trend),
        "next_result": _plain(judgement.next_one),
        "workers": [
            {
                "worker": worker.code,
                "n": worker.n,
                "p95": {"0.05": worker.low, "0.5": worker.middle, "0.95": worker.high},
                "chance_above_limit": worker.chance_above,
            }
            for worker in (judgement.by_worker.workers if judgement.by_worker else ())
        ],
        "between_workers": None
        if judgement.by_worker is None
        else {
            "share_of_variance": _believed(judgement.by_worker.between_share),
            "chance_a_worker_is_above": judgement.by_worker.chance_worker_above,
            "chance_of_not_one_group": judgement.by_worker.not_one_group,
            "words": list(judgement.by_worker.words),
        },
        "notes": list(judgement.notes),
    }


def _plain(found: Any) -> dict[str, Any] | None:
    """A finding's own fields by their names; `reason` alone where nothing could be estimated."""
    if found is None:
        return None
    return {name: _item(value) for name, value in asdict(found).items()}


def _item(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_item(each) for each in value]
    return _finite(value) if isinstance(value, float) else value


def _believed(item: Believed) -> dict[str, float | None]:
    values = (item.low, item.middle, item.upper70, item.high)
    return {f"{p:g}": _finite(value) for p, value in zip(POINTS, values, strict=True)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
