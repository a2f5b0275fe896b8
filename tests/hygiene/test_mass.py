"""Mass of a sample: each correction once, bounds stay bounds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import reading, working
from lapel.hygiene import (
    back_share_of_total,
    breakthrough_fraction,
    collected_mass,
    laboratory_mass,
    mean_blank,
    sections_together,
    total_mass,
)

masses = st.floats(0.0, 1e5)
recoveries = st.floats(0.05, 1.2)
correctors = st.sampled_from(["laboratory", "nobody"])
NOBODY = {"blank_corrected_by": "nobody", "recovery_corrected_by": "nobody"}
LABORATORY = {"blank_corrected_by": "laboratory", "recovery_corrected_by": "laboratory"}


def below(limit, name="section"):
    return reading(limit, "ug", name=name, sense="at most", source="report")


@given(masses, masses)
def test_both_sections_always_count(front, back):
    assert total_mass(front, back).value == front + back


def test_a_section_below_its_limit_makes_the_sum_a_bound():
    assert total_mass(below(1.0), below(1.0)).sense == "at most"
    assert total_mass(50.0, below(1.0)).sense == "at most"
    assert total_mass(50.0, 2.0).sense == "exactly"


def test_a_detected_front_section_stays_an_estimate_when_the_back_is_below_its_limit():
    found = sections_together(50.0, below(0.6))
    assert (found.value, found.sense) == (50.0, "exactly")
    assert found.uncertainty == pytest.approx(0.6 / math.sqrt(3))
    assert found.budget()[0].cause == "back section below its reporting limit"


def test_the_doubt_of_an_unseen_back_section_is_its_root_mean_square():
    """Anything from 0 to L with equal chance, seen from 0. Seeded simulation."""
    unseen = np.random.default_rng(23).uniform(0, 0.6, size=400_000)
    assert sections_together(50.0, below(0.6)).uncertainty == pytest.approx(math.sqrt(np.mean(unseen**2)), rel=0.005)


def test_an_undetected_front_is_never_rescued_by_its_back():
    for back, bound in ((below(1.0), 2.0), (5.0, 6.0), (None, 1.0)):
        found = sections_together(below(1.0), back)
        assert (found.value, found.sense) == (bound, "at most")


@given(st.floats(0.01, 1e5), masses)
def test_the_two_bases_of_breakthrough_agree(front, back):
    of_front = breakthrough_fraction(front, back).value
    assert back_share_of_total(front, back).value == pytest.approx(of_front / (1 + of_front), rel=1e-12, abs=1e-15)


@pytest.mark.parametrize(("of_front", "of_total"), [(0.10, 0.0909), (0.25, 0.20)])
def test_a_tenth_and_a_quarter_on_the_other_basis(of_front, of_total):
    assert back_share_of_total(100, 100 * of_front).value == pytest.approx(of_total, abs=5e-5)


def test_breakthrough_of_sections_below_their_limits_is_a_bound_the_right_way():
    assert breakthrough_fraction(100.0, below(1.0)).sense == "at most"
    assert breakthrough_fraction(below(1.0), 5.0).sense == "at least"
    assert breakthrough_fraction(below(1.0), below(1.0)).sense == "unknown"


def test_breakthrough_of_an_empty_front_is_refused():
    with pytest.raises(ValueError, match=r"`front_ug` of “breakthrough” must be finite and above 0; found 0"):
        breakthrough_fraction(0.0, 1.0)


@given(st.floats(1.0, 1e5), st.floats(0.0, 1.0), recoveries)
def test_blank_then_recovery(mass, blank, recovery):
    assert collected_mass(mass, blank_ug=blank, recovery=recovery).value == pytest.approx(
        (mass - blank) / recovery, rel=1e-12
    )


@pytest.mark.parametrize("recovery", [0.0, -0.5, 1.21, 95.0, math.nan, math.inf])
def test_a_recovery_nobody_can_divide_by_is_refused(recovery):
    with pytest.raises(ValueError, match=r"`recovery` of “collected mass” must be above 0 and not above 1.2"):
        collected_mass(10.0, recovery=recovery)


def test_a_blank_larger_than_the_mass_is_refused_with_what_to_do():
    with pytest.raises(ValueError, match=r"a blank of 3 ug on a mass of 2 ug: report such a sample as below"):
        collected_mass(2.0, blank_ug=3.0)


def test_a_blank_as_large_as_the_mass_leaves_nothing():
    assert collected_mass(2.0, blank_ug=2.0).value == 0.0


def test_bounds_go_through_the_correction_the_right_way_round():
    assert collected_mass(below(1.0)).sense == "at most"
    assert collected_mass(5.0, blank_ug=below(1.0)).sense == "at least"
    assert collected_mass(below(5.0), blank_ug=below(1.0)).sense == "unknown"


def test_the_blank_of_one_sample_is_one_more_draw():
    """s·√(1 + 1/n): the mean's own doubt and the sample's blank. Simulated over many sets of four blanks, seeded."""
    rng = np.random.default_rng(29)
    blanks = rng.normal(2.0, 0.3, size=(200_000, 4))
    error = rng.normal(2.0, 0.3, size=200_000) - blanks.mean(axis=1)
    predicted = np.sqrt(np.mean(blanks.var(axis=1, ddof=1) * (1 + 1 / 4)))
    assert predicted == pytest.approx(np.std(error), rel=0.01)
    one = [float(x) for x in blanks[0]]
    s = np.std(one, ddof=1)
    assert mean_blank(one).uncertainty == pytest.approx(s * math.sqrt(1.25), rel=1e-9)
    assert mean_blank(one).value == pytest.approx(np.mean(one))


def test_one_blank_is_not_a_distribution():
    assert mean_blank([1.2]).relative_uncertainty == pytest.approx(1 / math.sqrt(3))


def test_blanks_all_below_their_limits_are_a_bound():
    found = mean_blank([below(0.5), below(0.8), below(0.5)])
    assert (found.value, found.sense) == (0.8, "at most")


def test_reporting_limits_that_are_themselves_uncertain_are_taken_as_they_are():
    vague = reading(0.8, "ug", name="blank", uncertainty=0.1, sense="at most")
    found = mean_blank([below(0.5), vague])
    assert (found.value, found.uncertainty, found.sense) == (0.8, pytest.approx(0.1), "at most")


def test_a_blank_below_its_limit_is_somewhere_in_its_interval():
    """Detected 2.0 and 1.0, one below 0.6: the mean lies between 1.0 and 1.2."""
    found = mean_blank([2.0, 1.0, below(0.6)])
    assert found.value == pytest.approx((1.0 + 1.2) / 2)
    assert found.sense == "exactly"
    s = np.std([2.0, 1.0, 0.3], ddof=1)
    assert found.uncertainty == pytest.approx(math.hypot(s * math.sqrt(4 / 3), 0.1 / math.sqrt(3)))


def test_no_blank_is_refused():
    with pytest.raises(ValueError, match=r"`masses` must have 1 blank or more; found none"):
        mean_blank([])


@given(st.floats(10.0, 1e4), st.floats(0.0, 5.0), recoveries, correctors, correctors)
def test_every_correction_is_made_exactly_once(truth, blank, recovery, blank_by, recovery_by):
    """Whoever makes them, the collected mass is the one that was in the air: the laboratory is played here."""
    found_on_tube = truth * recovery + blank
    reported = found_on_tube - (blank if blank_by == "laboratory" else 0.0)
    known_blank = blank
    if recovery_by == "laboratory":
        reported /= recovery
        known_blank /= recovery  # a report states all its masses on one basis
    found = laboratory_mass(
        reported,
        blank_ug=known_blank,
        recovery=recovery,
        blank_corrected_by=blank_by,
        recovery_corrected_by=recovery_by,
    )
    assert found.value == pytest.approx(truth, rel=1e-9)


def test_a_result_below_its_limit_loses_nothing_to_the_blank():
    found = laboratory_mass(below(1.0), blank_ug=0.4, recovery=0.8, **NOBODY)
    assert (found.value, found.sense) == (pytest.approx(1.0 / 0.8), "at most")


def test_a_result_below_its_limit_is_divided_once():
    corrected = laboratory_mass(below(1.0), recovery=0.8, **LABORATORY)
    assert corrected.value == 1.0


def test_a_blank_below_its_limit_is_not_subtracted_but_not_forgotten():
    found = laboratory_mass(50.0, blank_ug=mean_blank([below(0.6), below(0.6)]), **NOBODY)
    assert (found.value, found.sense) == (50.0, "exactly")
    assert found.uncertainty == pytest.approx(0.6 / math.sqrt(3))
    assert found.budget()[0].cause == "blank"


def test_a_mass_the_blank_takes_below_the_limit_becomes_that_limit_as_a_bound():
    found = laboratory_mass(3.0, blank_ug=2.5, recovery=0.5, reporting_limit_ug=1.0, **NOBODY)
    assert (found.value, found.sense) == (2.0, "at most")
    shown = working(found).steps[-1]
    assert {term.label for term in shown.terms} == {"m_rep", "b", "L", "r"}


def test_a_blank_larger_than_the_mass_needs_a_limit_to_fall_back_on():
    bound = laboratory_mass(2.0, blank_ug=2.5, reporting_limit_ug=1.0, **NOBODY)
    assert (bound.value, bound.sense) == (1.0, "at most")
    with pytest.raises(ValueError, match=r"must not be larger than `mass_ug`"):
        laboratory_mass(2.0, blank_ug=2.5, **NOBODY)


def test_the_laboratorys_own_blank_correction_is_left_alone():
    found = laboratory_mass(3.0, blank_ug=2.5, recovery=0.5, reporting_limit_ug=1.0, **LABORATORY)
    assert (found.value, found.sense) == (3.0, "exactly")


def test_who_corrected_must_be_one_of_the_two_words():
    with pytest.raises(ValueError, match=r"`blank_corrected_by` must be “laboratory” or “nobody”; found “yes”"):
        laboratory_mass(3.0, blank_corrected_by="yes", recovery_corrected_by="nobody")


def test_one_blank_behind_two_samples_is_one_cause():
    blank = mean_blank([2.0, 2.4, 2.2])
    one = laboratory_mass(50.0, blank_ug=blank, **NOBODY)
    two = laboratory_mass(80.0, blank_ug=blank, **NOBODY)
    assert (two.amount - one.amount).std_dev == pytest.approx(0.0, abs=1e-12)


def test_a_recovery_of_the_lot_is_shared_by_its_tubes():
    recovery = reading(0.92, "1", name="recovery", uncertainty=0.02)
    one = laboratory_mass(50.0, recovery=recovery, **NOBODY)
    two = laboratory_mass(100.0, recovery=recovery, **NOBODY)
    assert (two.amount / one.amount).std_dev == pytest.approx(0.0, abs=1e-12)
    assert one.relative_uncertainty == pytest.approx(0.02 / 0.92, rel=1e-9)
