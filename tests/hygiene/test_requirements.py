"""Accuracy, breakthrough and volume requirements with their numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.hygiene import (
    US_ACCURACY,
    breakthrough_check,
    en482_check,
    niosh_accuracy_check,
    us_accuracy_check,
    volume_check,
)


@pytest.mark.parametrize(
    ("share", "averaging", "allowed"),
    [
        (0.1, "long term", 0.50),
        (0.49, "long term", 0.50),
        (0.5, "long term", 0.30),
        (2.0, "long term", 0.30),
        (0.5, "short term", 0.50),
        (2.0, "short term", 0.50),
    ],
)
def test_the_table_of_the_european_standard(share, averaging, allowed):
    """Known: EN 482:2021, table of expanded uncertainty (not re-read)."""
    assert en482_check(allowed, share, averaging=averaging).met is True
    assert en482_check(allowed + 1e-9, share, averaging=averaging).met is False


@pytest.mark.parametrize(("share", "averaging"), [(0.09, "long term"), (2.01, "long term"), (0.49, "short term")])
def test_outside_its_ranges_the_european_standard_says_nothing(share, averaging):
    check = en482_check(0.9, share, averaging=averaging)
    assert check.met is None
    assert "nothing asked" in check.wanted


def test_an_unknown_uncertainty_is_neither_met_nor_missed():
    assert en482_check(None, 0.7).met is None


def test_a_number_that_was_not_read_in_its_clause_says_so():
    assert en482_check(0.1, 0.7).certainty == "known"
    assert US_ACCURACY["arsenic, inorganic"].certainty == "read"


@pytest.mark.parametrize(
    ("agent", "concentration", "within"),
    [
        ("arsenic, inorganic", 5.0, 0.35),
        ("arsenic, inorganic", 9.9, 0.35),
        ("arsenic, inorganic", 10.0, 0.25),
        ("cadmium", 2.5, 0.25),
        ("lead", 30.0, 0.20),
        ("formaldehyde", 0.5, 0.35),
        ("formaldehyde", 0.75, 0.25),
        ("vinyl chloride", 0.5, 0.50),
        ("vinyl chloride", 0.51, 0.35),
        ("vinyl chloride", 1.0, 0.35),
        ("vinyl chloride", 1.01, 0.25),
    ],
)
def test_the_accuracy_of_us_substance_standards(agent, concentration, within):
    """1910.1018(e)(6) and 1910.1027 read in copies, the others known: ± at 95 %, 1.96·u."""
    rule = US_ACCURACY[agent]
    assert us_accuracy_check(within / 1.961, concentration, rule).met is True
    assert us_accuracy_check(within / 1.959, concentration, rule).met is False


def test_below_the_action_level_the_us_standards_are_silent():
    assert us_accuracy_check(0.9, 4.9, US_ACCURACY["arsenic, inorganic"]).met is None


def test_the_niosh_criterion_is_met_up_to_12_8_percent_without_bias():
    """Closed form: 0.25/1.96 = 0.1276."""
    assert niosh_accuracy_check(0.1275).met is True
    assert niosh_accuracy_check(0.1277).met is False


@pytest.mark.parametrize(("u", "bias"), [(0.08, 0.05), (0.06, -0.10), (0.10, 0.0)])
def test_the_niosh_accuracy_holds_95_percent_of_simulated_results(u, bias):
    check = niosh_accuracy_check(u, bias=bias)
    accuracy = float(check.found.split("±")[1].split(" ")[0]) / 100
    results = np.random.default_rng(8).normal(1 + bias, u * (1 + bias), 400_000)
    assert np.mean(np.abs(results - 1) <= accuracy) == pytest.approx(0.95, abs=0.003)


def test_a_bias_alone_is_its_own_accuracy():
    assert niosh_accuracy_check(0.0, bias=0.2).met is True
    assert niosh_accuracy_check(0.0, bias=-0.3).met is False


@pytest.mark.parametrize(
    ("ratio", "met", "loss"), [(0.0, True, False), (0.10, True, False), (0.11, False, False), (0.26, False, True)]
)
def test_breakthrough_is_remarked_at_a_tenth_and_loss_at_a_quarter(ratio, met, loss):
    check = breakthrough_check(ratio)
    assert check.met is met
    assert ("loss is likely and the result is at least" in check.found) is loss


def test_an_unreported_back_section_is_not_taken_for_an_empty_one():
    assert breakthrough_check(None).met is None


@given(st.floats(0.01, 100))
def test_a_volume_is_met_exactly_within_its_window(volume):
    assert volume_check(volume, minimum_l=1.0, maximum_l=12.0).met is (1.0 <= volume <= 12.0)
    assert volume_check(volume, minimum_l=1.0).met is (volume >= 1.0)
    assert volume_check(volume, maximum_l=12.0).met is (volume <= 12.0)
    assert volume_check(volume).met is None


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: en482_check(-0.1, 0.5), "`expanded_relative_u` must be"),
        (lambda: en482_check(0.1, float("nan")), "`share_of_limit` must be"),
        (lambda: en482_check(0.1, 0.5, averaging="day"), "`averaging` must be"),
        (lambda: us_accuracy_check(-0.1, 1.0, US_ACCURACY["lead"]), "`relative_u` must be"),
        (lambda: niosh_accuracy_check(0.1, bias=-1.0), "`bias` must be finite and above -1"),
        (lambda: niosh_accuracy_check(float("inf")), "`relative_u` must be"),
        (lambda: breakthrough_check(-0.1), "`back_over_front` must be"),
        (lambda: breakthrough_check(0.1, qualified_above=0.3), "must not be above `loss_above`"),
        (lambda: volume_check(0.0), "`volume_l` must be finite and above 0; found 0"),
        (lambda: volume_check(1.0, minimum_l=5, maximum_l=2), "must not be above `maximum_l`"),
    ],
)
def test_unusable_input_is_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
