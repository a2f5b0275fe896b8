"""Rows keep their place and their meaning; what has none is refused with its place named."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.statistics import Observations, observed
from lapel.statistics.arguments import above, at_least, between, count, finite, share

NAN = math.nan


def test_rows_stay_where_they_were():
    rows = observed([0.12, NAN, 0.31, NAN], lower=[NAN, NAN, NAN, 1.0], upper=[NAN, 0.05, NAN, 2.0])
    assert rows.lower.tolist() == [0.12, 0.0, 0.31, 1.0]
    assert rows.upper.tolist() == [0.12, 0.05, 0.31, 2.0]
    assert rows.is_measured.tolist() == [True, False, True, False]
    assert rows.is_non_detect.tolist() == [False, True, False, False]
    assert rows.is_within.tolist() == [False, False, False, True]


def test_a_group_counts_itself_in_words():
    rows = (
        Observations.measured([1, 2, 3, 4, 5])
        .followed_by(Observations.non_detects([0.1, 0.1, 0.2]))
        .followed_by(Observations.within([1.0], [2.0]))
    )
    assert rows.in_words() == "9 results: 5 measured, 3 below the reporting limit, 1 known within bounds"
    assert str(Observations.at_least([2.0])) == "1 result: 1 known only from below"
    assert str(observed([])) == "no results"


def test_one_reporting_limit_may_stand_for_all():
    assert observed([0.3, NAN, NAN], upper=0.1).upper.tolist() == [0.3, 0.1, 0.1]
    assert observed(upper=[0.1, 0.2]).is_non_detect.all()
    assert observed(lower=[3.0]).is_at_least.all()


def test_observations_cannot_be_changed_afterwards_nor_change_their_source():
    source = np.array([1.0, 2.0])
    rows = observed(source)
    source[0] = 9.0
    assert rows.lower[0] == 1.0
    with pytest.raises(ValueError, match="read-only"):
        rows.lower[0] = 5.0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: observed(), "`values`, `lower` or `upper` must be given; none is"),
        (lambda: observed([1.0, 0.0]), "`values` must be finite and above 0; item 2 is 0"),
        (lambda: observed([1.0, -2.0]), "item 2 is -2"),
        (lambda: observed([1.0, NAN], upper=[NAN, NAN]), "item 2 has no value and no bound"),
        (lambda: observed([1.0, NAN], upper=[2.0, 1.0]), "`upper` must be NaN where `values` holds a result; item 1"),
        (lambda: observed(lower=[2.0], upper=[1.0]), "item 1 has lower 2 and upper 1"),
        (lambda: observed(lower=[1, 2], upper=[1, 2, 3]), "`lower` must have 3 rows"),
        (lambda: observed(upper=[math.inf]), "a row must say something; item 1 lies between 0 and infinity"),
        (lambda: observed(lower=[-1.0], upper=[1.0]), "`lower` must be finite and at least 0; item 1 is -1"),
        (lambda: observed(observed([1.0]), upper=2.0), "must be left out when `values` are observations already"),
    ],
)
def test_a_row_without_meaning_is_refused_by_name_and_place(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_text_is_not_guessed_at():
    with pytest.raises(TypeError, match=r"`values` must be numbers; item 2 is '<0.5'"):
        observed([1.0, "<0.5"])
    with pytest.raises(TypeError, match="item 1 is None"):
        observed([None, 1.0])
    with pytest.raises(TypeError, match="its rows differ in length"):
        observed([[1.0], [2.0, 3.0]])
    with pytest.raises(TypeError, match="item 1 is True"):
        observed([True, False])


def test_guards_name_argument_place_and_value():
    with pytest.raises(ValueError, match="`gsd` must be finite and above 1; item 2 is 1"):
        above(1.0, gsd=[2.0, 1.0])
    with pytest.raises(ValueError, match="`limit` must be finite and above 0; it is nan"):
        above(0.0, limit=NAN)
    with pytest.raises(ValueError, match=r"`table` must be finite; item \(2, 1\) is inf"):
        finite(table=[[1.0, 2.0], [math.inf, 1.0]])
    with pytest.raises(ValueError, match="`x` must be finite and at least 0; it is -1"):
        at_least(0.0, x=-1)
    with pytest.raises(ValueError, match="`confidence` must be between 0 and 1, both excluded; it is 1"):
        between(0, 1, confidence=1.0)
    with pytest.raises(ValueError, match=r"`n` must be a whole number of at least 2; item 1 is 2\.5"):
        count(2, n=[2.5])
    with pytest.raises(ValueError, match="`coverage` must be one number; it holds 2"):
        share("coverage", [0.5, 0.6])


@settings(deadline=None)
@given(st.lists(st.floats(1e-6, 1e6), min_size=1, max_size=20), st.floats(1e-3, 1e3))
def test_another_unit_changes_numbers_not_kinds(values, factor):
    rows = observed(values).followed_by(Observations.non_detects(values))
    scaled = rows.scaled(factor)
    assert scaled.is_measured.tolist() == rows.is_measured.tolist()
    assert scaled.in_words() == rows.in_words()
    assert np.allclose(scaled.upper, rows.upper * factor)


def test_some_of_the_rows():
    rows = observed([1.0, NAN, 3.0], upper=0.5)
    assert rows.rows(rows.is_measured).values.tolist() == [1.0, 3.0]
    assert rows.rows([2, 0]).lower.tolist() == [3.0, 1.0]
    assert rows.non_detect_share == pytest.approx(1 / 3)
    assert len(rows) == rows.n == 3
