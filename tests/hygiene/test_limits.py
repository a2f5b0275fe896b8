"""Comparisons with a limit: never surer than the data."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import Figure, reading
from lapel.hygiene import action_level, compare, extended_shift_limit, reduction_factor, stated_action_level
from lapel.hygiene.extended_shifts import us_lead_limit
from lapel.hygiene.limits import beside_one, one_sided_factor


def exposure(value, u=0.0, sense="exactly", unit="mg/m3"):
    return reading(value, unit, name="exposure", uncertainty=u, sense=sense)


def one(figure, limit=1.0, **options):
    return compare(figure, figure, limit, **options)


def test_the_one_sided_factor_is_the_printed_one():
    """NIOSH 77-173: 1.645 at 95 %."""
    assert one_sided_factor(0.95) == pytest.approx(1.645, abs=0.0005)
    assert one_sided_factor(0.5) == 0.0


@pytest.mark.parametrize(
    ("value", "u", "verdict"),
    [
        (0.5, 0.05, "under"),
        (0.95, 0.05, "cannot tell"),
        (1.05, 0.05, "cannot tell"),
        (1.2, 0.05, "over"),
        (1.0, 0.0, "under"),
        (1.0000001, 0.0, "over"),
    ],
)
def test_a_plain_estimate_is_decided_by_its_confidence_limits(value, u, verdict):
    """By hand: value ± 1.645·u against 1; at the limit is not above it."""
    outcome = one(exposure(value, u))
    assert outcome.verdict == verdict
    assert outcome.ucl == pytest.approx(value + 1.6449 * u, abs=1e-5)
    assert outcome.lcl == pytest.approx(value - 1.6449 * u, abs=1e-5)


values = st.floats(0.0, 1e4)


@given(value=values, u=st.floats(0, 10), limit=st.floats(1e-3, 1e3))
def test_at_most_never_shows_over_and_at_least_never_shows_under(value, u, limit):
    assert one(exposure(value, u, "at most"), limit).verdict != "over"
    assert one(exposure(value, u, "at least"), limit).verdict != "under"
    assert one(exposure(value, u, "unknown"), limit).verdict == "cannot tell"


@given(value=values, u=st.floats(0.001, 10), limit=st.floats(1e-3, 1e3))
def test_more_confidence_never_turns_an_open_verdict_into_a_decided_one(value, u, limit):
    loose, strict = (one(exposure(value, u), limit, confidence=p) for p in (0.90, 0.99))
    assert strict.verdict in (loose.verdict, "cannot tell")


@given(low=values, extra=values, limit=st.floats(1e-3, 1e3))
def test_an_interval_decides_only_when_both_ends_agree(low, extra, limit):
    outcome = compare(exposure(low), exposure(low + extra), limit)
    expected = "under" if low + extra <= limit else ("over" if low > limit else "cannot tell")
    if abs(low + extra - limit) > 1e-9 * limit and abs(low - limit) > 1e-9 * limit:
        assert outcome.verdict == expected


def test_one_in_twenty_is_wrongly_called_over_at_the_limit():
    """Simulation: true exposure at the limit, u = 10 %: LCL above 1 in 5 % of measurements."""
    rng = np.random.default_rng(5)
    calls = [one(exposure(float(x), 0.1)).verdict for x in rng.normal(1.0, 0.1, 4000)]
    assert calls.count("over") / 4000 == pytest.approx(0.05, abs=0.011)
    assert calls.count("under") / 4000 == pytest.approx(0.05, abs=0.011)


@given(value=values, u=st.floats(0, 5), limit=st.floats(1e-2, 1e3))
def test_the_margin_is_negative_exactly_when_it_cannot_tell(value, u, limit):
    outcome = one(exposure(value, u), limit)
    assert (outcome.margin < 0) == (outcome.verdict == "cannot tell") or outcome.margin == 0


def test_a_shared_cause_between_exposure_and_limit_cancels():
    calibration = exposure(2.0, 0.2)
    outcome = compare(calibration, calibration, calibration)
    assert outcome.lcl == pytest.approx(1.0)
    assert outcome.verdict == "under"


def test_an_uncertain_limit_counts():
    assert one(exposure(0.9), exposure(1.0, 0.01)).verdict == "under"
    assert one(exposure(0.9), exposure(1.0, 0.10)).verdict == "cannot tell"


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (lambda: one(exposure(0.5)), "at most 0.50 of the limit"),
        (lambda: one(exposure(2.0)), "at least 2.0 times the limit"),
        (lambda: one(exposure(0.98, 0.05)), "within the measurement uncertainty"),
        (lambda: compare(exposure(0.5), exposure(1.5), 1.0), "lies between 0.50 and 1.5 of the limit"),
        (lambda: one(exposure(0.7, sense="at least")), "nothing shows that the exposure was not higher"),
        (lambda: one(exposure(1.05, 0.05, "at least")), "the limit is within the measurement uncertainty"),
        (lambda: one(exposure(0.7, sense="unknown")), "Nothing that was measured bounds the exposure from above"),
    ],
)
def test_the_reason_is_said_in_plain_words(outcome, words):
    assert words in outcome().reason


def test_no_rounding_makes_a_reason_contradict_its_verdict():
    assert "0.99996" in one(exposure(0.99996)).reason
    assert "1.00004" in one(exposure(1.00004)).reason


@given(st.floats(0.9, 1.1))
def test_a_share_that_is_not_one_never_reads_as_one(ratio):
    if ratio != 1.0:
        assert float(beside_one(ratio)) != 1.0 or abs(ratio - 1.0) < 1e-14


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: one(exposure(1.0), 0.0), "`limit` must be finite and above 0; found 0"),
        (lambda: one(-1.0), "`lower` must be finite and not below 0; found -1"),
        (lambda: one(math.nan), "`lower` must be finite"),
        (lambda: compare(2.0, 1.0, 5.0), "`lower` must not be above `upper`; found 2 and 1"),
        (lambda: one(exposure(1.0), exposure(1.0, unit="ppm")), "`limit` in ppm"),
        (lambda: one(exposure(1.0), confidence=1.0), "`confidence` must be at least 0.5 and below 1"),
        (lambda: one(exposure(1.0), confidence=0.4), "`confidence` must be at least 0.5 and below 1"),
    ],
)
def test_unusable_comparisons_are_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()


# ---- long shifts and action levels -----------------------------------------------------------------------------------


@given(hours=st.floats(8.0, 23.9))
def test_the_daily_models_never_raise_a_limit_and_brief_and_scala_is_the_stricter(hours):
    scala = reduction_factor(hours, model="brief-scala-day")
    proportional = reduction_factor(hours, model="proportional-day")
    assert 0.0 < scala <= proportional <= 1.0


@given(hours=st.floats(40.0, 167.0))
def test_the_weekly_models_never_raise_a_limit_and_brief_and_scala_is_the_stricter(hours):
    scala = reduction_factor(hours, model="brief-scala-week")
    proportional = reduction_factor(hours, model="proportional-week")
    assert 0.0 < scala <= proportional <= 1.0


@given(c=st.floats(0.01, 100), hours=st.floats(8.0, 16.0))
def test_shortening_proportionally_is_the_same_as_converting_the_exposure(c, hours):
    """C against L·8/h is C·h/8 against L."""
    limit = extended_shift_limit(1.0, hours_per_day=hours, model="proportional-day")
    assert c / limit.value == pytest.approx(c * hours / 8)


def test_a_shortened_limit_keeps_its_unit_and_shows_its_model():
    limit = extended_shift_limit(exposure(50.0, unit="ppm"), hours_per_day=12)
    assert isinstance(limit, Figure)
    assert limit.unit == "ppm"
    assert "Brief and Scala" in limit.derivation.card.source


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: extended_shift_limit(1.0, hours_per_day=7.9), "hours a day must be at least 8"),
        (lambda: extended_shift_limit(1.0, hours_per_day=24), "`hours_per_day` must be above 0 and below 24"),
        (
            lambda: extended_shift_limit(1.0, hours_per_day=12, model="brief-scala-week"),
            "`hours_per_week` is needed by the model “brief-scala-week”",
        ),
        (
            lambda: extended_shift_limit(1.0, hours_per_day=12, hours_per_week=36, model="proportional-week"),
            "hours a week must be at least 40",
        ),
        (lambda: extended_shift_limit(1.0, hours_per_day=12, model="hickey"), "`model` must be one of"),
        (lambda: extended_shift_limit(0.0, hours_per_day=12), "must be finite and above 0"),
        (lambda: us_lead_limit(25), "`hours_per_day` must be above 0 and at most 24"),
        (lambda: action_level(1.0, fraction_of_limit=0.0), "`fraction_of_limit` must be above 0 and at most 1"),
        (lambda: action_level(1.0, fraction_of_limit=1.5), "`fraction_of_limit` must be above 0 and at most 1"),
        (lambda: stated_action_level(0.3, limit=1.0, source=" "), "`source` must name the rule"),
        (lambda: stated_action_level(1.3, limit=1.0, source="x"), "not above the limit of 1; found 1.3"),
    ],
)
def test_what_no_model_or_rule_allows_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
