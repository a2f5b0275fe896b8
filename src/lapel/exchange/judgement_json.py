"""A group judgement as open data: unrounded, with sources."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from lapel.assessment.group import BAND_WORDS, POINTS, Believed, GroupJudgement, WorkersView
from lapel.statistics import Fit, NoEstimate, Verdict

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
    error_cv = judgement.error_cv
    return {
        "group": judgement.name,
        "limit": judgement.limit,
        "unit": judgement.unit,
        "results": _results(judgement),
        "error_cv": list(error_cv) if isinstance(error_cv, tuple) else error_cv,
        "results_in_words": judgement.results.in_words(),
        "tests": [_test(test) for test in judgement.tests],
        "believed": {item.name: _believed(item) for item in judgement.believed},
        "bands_of_95th_percentile": dict(zip(BAND_WORDS, judgement.band_chances, strict=True)),
        "chance_95th_percentile_above_limit": judgement.chance_p95_above,
        "chance_next_shift_above_limit": judgement.chance_next_above,
        "prior": judgement.prior.describe(),
        "prior_decides": judgement.prior_decides,
        "fit": _fit(judgement.fitted),
        "upper_tolerance_limit_95_70": judgement.tolerance_limit,
        "exceedance": _plain(judgement.exceedance),
        "shape": _plain(judgement.shape),
        "outliers": _plain(judgement.apart),
        "two_populations": _plain(judgement.split),
        "trend_a_year": _plain(judgement.trend),
        "next_result": _plain(judgement.next_one),
        "workers": _workers(judgement.by_worker),
        "between_workers": _between_workers(judgement.by_worker),
        "notes": list(judgement.notes),
    }


def _results(judgement: GroupJudgement) -> list[dict[str, Any]]:
    """Bounds, worker and day of every row; workers and days may not have been given at all."""
    n = judgement.results.n
    bounds = zip(judgement.results.lower, judgement.results.upper, strict=True)
    workers, days = judgement.workers or ("",) * n, judgement.days or (None,) * n
    return [
        {
            "lower": float(low),
            "upper": _finite(float(high)),
            "worker": worker,
            "date": day.isoformat() if day else None,
        }
        for (low, high), worker, day in zip(bounds, workers, days, strict=True)
    ]


def _test(test: Verdict) -> dict[str, Any]:
    return {
        "rule": test.rule,
        "outcome": test.outcome,
        "words": test.words,
        "source": test.source,
        "edition": test.edition,
        "source_read": test.source_read,
        "numbers": {name: _finite(float(value)) for name, value in test.numbers.items()},
        "remarks": list(test.remarks),
    }


def _fit(fitted: Fit | NoEstimate) -> dict[str, Any]:
    if isinstance(fitted, NoEstimate):
        return {"reason": fitted.reason}
    return {
        name: {"estimate": q.estimate, "lower": _finite(q.lower), "upper": _finite(q.upper)}
        for name, q in (("gm", fitted.gm), ("gsd", fitted.gsd), ("mean", fitted.mean), ("p95", fitted.p95))
    }


def _workers(by_worker: WorkersView | None) -> list[dict[str, Any]]:
    return [
        {
            "worker": worker.code,
            "n": worker.n,
            "p95": {"0.05": worker.low, "0.5": worker.middle, "0.95": worker.high},
            "chance_above_limit": worker.chance_above,
        }
        for worker in (by_worker.workers if by_worker else ())
    ]


def _between_workers(by_worker: WorkersView | None) -> dict[str, Any] | None:
    if by_worker is None:
        return None
    return {
        "share_of_variance": _believed(by_worker.between_share),
        "chance_a_worker_is_above": by_worker.chance_worker_above,
        "chance_of_not_one_group": by_worker.not_one_group,
        "words": list(by_worker.words),
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
