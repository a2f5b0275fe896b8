"""A signature reads back as it was drawn, and stays small."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.fieldlog.signatures import HIGH, LONGEST_SIGNATURE, WIDE, Signature, signature_in

POINTS = st.tuples(st.integers(0, WIDE), st.integers(0, HIGH))
LINES = st.lists(st.lists(POINTS, min_size=1, max_size=12).map(tuple), min_size=1, max_size=5).map(tuple)


def written(lines):
    return "drawn " + ";".join(" ".join(f"{x},{y}" for x, y in line) for line in lines)


@given(LINES)
def test_every_drawing_reads_back_as_its_lines_or_is_too_short_to_be_one(lines):
    way = sum(max(abs(a - c), abs(b - d)) for line in lines for (a, b), (c, d) in pairwise(line))
    if way < 60:
        with pytest.raises(ValueError, match="somebody's hand"):
            signature_in(written(lines))
    else:
        assert signature_in(written(lines)) == Signature("drawn", lines=lines)


def test_the_other_ways_to_sign():
    assert signature_in("") is None
    assert signature_in("paper") == Signature("paper")
    assert signature_in("account anna.b") == Signature("account", account="anna.b")


def test_five_hundred_points_are_a_signature_and_more_than_its_room_is_none():
    zigzag = [(100 + 6 * (i % 60), 100 + (i % 7)) for i in range(490)]
    text = written([zigzag])
    assert len(text) <= LONGEST_SIGNATURE
    assert len(signature_in(text).lines[0]) == 490
    with pytest.raises(ValueError, match="4000 characters"):
        signature_in(written([zigzag * 2]))
