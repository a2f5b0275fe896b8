"""Names in a sentence."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import first_of


@pytest.mark.parametrize(
    ("names", "said"),
    [((), ""), (("A",), "A"), (("A", "B"), "A, B"), (("A", "B", "C"), "A, B and 1 more")],
)
def test_the_first_are_named_and_the_rest_is_counted(names: tuple[str, ...], said: str):
    assert first_of(names, 2) == said


@given(st.lists(st.from_regex(r"[A-Z]-[0-9]{3}", fullmatch=True), max_size=30), st.integers(1, 20))
def test_nobody_is_lost_between_the_named_and_the_counted(names: list[str], most: int):
    head, _, tail = first_of(names, most).partition(" and ")
    assert len([name for name in head.split(", ") if name]) + int((tail or "0 more").split()[0]) == len(names)
