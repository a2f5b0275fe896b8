"""Two trains on one worker that share a part of the shift: what the shared minutes leave open is said."""

from dataclasses import replace

import pytest

from lapel.assessment.survey import assess
from tests.assessment.one_worker import OneWorker, Tube

FLOW_LPM = 0.099


def fields_on(entry, train, start_min):
    fields = dict(entry.fields)
    if "train" in fields:
        fields["train"] = train
    if entry.kind == "pump_stopped":  # this pump's counter began at its own start
        fields["counter_min"] = f"{float(fields['counter_min']) - start_min:g}"
    return fields


def on_train(train, start_min, stop_min, mg_m3, code):
    made = OneWorker(
        [Tube(code, start_min, stop_min, mg_m3 * FLOW_LPM * (stop_min - start_min))], blank_ug=(), analysis_cv=0.01
    )
    entries = tuple(
        replace(entry, id=f"{train}-{entry.id}", device=train, fields=fields_on(entry, train, start_min))
        for entry in made.entries()
    )
    return made.survey(entries=entries)


def two_trains(first, second):
    one, other = on_train("T-1", *first, "L-1"), on_train("T-2", *second, "L-2")
    return replace(
        one,
        orders=dict(one.orders) | dict(other.orders),
        results=(*one.results, *other.results),
        entries=tuple(sorted((*one.entries, *other.entries), key=lambda entry: entry.at)),
    )


def the_verdict(survey):
    ((verdict,),) = (shift.verdicts for shift in assess(survey).shifts)
    return verdict


def choice(verdict):
    return [other for other in verdict.others if "samples that overlap" in other.words]


def test_doses_that_lay_outside_the_shared_minutes_would_turn_the_verdict():
    """0.9 and 0.9 over 300 min each, 120 of them shared: 0.9 of the limit by the estimate, 540/480 if all lay apart."""
    verdict = the_verdict(two_trains((0, 300, 0.9), (180, 480, 0.9)))
    assert verdict.comparison.ratio_high == pytest.approx(0.9, rel=1e-9)
    assert verdict.comparison.verdict == "under"
    (other,) = choice(verdict)
    assert (other.ratio_low, other.ratio_high) == pytest.approx((270 / 480, 540 / 480), rel=1e-9)
    assert other.verdict == "cannot tell"
    assert not verdict.robust
    assert "one after another" in verdict.settles


def test_far_under_the_limit_it_is_said_and_turns_nothing():
    verdict = the_verdict(two_trains((0, 300, 0.2), (180, 480, 0.2)))
    assert choice(verdict)
    assert verdict.robust


@pytest.mark.parametrize("second", [(300, 480, 0.9), (290, 480, 0.9), (100, 200, 0.9)])
def test_a_change_of_tubes_or_a_sample_within_another_leaves_nothing_open(second):
    assert choice(the_verdict(two_trains((0, 300, 0.9), second))) == []
