"""Every text of a verdict is told in Spanish with the numbers it has in English, whatever choice, gap or shift."""

import itertools
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

import pytest

from lapel.assessment.inputs import FindingOverride, Survey
from lapel.assessment.long_shift import shortened_for, stated_for_long_days
from lapel.assessment.results import MixtureResult
from lapel.assessment.shift_time import worst_hours
from lapel.assessment.survey import assess
from lapel.documents.compose import mixture_verdict_row
from lapel.documents.wording import wording
from lapel.figures import reading
from lapel.hygiene import compare
from lapel.hygiene.decision import partial_period_decision
from lapel.hygiene.grab_samples import many_grab_samples_decision
from lapel.hygiene.shift import time_weighted_average
from lapel.hygiene.short_term import ceiling_comparison, short_term_comparison
from lapel.hygiene.windows import PortRun
from tests.assessment.one_worker import OneWorker, Tube

SPANISH = wording("es")
FLOW_LPM = 0.099
ENGLISH_WORDS = re.compile(
    r"(?<![\w-])(?:the|of|and|to|is|are|with|for|over|under|above|below|cannot|not|limit|exposure|index|sample|shift|week|"
    r"time|least|most|counted|hours?|minutes?|flow|blank|void|air|stopped|shortened|mean|another)(?![\w-])",
    re.IGNORECASE,
)
NUMBER = re.compile(r"\d+(?:\.\d+)?")
REASON = "se fue a casa"
"""What a person wrote: it stays."""


def is_told(text: str) -> bool:
    """Whether nothing English is left in a text, and its numbers are the same."""
    spanish = SPANISH.told(text)
    return not ENGLISH_WORDS.search(spanish) and sorted(NUMBER.findall(text)) == sorted(NUMBER.findall(spanish))


def exposure(value: float, uncertainty: float = 0.0, sense: str = "exactly"):
    return reading(value, "mg/m3", name="exposure", uncertainty=uncertainty).bounding(sense)


# Against a limit

OUTCOMES: dict[str, Callable[[], object]] = {
    "under": lambda: compare(exposure(0.5), exposure(0.5), 1.0),
    "over": lambda: compare(exposure(2.0), exposure(2.0), 1.0),
    "nearly under": lambda: compare(*[exposure(0.98, 0.05)] * 2, 1.0),
    "nearly over": lambda: compare(*[exposure(1.02, 0.05)] * 2, 1.0),
    "interval": lambda: compare(exposure(0.5), exposure(1.5), 1.0),
    "least value": lambda: compare(*[exposure(0.7, sense="at least")] * 2, 1.0),
    "least value near the limit": lambda: compare(*[exposure(1.05, 0.05, "at least")] * 2, 1.0),
    "unbounded": lambda: compare(*[exposure(0.7, sense="unknown")] * 2, 1.0),
}


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_why_a_verdict_is_what_it_is_is_told(outcome: str):
    compared = OUTCOMES[outcome]()
    assert is_told(compared.reason)
    assert is_told(compared.why("index"))


@pytest.mark.parametrize("outcome", OUTCOMES)
def test_of_an_index_the_same_is_said_as_of_an_exposure(outcome: str):
    compared = OUTCOMES[outcome]()
    said_of_exposure = compared.reason
    for words, instead in ((" times the limit", ""), (" of the limit", ""), (" of it)", ")")):
        said_of_exposure = said_of_exposure.replace(words, instead)
    assert compared.why("index") == said_of_exposure.replace("exposure", "index").replace("the limit", "1")


@pytest.mark.parametrize("missing", [(), ("Styrene",), ("Styrene", "Cumene")])
def test_who_is_not_in_a_sum_is_told(missing: tuple[str, ...]):
    assessed = assess(OneWorker([Tube("L-1", 0, 480, 10.0)]).survey())
    shift = assessed.shifts[0].shift
    compared = OUTCOMES["least value"]()
    shares = {"Toluene": 0.6, "n-Hexane": 0.4}
    index = exposure(0.7, sense="at least")
    mixture = MixtureResult(
        shift, "US-NIOSH", "liver", ("Toluene", "n-Hexane"), shares, index, index, compared, missing, ("2-Butanone",)
    )
    row = mixture_verdict_row(assessed, mixture)
    named = ", ".join(missing)
    lacking = f" Not in the sum, for want of a result: {named}." if missing else ""
    assert row.reason == (
        "What was measured is 0.70 and only a least value: nothing shows that the index was not higher."
        f"{lacking} Not in the sum, for no long-term limit of US-NIOSH is stated for it: 2-Butanone."
    )
    assert row.settles == (f"a result for {named}" if missing else "")
    assert is_told(row.reason)
    assert is_told(row.settles)
    assert replace(mixture, comparison=OUTCOMES["over"]()).settles == ""


def test_cautions_are_told():
    half_sampled = partial_period_decision([exposure(0.3, 0.02)], [300], 0.4, cv_total=0.1)
    assert half_sampled.reason.endswith("The 180 min without a sample count as no exposure.")
    assert is_told(half_sampled.reason)
    assert is_told(many_grab_samples_decision([0.1 + 0.01 * n for n in range(30)], 1.0).reason)


@pytest.mark.parametrize(("run_min", "around"), list(itertools.product((10, 15, 15.5), ("unknown", "no exposure"))))
def test_what_a_short_sample_speaks_of_is_told(run_min: float, around: str):
    assert is_told(short_term_comparison(exposure(0.3), run_min, 0.4, around=around).reason)
    assert is_told(ceiling_comparison(exposure(0.3), run_min, 0.4).reason)


# The average

UNSAMPLED = list(itertools.product(("zero", "mean", "highest"), ("", REASON)))


@pytest.mark.parametrize(("unsampled", "reason"), UNSAMPLED)
def test_how_unsampled_time_was_counted_is_told(unsampled: str, reason: str):
    average = time_weighted_average([(0.5, 443)], unsampled=unsampled, unsampled_reason=reason)
    assert average.treatment.startswith("37 min without a sample counted ")
    assert is_told(average.treatment)
    assert (f"({REASON})" in SPANISH.told(average.treatment)) == bool(reason)


@pytest.mark.parametrize(("unsampled", "reason"), UNSAMPLED)
def test_how_it_was_counted_among_the_worst_hours_is_told(unsampled: str, reason: str):
    average = worst_hours([PortRun(exposure(0.5), 0.0, 563.0, "L-1")], 480.0, 600.0, 37.0, unsampled, reason)
    assert average.treatment == f"the worst 8 h of the shift in total; {average.unsampled_words}"
    assert is_told(average.treatment)


def test_a_whole_shift_is_told():
    assert SPANISH.told(time_weighted_average([(0.5, 480)]).treatment) == "se midió todo el turno"


# Long shifts


@pytest.mark.parametrize("own_model", [None, "brief-scala-day"])
@pytest.mark.parametrize("hours_per_week", [40.0, 60.0])
def test_why_a_limit_stands_on_a_long_shift_is_told(own_model: str | None, hours_per_week: float):
    survey = OneWorker([Tube("L-1", 0, 600, 10.0)], shift_min=600).survey()
    limit = replace(survey.limits[0], averaging_min=600.0, extended_shift_model=own_model)
    shift = replace(survey.shifts["S-1"], hours_per_week=hours_per_week)
    left = stated_for_long_days(limit, shift, "brief-scala-day")
    assert is_told(left.note)
    assert all(is_told(words) and is_told(settled) for words, _, settled in left.others)
    assert bool(left.others) == (hours_per_week > 40.0)


@pytest.mark.parametrize("model", ["brief-scala-day", "brief-scala-week", "proportional-day", "proportional-week"])
@pytest.mark.parametrize(("hours", "hours_per_week"), [(10, 60.0), (10, 30.0), (10, None), (6, 60.0), (25, 60.0)])
def test_that_a_limit_was_or_cannot_be_shortened_is_told(model: str, hours: int, hours_per_week: float | None):
    survey = OneWorker([Tube("L-1", 0, 60 * hours, 10.0)], shift_min=60 * hours).survey()
    shift = replace(survey.shifts["S-1"], hours_per_week=hours_per_week, reference_min=300.0)
    limit = replace(survey.limits[0], averaging_min=540.0 if hours == 10 else None)
    found = shortened_for(limit, shift, model)
    texts = [found] if isinstance(found, str) else [found.note, found.shortened_for]
    assert all(map(is_told, texts))


# What the assessment adds: other choices, what drives a verdict, what would settle it


def texts_of(survey: Survey) -> Iterator[str]:
    assessed = assess(survey)
    for result in (*assessed.shifts, *assessed.short_terms):
        yield result.note
        yield from (why for _, why in result.not_compared)
        for verdict in result.verdicts:
            yield from (verdict.comparison.reason, verdict.settles, verdict.drives, verdict.note, verdict.shortened_for)
            yield from (text for other in verdict.others for text in (other.words, other.settled_by))
        yield from getattr(result, "averages", {})


def one_tube(mg_m3: float, *, stop_min: float = 480, purpose: str = "full shift", **more) -> Survey:
    front_ug = mg_m3 * FLOW_LPM * stop_min
    tube = Tube("L-1", 0, stop_min, front_ug, purpose=purpose, back_ug=more.pop("back_ug", 0.0))
    return OneWorker([replace(tube, front_below=more.pop("front_below", False))], **more).survey()


def void_but_the_first(others: int) -> Survey:
    """A flow that drifted by 15 %, which somebody lets count for the first tube."""
    length = 480 / (others + 1)
    tubes = [Tube(f"L-{n + 1}", n * length, (n + 1) * length, 0.8 * FLOW_LPM * length) for n in range(others + 1)]
    survey = OneWorker(tubes, after=(85.0, 85.0, 85.0)).survey()
    voids = [finding.rule for finding in assess(survey).samples[0].standing.findings if finding.effect == "void"]
    return replace(survey, overrides=tuple(FindingOverride("L-1", rule, "HB", "looked after") for rule in voids))


TEN_HOURS = {"shift_min": 600, "rule_book": "us-osha"}
SHORT = {"purpose": "short term", "limit": 1.0}
SURVEYS: dict[str, Callable[[], Survey]] = {
    "open by the analysis": partial(one_tube, 0.98),
    "turned by another flow": partial(one_tube, 0.92, after=(91.0, 91.0, 91.0), analysis_cv=0.01),
    "blank taken off": partial(one_tube, 1.02, blank_ug=(2.0, 2.0), blanks_below=False, after=(91.0, 91.0, 91.0)),
    "unsampled time": partial(one_tube, 0.5, stop_min=300, unsampled="zero"),
    "unsampled time, like the sampled": partial(one_tube, 0.9, stop_min=300),
    "non-detect": partial(one_tube, 0.1, front_below=True, back_ug=None, limit=0.001),
    "breakthrough": partial(one_tube, 0.4, back_ug=8.0),
    "stated error": partial(one_tube, 0.98, rule_book="us-osha"),
    "worst hours": partial(one_tube, 0.9, stop_min=600, **TEN_HOURS),
    "worst hours, unsampled": partial(
        one_tube, 0.9, stop_min=400, shift_min=600, rule_book="us-osha", unsampled="zero"
    ),
    "no usable sample": partial(one_tube, 0.5, after=None),
    "seventeen minutes": partial(one_tube, 1.1, stop_min=17, kind="STEL", **SHORT),
    "nearly seventeen minutes": partial(one_tube, 0.85, stop_min=17, kind="STEL", **SHORT),
    "ceiling": partial(one_tube, 0.5, stop_min=15, kind="ceiling", **SHORT),
    "one void": partial(void_but_the_first, 1),
    "two void": partial(void_but_the_first, 2),
}


@pytest.mark.parametrize("survey", SURVEYS)
def test_other_choices_and_what_would_settle_are_told(survey: str):
    texts = [text for text in texts_of(SURVEYS[survey]()) if text]
    assert len(texts) > 4 or survey == "no usable sample"
    assert not [text for text in texts if not is_told(text)]
