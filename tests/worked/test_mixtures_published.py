"""The additive index held against published worked examples, each read in the place named."""

import pytest

from lapel.figures import reading
from lapel.hygiene import MixtureComponent, additive_index, additive_indices, compare


def ppm(value):
    return reading(value, "ppm", name="exposure")


def test_the_example_printed_in_the_us_regulation():
    """29 CFR 1910.1000(d)(2)(ii): 500/1000 + 45/200 + 40/200 = 0.925, within acceptable limits."""
    index = additive_index([(ppm(500), ppm(1000)), (ppm(45), ppm(200)), (ppm(40), ppm(200))])
    assert index.value == pytest.approx(0.925)
    assert compare(index, index, 1.0).verdict == "under"


def test_the_shares_printed_in_the_us_regulation():
    """Same place: the three terms are 0.500, 0.225 and 0.200."""
    parts = [("B", 500.0, 1000.0), ("C", 45.0, 200.0), ("D", 40.0, 200.0)]
    components = [MixtureComponent(name, ppm(c), ppm(c), ppm(limit), ("effect",)) for name, c, limit in parts]
    (index,) = additive_indices(components).indices
    assert [index.shares[name] * index.upper.value for name in "BCD"] == pytest.approx([0.500, 0.225, 0.200])


def test_two_solvents_each_under_its_limit_and_together_over():
    """“Don't forget the mixture calculations!”, September 2011: methanol 150 of 200 ppm and ethyl acetate 300 of 400
    ppm: 0.75 + 0.75 = 1.5."""
    index = additive_index([(150, 200), (300, 400)])
    assert index.value == pytest.approx(1.5)
    assert compare(index, index, 1.0).verdict == "over"
