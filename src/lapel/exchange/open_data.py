"""Results as tables: a row a sample and agent, a row a comparison with a limit; unrounded, and as printed."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Sequence
from io import StringIO

from lapel.assessment.results import LimitVerdict, SampleResult, ShiftResult, ShortTermResult, SurveyAssessment
from lapel.figures import Figure, display_unit, shown

SAMPLE_COLUMNS = (
    "sampler", "shift", "worker", "purpose", "agent", "method", "standing", "findings",
    "minutes", "volume_l", "mass_ug", "mass_sense", "blank_ug",
    "concentration_mg_m3", "concentration_sense", "concentration_u_mg_m3", "concentration_shown", "ppm", "ppm_shown",
    "assumed",
)  # fmt: skip

VERDICT_COLUMNS = (
    "shift", "worker", "agent", "samplers", "authority", "kind", "limit", "limit_unit", "limit_shown", "as_of",
    "source",
    "lower", "upper", "unit", "lower_shown", "upper_shown", "share_low", "share_high", "lcl_share", "ucl_share",
    "verdict", "robust", "reason", "settled_by",
)  # fmt: skip


def samples_table(assessment: SurveyAssessment) -> str:
    """Every sample and agent as CSV; masses are after the blank where it was subtracted here."""
    workers = {code: shift.worker for code, shift in assessment.survey.shifts.items()}
    return _csv(SAMPLE_COLUMNS, (_sample(result, workers) for result in assessment.samples))


def verdicts_table(assessment: SurveyAssessment) -> str:
    """Every comparison with a limit as CSV, of shifts, then of short-term samples; what could not be compared too."""
    return _csv(VERDICT_COLUMNS, _verdicts(assessment))


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    text = StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()


def _sample(result: SampleResult, workers: dict[str, str]) -> tuple[str, ...]:
    found = result.concentration
    return (
        result.sampler,
        result.order.shift,
        workers.get(result.order.shift, ""),
        result.order.purpose,
        result.agent.key,
        result.method.code,
        result.standing.level,
        "; ".join(finding.rule for finding in result.standing.findings),
        _number(result.run.clock_min if result.run else None),
        _value(result.volume),
        _value(result.mass),
        result.mass.sense if result.mass else "",
        _value(result.blank),
        _value(found),
        found.sense if found else "",
        _number(found.uncertainty if found else None),
        _shown(found),
        _value(result.ppm),
        _shown(result.ppm),
        "; ".join(result.assumptions),
    )


def _verdicts(assessment: SurveyAssessment) -> Iterator[tuple[str, ...]]:
    for shift in assessment.shifts:
        samplers = " ".join(sample.sampler for sample in shift.samples)
        who = (shift.shift.code, shift.shift.worker, shift.agent.key, samplers)
        for verdict in shift.verdicts:
            average = verdict.average
            ends = (average.lower, average.upper) if average else (None, None)
            yield _verdict(*who, verdict, *ends)
        yield from _not_compared(shift, *who)
    for short in assessment.short_terms:
        sample = short.sample
        who = (short.shift.code, short.shift.worker, sample.agent.key, sample.sampler)
        for verdict in short.verdicts:
            measured = sample.in_unit(verdict.limit.unit)
            yield _verdict(*who, verdict, measured, measured)
        yield from _not_compared(short, *who)


def _not_compared(result: ShiftResult | ShortTermResult, *who: str) -> Iterator[tuple[str, ...]]:
    """Give a row to each limit nothing could be held against, or one without a limit where there is no verdict."""
    silent = [(None, result.note)] if not result.verdicts and not result.not_compared else []
    for limit, why in (*result.not_compared, *silent):
        stated = (
            ("",) * 7
            if limit is None
            else (
                limit.authority,
                limit.kind,
                _number(limit.value),
                limit.unit,
                f"{limit.value:g} {display_unit(limit.unit)}",
                limit.as_of.isoformat() if limit.as_of else "",
                limit.source,
            )
        )
        yield (*who, *stated, *("",) * 9, "cannot tell", "", f"Not compared: {why}.", "")


def _verdict(
    shift: str,
    worker: str,
    agent: str,
    samplers: str,
    verdict: LimitVerdict,
    lower: Figure | None,
    upper: Figure | None,
) -> tuple[str, ...]:
    limit, compared = verdict.limit_value, verdict.comparison
    return (
        shift,
        worker,
        agent,
        samplers,
        verdict.limit.authority,
        verdict.limit.kind,
        _value(limit),
        limit.unit,
        _shown(limit),
        verdict.limit.as_of.isoformat() if verdict.limit.as_of else "",
        verdict.limit.source,
        _value(lower),
        _value(upper),
        upper.unit if upper else "",
        _shown(lower),
        _shown(upper),
        _number(compared.ratio_low),
        _number(compared.ratio_high),
        _number(compared.lcl),
        _number(compared.ucl),
        compared.verdict,
        "yes" if verdict.robust else "no",
        compared.reason,
        verdict.settles,
    )


def _value(figure: Figure | None) -> str:
    return "" if figure is None else _number(figure.value)


def _shown(figure: Figure | None) -> str:
    return "" if figure is None or not math.isfinite(figure.value) else shown(figure)


def _number(value: float | None) -> str:
    """Write all digits; empty where there is none or no end."""
    return "" if value is None or not math.isfinite(value) else repr(float(value))
