"""Names a laboratory printed, and our samplers: exactly, or nearly with the reason, never by force."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapel.assessment.sampler_names import matched_names

OURS = ["L-101", "L-102", "L-110", "B-07", "QX-4417"]


def near(printed, ours=OURS):
    matches, unknown = matched_names([printed], ours)
    return (matches[0].sampler, matches[0].how, matches[0].why) if matches else unknown[0]


@pytest.mark.parametrize(
    ("printed", "sampler", "why"),
    [
        ("l 101", "L-101", "case, blanks"),
        ("L0101", "L-101", "leading zeros"),
        ("Pump 4 / QX-4417 / charcoal", "QX-4417", "within it"),
        ("QX-44I7", "QX-4417", "look alike"),
        ("QX-4471", "QX-4417", "changed about"),
        ("QX-4419", "QX-4417", "one sign differs"),
        ("QX-417", "QX-4417", "one sign of ours is missing"),
        ("QX-44177", "QX-4417", "one sign more"),
    ],
)
def test_a_near_name_comes_with_its_reason(printed, sampler, why):
    found, how, reason = near(printed)
    assert (found, how) == (sampler, "near")
    assert why in reason


def test_two_that_come_equally_near_are_left_to_a_person():
    """L-10X may be L-101 or L-102."""
    unknown = near("L-10X", ["L-101", "L-102"])
    assert {code for code, _ in unknown.candidates} == {"L-101", "L-102"}


def test_one_sampler_is_not_given_to_two_names():
    matches, unknown = matched_names(["l 101", "L101"], OURS)
    assert matches == ()
    assert len(unknown) == 2


def test_a_sampler_that_is_there_exactly_is_nobodys_near_match():
    matches, unknown = matched_names(["L-101", "L 101"], OURS)
    assert [match.how for match in matches] == ["exact"]
    assert unknown[0].candidates == ()


def test_short_codes_are_not_matched_by_a_sign_that_differs():
    matches, _ = matched_names(["B-8"], ["B-7"])
    assert matches == ()


def test_quality_control_of_the_laboratory_is_told_apart():
    _, unknown = matched_names(["LCS 1", "Method blank"], OURS)
    assert [name.is_quality_control for name in unknown] == [True, True]


def test_what_a_person_confirmed_goes_before_all():
    matches, _ = matched_names(["L-101"], OURS, {"L-101": "L-102"})
    assert (matches[0].sampler, matches[0].how) == ("L-102", "confirmed")


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.from_regex(r"[A-Z]{1,2}-[0-9]{2,5}", fullmatch=True), unique=True, min_size=1, max_size=40),
    st.data(),
)
def test_every_printed_name_is_matched_once_or_unknown_and_no_sampler_twice(codes, data):
    other = st.from_regex(r"[a-zA-Z]{1,2} ?[0-9]{1,5}", fullmatch=True)
    printed = data.draw(st.lists(st.one_of(st.sampled_from(codes), other), max_size=30))
    matches, unknown = matched_names(printed, codes)
    assert sorted([m.printed for m in matches] + [u.printed for u in unknown]) == sorted(set(printed))
    assert len({m.sampler for m in matches}) == len(matches)
    assert all(m.sampler == m.printed for m in matches if m.how == "exact")
