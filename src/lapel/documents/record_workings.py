"""The worked calculation behind every number: steps numbered through the whole appendix, each printed once."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Any

from lapel.assessment.results import SampleResult, ShiftResult, SurveyAssessment
from lapel.documents.cells import budget_cells
from lapel.documents.render import Picture
from lapel.figures import EARLIER_STEP, Figure, Step, Working, earlier_step, working
from lapel.pictures.budget_bar import budget_bar
from lapel.said import Said, Tell, as_it_is, capital, listed, said


@dataclass(slots=True)
class Appendix:
    """Steps printed so far, by what they say: the same step is printed once and named by its number after that."""

    printed: dict[tuple[Any, ...], int]

    def new_steps(self, worked: Working) -> list[Step]:
        """Return the steps of a calculation that no earlier one showed, under the numbers of the appendix."""
        here: dict[str, int] = {}
        fresh = []
        for step in worked.steps:
            terms = tuple(replace(term, origin=_renumbered(term.origin, here)) for term in step.terms)
            says = (step.name, step.expression, terms, step.result, step.uncertainty, step.source)
            number = self.printed.get(says)
            if number is None:
                number = self.printed[says] = len(self.printed) + 1
                fresh.append(replace(step, number=number, terms=terms))
            here[str(step.number)] = number
        return fresh


def _renumbered(origin: str, here: dict[str, int]) -> str:
    if isinstance(origin, Said) and origin.template == EARLIER_STEP:
        return earlier_step(here[origin.values["n"]])
    return origin


def worked_samples(
    assessment: SurveyAssessment,
    appendix: Appendix,
    *,
    wanted: Collection[str] | None = None,
    tell: Tell = as_it_is,
) -> list[dict[str, Any]]:
    """Return the calculation of every sampler, or of those wanted; agents of one sampler together."""
    by_sampler: dict[str, list[SampleResult]] = {}
    for sample in assessment.samples:
        if wanted is None or sample.sampler in wanted:
            by_sampler.setdefault(sample.sampler, []).append(sample)
    sections = []
    for sampler, samples in by_sampler.items():
        parts = [part for sample in samples if (part := _worked_sample(sample, appendix, tell)) is not None]
        if parts:
            sections.append({"title": sampler, "parts": parts})
    return sections


def worked_shifts(
    assessment: SurveyAssessment,
    appendix: Appendix,
    *,
    wanted: Collection[str] | None = None,
    tell: Tell = as_it_is,
) -> list[dict[str, Any]]:
    """Return the calculation of every shift average, or of those that rest on a sampler wanted."""
    sections: dict[str, dict[str, Any]] = {}
    for result in assessment.shifts:
        if wanted is not None and not any(sample.sampler in wanted for sample in result.samples):
            continue
        for what, average in result.averages.items():
            ends: list[tuple[Sequence[str], Figure]] = [((), average.upper)]
            if average.is_interval:
                ends = [((said("lower end"),), average.lower), ((said("upper end"),), average.upper)]
            titles = [(listed(", ", (result.agent.name, *end, what)), figure) for end, figure in ends]
            parts = [_worked(named, figure, appendix, tell) for named, figure in titles]
            title = f"{result.shift.code}, {result.shift.worker}"
            section = sections.setdefault(result.shift.code, {"title": title, "parts": []})
            section["parts"] += parts
    return list(sections.values())


def samplers_to_look_at(assessment: SurveyAssessment) -> set[str]:
    """Samplers that are not sound, or on which a verdict rests that is not plainly “under”."""
    found = {sample.sampler for sample in assessment.samples if sample.standing.level != "sound"}
    for result in assessment.shifts:
        if not _plainly_under(result):
            found |= {sample.sampler for sample in (*result.samples, *result.left_out)}
    for single in assessment.short_terms:
        if single.not_compared or any(v.comparison.verdict != "under" for v in single.verdicts):
            found.add(single.sample.sampler)
    return found


def _plainly_under(result: ShiftResult) -> bool:
    all_under = all(v.comparison.verdict == "under" and v.robust for v in result.verdicts)
    return bool(result.verdicts) and not result.not_compared and all_under


def _worked_sample(sample: SampleResult, appendix: Appendix, tell: Tell) -> dict[str, Any] | None:
    last = sample.ppm or sample.concentration or sample.mass or sample.volume
    if last is None:
        return None
    return _worked(sample.agent.name, last, appendix, tell)


def _worked(title: str, figure: Figure, appendix: Appendix, tell: Tell) -> dict[str, Any]:
    worked = working(figure)
    return {
        "title": title,
        "steps": [step_cells(step) for step in appendix.new_steps(worked)],
        "budget": budget_picture(title, figure, tell=tell),
    }


def step_cells(step: Step) -> dict[str, Any]:
    """One step as texts."""
    return {
        "number": str(step.number),
        "name": capital(step.name),
        "expression": step.expression,
        "terms": [[term.label, signed(term.text), term.origin] for term in step.terms],
        "result": signed(step.result),
        "uncertainty": step.uncertainty,
        "source": step.source,
    }


def signed(amount: str) -> str:
    """An amount as it follows its letter: “= 5 µg”, or “< 5 µg” where it is a bound already."""
    return amount if amount[:1] in ("<", "≥", "?") else f"= {amount}"


def budget_picture(title: str, figure: Figure, *, tell: Tell = as_it_is) -> Picture | None:
    """Draw the uncertainty budget of a figure in a reader's language; None where nothing is uncertain."""
    cells = budget_cells(figure)
    if not cells:
        return None
    drawn = budget_bar(cells, name=tell(said("What makes {title} uncertain", title=title)), tell=tell)
    return Picture(drawn.svg(), drawn.words)
