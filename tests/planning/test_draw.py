import itertools
from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import hypergeom

from lapel.planning.draw import (
    ISO_BATCH,
    MDHS_TENTH,
    NIOSH_2549,
    NMAM_SET,
    OSHA_TWENTY,
    chance_to_catch,
    draw_workers,
    duplicates,
    field_blanks,
    spares,
    workers_to_draw,
)


@pytest.mark.parametrize(("size", "number"), [(12, 8), (15, 10), (20, 14), (24, 13), (30, 16), (40, 17), (50, 18)])
def test_exact_numbers_with_the_top_tenth_rounded_up(size, number):
    assert workers_to_draw(size).exact == number


@pytest.mark.parametrize(
    ("size", "number"),
    [(5, 5), (8, 7), (10, 9), (12, 10), (14, 11), (16, 12), (20, 13), (24, 14), (29, 15), (37, 16), (49, 17),
     (50, 18), (400, 22)],
)  # fmt: skip
def test_the_published_table_stands_beside_the_exact_number(size, number):
    """NIOSH 77-173: at least one of the top 10 % with 90 % confidence."""
    answer = workers_to_draw(size)
    assert answer.published == number
    assert "NIOSH 77-173" in answer.words


def test_the_chance_is_that_of_counting_every_draw():
    for size, top, drawn in [(6, 1, 2), (7, 2, 3), (8, 3, 4)]:
        draws = list(itertools.combinations(range(size), drawn))
        caught = sum(any(i < top for i in draw) for draw in draws)
        assert chance_to_catch(size, top, drawn) == pytest.approx(caught / len(draws))


@given(st.integers(1, 300), st.sampled_from([0.05, 0.1, 0.2]), st.sampled_from([0.9, 0.95, 0.5]))
def test_the_exact_number_is_the_least_that_reaches_the_confidence(size, top, confidence):
    answer = workers_to_draw(size, top=top, confidence=confidence)
    miss = hypergeom.pmf(0, size, answer.top_members, [answer.exact, answer.exact - 1])
    assert 1 - miss[0] >= confidence - 1e-12
    assert answer.exact == 1 or 1 - miss[1] < confidence + 1e-12


def test_nine_of_ten_reach_exactly_ninety_percent():
    """One top worker of ten: 9/10 exactly; floating point must not ask for the tenth."""
    assert workers_to_draw(10).exact == 9


def test_an_empty_group_is_refused():
    with pytest.raises(ValueError, match="`group_size` must be at least 1; it is 0"):
        workers_to_draw(0)


CODES = [f"W{i:02d}" for i in range(12)]


@given(st.permutations(CODES), st.text(min_size=1, max_size=8))
def test_a_draw_can_be_repeated_from_its_seed_whatever_the_order_of_the_list(codes, seed):
    assert draw_workers(codes, 5, seed=seed) == draw_workers(CODES, 5, seed=seed)


def test_every_worker_is_drawn_equally_often_over_many_seeds():
    """Chi-square over 6000 seeds, 12 workers, 3 drawn; 11 degrees of freedom, p = 0.001 at 31.3."""
    count = Counter(code for i in range(6000) for code in draw_workers(CODES, 3, seed=f"s{i}").drawn)
    observed = np.array([count[code] for code in CODES])
    # Draws without replacement are slightly less variable than multinomial: the test is conservative.
    assert np.sum((observed - 1500) ** 2 / 1500) < 31.3


def test_reserves_are_the_rest_in_order():
    draw = draw_workers(CODES, 4, seed="2026-03-02")
    assert sorted(draw.drawn + draw.reserves) == CODES
    assert draw_workers(CODES, 5, seed="2026-03-02").drawn == (*draw.drawn, draw.reserves[0])


def test_a_draw_without_a_seed_is_refused():
    with pytest.raises(ValueError, match="`seed` must not be empty"):
        draw_workers(CODES, 3, seed="")


def test_field_blanks_follow_each_methods_rule():
    assert [field_blanks(n, NMAM_SET) for n in (0, 1, 20, 21, 200)] == [0, 2, 2, 3, 10]
    assert [field_blanks(n, OSHA_TWENTY) for n in (1, 20, 21, 41)] == [1, 1, 2, 3]
    assert [field_blanks(n, MDHS_TENTH) for n in (10, 11)] == [1, 2]
    assert field_blanks(50, ISO_BATCH) == 3
    assert field_blanks(50, NIOSH_2549) == 1
    assert not NIOSH_2549.opened


def test_duplicates_and_spares_round_up():
    assert [duplicates(n) for n in (0, 1, 20, 21)] == [0, 1, 1, 2]
    assert [spares(n, d) for n, d in ((0, 3), (40, 3), (40, 9))] == [0, 4, 9]
