"""An assessment as open data: unrounded numbers with units, senses and sources, for other programs and for later."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any, TextIO

from lapel.assessment.inputs import LimitChoice
from lapel.assessment.results import (
    BlankResult,
    LimitVerdict,
    MixtureResult,
    SampleResult,
    ShiftResult,
    ShortTermResult,
    SurveyAssessment,
)
from lapel.figures import Figure
from lapel.hygiene.findings import Standing
from lapel.reference import CONFIRM

FORMAT = "lapel-assessment"
FORMAT_VERSION = 1


def assessment_as_data(assessment: SurveyAssessment) -> dict[str, Any]:
    """
    Lay an assessment out as JSON-ready data.

    Returns
    -------
    dict
        Described field by field in docs/reference/assessment-json.md. Infinite bounds are null; nothing is rounded.
    """
    return assessment_head(assessment) | {name: list(rows) for name, rows in assessment_lists(assessment)}


def assessment_lists(assessment: SurveyAssessment) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
    """Give the lists of `assessment_as_data` one after another, a row at a time: a large survey is never held whole."""
    for name, items, row in _lists(assessment):
        yield name, map(row, items)


def write_assessment_json(assessment: SurveyAssessment, stream: TextIO) -> None:
    """
    Write an assessment as JSON, an item a line, without holding the whole text.

    The same data as `assessment_as_data`; a survey of any size needs little memory for it.
    """
    head = json.dumps(assessment_head(assessment), ensure_ascii=False, indent=1, allow_nan=False)
    stream.write(head.removesuffix("\n}"))
    for name, items, row in _lists(assessment):
        stream.write(f',\n "{name}": [')
        for number, item in enumerate(items):
            stream.write(",\n  " if number else "\n  ")
            stream.write(json.dumps(row(item), ensure_ascii=False, allow_nan=False))
        stream.write("\n ]")
    stream.write("\n}\n")


def _lists(assessment: SurveyAssessment) -> list[tuple[str, Iterable[Any], Callable[[Any], dict[str, Any]]]]:
    return [
        ("samples", assessment.samples, _sample),
        ("shifts", assessment.shifts, _shift),
        ("short_terms", assessment.short_terms, _short_term),
        ("mixtures", assessment.mixtures, _mixture),
        ("blanks", assessment.blanks, _blank),
    ]


def _blank(blank: BlankResult) -> dict[str, Any]:
    return {
        "blank": blank.blank,
        "use": blank.use or "field",
        "medium": blank.medium,
        "lot": blank.lot,
        "masses": {agent: figure_as_data(mass) for agent, mass in blank.masses.items()},
    }


def assessment_head(assessment: SurveyAssessment) -> dict[str, Any]:
    """Everything of `assessment_as_data` but its lists of results."""
    survey = assessment.survey
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "kernel_version": assessment.kernel_version,
        "input_sha256": survey.input_sha256,
        "survey": survey.title,
        "assessed_on": survey.assessed_on.isoformat(),
        "rule_book": {"key": assessment.rule_book.key, "edition": assessment.rule_book.edition},
        "compared_rule_books": [book.key for book in assessment.compared],
        "conflicts": [
            {"about": c.about, "entries": list(c.entry_ids), "words": c.words, "samplers": list(c.samplers)}
            for c in assessment.day.conflicts
        ],
        "unusable_entries": [
            {"entry": u.entry_id, "kind": u.kind, "origin": u.origin, "problems": list(u.problems)}
            for u in assessment.day.unusable
        ],
        "notes": list(assessment.notes),
        "caution": f"limits are as of the day beside each (limit_as_of): {CONFIRM} before acting on a result",
    }


def figure_as_data(figure: Figure | None) -> dict[str, Any] | None:
    """One figure: value, unit, standard uncertainty, sense, and the causes of its uncertainty."""
    if figure is None:
        return None
    return {
        "value": figure.value,
        "unit": figure.unit,
        "uncertainty": figure.uncertainty,
        "sense": figure.sense,
        "budget": [{"cause": row.cause, "uncertainty": row.uncertainty, "share": row.share} for row in figure.budget()],
    }


def standing_as_data(standing: Standing) -> dict[str, Any]:
    """One standing with its findings."""
    return {
        "rule_book": standing.rule_book,
        "level": standing.level,
        "bound": standing.bound,
        "partial": standing.partial,
        "idle_overrides": list(standing.idle_overrides),
        "findings": [
            {
                "rule": finding.rule,
                "title": finding.title,
                "found": finding.found,
                "wanted": finding.wanted,
                "value": _finite(finding.value),
                "effect": finding.effect,
                "remedy": finding.remedy,
                "source": finding.source,
                "certainty": finding.certainty,
                "overridden_by": finding.overridden_by,
                "override_reason": finding.override_reason,
            }
            for finding in standing.findings
        ],
    }


def _sample(sample: SampleResult) -> dict[str, Any]:
    return {
        "sampler": sample.sampler,
        "shift": sample.order.shift,
        "purpose": sample.order.purpose,
        "agent": sample.agent.key,
        "method": sample.method.code,
        "train": sample.run.train if sample.run else None,
        "port": sample.run.port if sample.run else None,
        "minutes": sample.run.clock_min if sample.run else None,
        "segments": [
            {
                "start": part.segment.start.isoformat(),
                "stop": part.segment.stop.isoformat() if part.segment.stop else None,
                "ended_by": part.segment.ended_by,
                "flow_before_lpm": part.before.value if part.before else None,
                "flow_after_lpm": part.after.value if part.after else None,
                "flow_change": part.change,
                "flow_lpm": part.flow.value if part.flow else None,
                "volume_l": part.volume.value if part.volume else None,
            }
            for part in sample.segments
        ],
        "volume": figure_as_data(sample.volume),
        "mass": figure_as_data(sample.mass),
        "blank": figure_as_data(sample.blank),
        "concentration": figure_as_data(sample.concentration),
        "ppm": figure_as_data(sample.ppm),
        "standings": {key: standing_as_data(standing) for key, standing in sample.standings.items()},
        "assumptions": list(sample.assumptions),
    }


def _shift(result: ShiftResult) -> dict[str, Any]:
    return {
        "shift": result.shift.code,
        "worker": result.shift.worker,
        "agent": result.agent.key,
        "samples": [sample.sampler for sample in result.samples],
        "left_out": [sample.sampler for sample in result.left_out],
        "averages": {
            name: {
                "lower": figure_as_data(average.lower),
                "upper": figure_as_data(average.upper),
                "sampled_min": average.sampled_min,
                "unsampled_min": average.unsampled_min,
                "reference_min": average.reference_min,
                "treatment": average.treatment,
            }
            for name, average in result.averages.items()
        },
        "verdicts": [_verdict(verdict) for verdict in result.verdicts],
        "not_compared": [_not_compared(limit, why) for limit, why in result.not_compared],
        "note": result.note,
    }


def _not_compared(limit: LimitChoice, why: str) -> dict[str, Any]:
    return {
        "authority": limit.authority,
        "kind": limit.kind,
        "value": limit.value,
        "unit": limit.unit,
        "limit_source": limit.source,
        "limit_as_of": limit.as_of.isoformat() if limit.as_of else None,
        "why": why,
    }


def _short_term(result: ShortTermResult) -> dict[str, Any]:
    return {
        "shift": result.shift.code,
        "worker": result.shift.worker,
        "sampler": result.sample.sampler,
        "agent": result.sample.agent.key,
        "verdicts": [_verdict(verdict) for verdict in result.verdicts],
        "not_compared": [_not_compared(limit, why) for limit, why in result.not_compared],
        "note": result.note,
    }


def _verdict(verdict: LimitVerdict) -> dict[str, Any]:
    compared = verdict.comparison
    return {
        "authority": verdict.limit.authority,
        "kind": verdict.limit.kind,
        "limit": figure_as_data(verdict.limit_value),
        "limit_as_stated": verdict.limit.value,
        "limit_shortened_for": verdict.shortened_for,
        "limit_source": verdict.limit.source,
        "limit_as_of": verdict.limit.as_of.isoformat() if verdict.limit.as_of else None,
        "binding": verdict.limit.binding,
        "verdict": compared.verdict,
        "ratio_low": compared.ratio_low,
        "ratio_high": _finite(compared.ratio_high),
        "lcl": compared.lcl,
        "ucl": _finite(compared.ucl),
        "confidence": compared.confidence,
        "reason": compared.reason,
        "robust": verdict.robust,
        "other_choices": [
            {
                "choice": other.words,
                "verdict": other.verdict,
                "ratio_low": other.ratio_low,
                "ratio_high": _finite(other.ratio_high),
            }
            for other in verdict.others
        ],
        "note": verdict.note,
        "settled_by": verdict.settles,
        "driven_by": verdict.drives,
    }


def _mixture(result: MixtureResult) -> dict[str, Any]:
    return {
        "shift": result.shift.code,
        "worker": result.shift.worker,
        "authority": result.authority,
        "effect_group": result.effect_group,
        "agents": list(result.agents),
        "missing": list(result.missing),
        "without_limit": list(result.without_limit),
        "shares": dict(result.shares),
        "lower": figure_as_data(result.lower),
        "upper": figure_as_data(result.upper),
        "verdict": result.comparison.verdict,
        "reason": result.comparison.reason,
    }


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
