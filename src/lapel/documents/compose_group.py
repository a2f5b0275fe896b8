"""From a group judgement to words and cells: rounded here, once, for people."""

from __future__ import annotations

from dataclasses import dataclass

from lapel.assessment.group import BAND_WORDS, Believed, GroupJudgement
from lapel.figures import percent, significant
from lapel.figures.rounding import display_unit
from lapel.said import listed, said
from lapel.statistics import NoEstimate, Verdict

OUTCOME_WORDS = {
    "shown": said("shown"),
    "not shown": said("not shown"),
    "above": said("above"),
    "more results": said("more results wanted"),
    "no verdict": said("no verdict"),
}


@dataclass(frozen=True, slots=True)
class TestRow:
    """One test: what it is, its outcome in a word, its sentence, source and remarks."""

    rule: str
    outcome: str
    words: str
    source: str
    remarks: tuple[str, ...]


def title(judgement: GroupJudgement) -> str:
    """Name of the group with its limit."""
    name = judgement.name or "All results"
    return f"{name}, against {judgement.limit_text}"


def sentence(judgement: GroupJudgement) -> str:
    """The one honest sentence: the first test's own words."""
    return judgement.tests[0].words


def belief(judgement: GroupJudgement) -> str:
    """What the results leave to be believed, in a sentence."""
    p95 = judgement.p95
    chance = chance_cell(judgement.chance_p95_above)
    return said(
        "The 95th percentile is as likely below {middle} as above (90 % between {low} and {high}); "
        "the probability that it is above the limit is {chance}, and that the next shift is, {next}.",
        middle=amount(judgement, p95.middle),
        low=amount(judgement, p95.low),
        high=amount(judgement, p95.high),
        chance=chance,
        next=chance_cell(judgement.chance_next_above),
    )


def believed_rows(judgement: GroupJudgement) -> list[tuple[str, ...]]:
    """Each quantity: name, lower 5 %, middle, upper 70 %, upper 95 %."""
    return [
        (item.name, *(_amount(judgement, item, value) for value in (item.low, item.middle, item.upper70, item.high)))
        for item in judgement.believed
    ]


def band_rows(judgement: GroupJudgement) -> list[tuple[str, str, float]]:
    """Each band of the 95th percentile: words, probability as text and as a number for a bar."""
    return [(said(words), chance_cell(p), p) for words, p in zip(BAND_WORDS, judgement.band_chances, strict=True)]


def estimate_rows(judgement: GroupJudgement) -> list[tuple[str, str, str]]:
    """Frequentist estimates: name, estimate with interval, and how it was made; else the reason there is none."""
    fitted = judgement.fitted
    if isinstance(fitted, NoEstimate):
        return [("maximum likelihood", "no estimate", fitted.reason)]
    rows = []
    for name, quantity, is_ratio in (
        ("geometric mean", fitted.gm, False),
        ("geometric standard deviation", fitted.gsd, True),
        ("arithmetic mean", fitted.mean, False),
        ("95th percentile", fitted.p95, False),
    ):
        unit = "" if is_ratio else f" {display_unit(judgement.unit)}"
        low, high = _end(quantity.lower), _end(quantity.upper)
        rows.append((name, f"{significant(quantity.estimate)} ({low} to {high}){unit}", "profile likelihood, 95 %"))
    if judgement.tolerance_limit is not None:
        value = amount(judgement, judgement.tolerance_limit)
        rows.append(("upper tolerance limit", value, "of 95 % of shifts, with 70 % confidence; noncentral t"))
    if judgement.exceedance is not None:
        found = judgement.exceedance
        text = f"{chance_cell(found.estimate)} ({chance_cell(found.lower)} to {chance_cell(found.upper)})"
        rows.append(("share of shifts above the limit", text, "exact limits, 90 %; noncentral t"))
    return rows


def test_rows(judgement: GroupJudgement) -> list[TestRow]:
    """Each test's verdict with its source."""
    return [_test_row(test) for test in judgement.tests]


def shape_lines(judgement: GroupJudgement) -> list[str]:
    """What the shape, the outliers, the split, the trend and the next result say, a sentence each."""
    lines = []
    shape = judgement.shape
    lines.append(f"{_reason(shape)}." if isinstance(shape, NoEstimate) else f"{shape.in_words()}.")
    if not isinstance(judgement.apart, NoEstimate) and judgement.apart.rows:
        lines.append(judgement.apart.remark)
    for found in (judgement.split, judgement.trend):
        if found is not None and not isinstance(found, NoEstimate):
            lines.append(found.remark)
    if judgement.next_one is not None and not isinstance(judgement.next_one, NoEstimate):
        lines.append(judgement.next_one.in_words())
    return lines


def worker_rows(judgement: GroupJudgement) -> list[tuple[str, str, str, str, str]]:
    """Each worker: code, results, middle and 90 % interval of the own 95th percentile, chance above the limit."""
    if judgement.by_worker is None:
        return []
    return [
        (
            worker.code,
            str(worker.n),
            amount(judgement, worker.middle),
            f"{significant(worker.low, 2)} to {significant(worker.high, 2)}",
            chance_cell(worker.chance_above),
        )
        for worker in judgement.by_worker.workers
    ]


def chance_cell(p: float) -> str:
    """A probability for people: never a bare 0 % or 100 % that looks surer than it is."""
    if p < 0.001:
        return said("below 0.1 %")
    if p > 0.999:
        return said("above 99.9 %")
    return percent(p, 2 if 0.01 <= p <= 0.99 else 1 if p < 0.01 else 3)


def amount(judgement: GroupJudgement, value: float) -> str:
    """A concentration in the unit of the limit."""
    return f"{significant(value, 3)} {display_unit(judgement.unit)}"


def _amount(judgement: GroupJudgement, item: Believed, value: float) -> str:
    if item.name.startswith("share"):
        return chance_cell(value)
    return significant(value, 3) if item.is_ratio else amount(judgement, value)


def _end(value: float) -> str:
    return significant(value) if 0.0 < value < 1e300 else "0" if value <= 0.0 else "∞"


def _reason(nothing: NoEstimate) -> str:
    return nothing.reason[:1].upper() + nothing.reason[1:]


def _test_row(test: Verdict) -> TestRow:
    place = listed("; ", (said(test.source), said(test.edition))) if test.edition else said(test.source)
    return TestRow(
        rule=test.rule,
        outcome=OUTCOME_WORDS[test.outcome],
        words=test.words,
        source=place if test.source_read else said("{place} (clause not re-read)", place=place),
        remarks=test.remarks,
    )
