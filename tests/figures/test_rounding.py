"""Rounding once, last; ties to even; trailing zeros kept."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import at_decimals, percent, reading, shown, shown_with_uncertainty, significant, with_uncertainty


@pytest.mark.parametrize(
    ("value", "figures", "expected"),
    [
        (9.996, 3, "10.0"), (0.102024, 3, "0.102"), (100.0, 3, "100"), (1234.0, 3, "1230"), (0.0, 3, "0"),
        (-0.5, 2, "−0.50"), (1.25, 2, "1.2"), (1.35, 2, "1.4"), (0.000012345, 3, "1.23×10⁻⁵"),
        (1.0e6, 3, "1.00×10⁶"), (999999.0, 3, "1.00×10⁶"), (606.0, 4, "606.0"), (5e-5, 1, "5×10⁻⁵"),
    ],
)  # fmt: skip
def test_significant_figures(value, figures, expected):
    assert significant(value, figures) == expected


@pytest.mark.parametrize(
    ("value", "uncertainty", "expected"),
    [
        (1.2345, 0.1, ("1.23", "0.10")),
        (12345.0, 678.0, ("12340", "680")),
        (0.00412, 0.00031, ("0.00412", "0.00031")),
        (48.99, 0.96, ("48.99", "0.96")),
        (99.96, 0.0996, ("99.96", "0.10")),
        (3.0, 0.0, ("3.00", "0")),
    ],
)
def test_value_and_uncertainty_end_at_the_same_decimal(value, uncertainty, expected):
    """JCGM 100:2008, 7.2.6."""
    assert with_uncertainty(value, uncertainty) == expected


@given(st.floats(1e-4, 1e5), st.integers(1, 6))
def test_rounding_moves_a_number_by_half_a_unit_at_most(value, figures):
    text = significant(value, figures).replace("−", "-")
    if "×" in text:
        mantissa, power = text.split("×10")
        number = Decimal(mantissa).scaleb(int(power.translate(str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789"))))
    else:
        number = Decimal(text)
    half_unit = Decimal(5).scaleb(Decimal(repr(value)).adjusted() - figures)
    assert abs(number - Decimal(repr(value))) <= half_unit


def test_figures_are_shown_with_bound_and_unit():
    assert shown(reading(0.102, "mg/m3", name="c", sense="at most")) == "< 0.102 mg/m³"
    assert shown(reading(3.0, "1", name="ratio")) == "3.00"
    assert shown_with_uncertainty(reading(49.0, "L", name="v", uncertainty=0.96)) == "49.0 ± 1.9 L (k = 2)"
    assert percent(0.1234) == "12 %"
    assert at_decimals(-0.125, 2) == "−0.12"


def test_unusable_requests_are_refused():
    with pytest.raises(ValueError, match="must be 1 or more"):
        significant(1.0, 0)
    with pytest.raises(ValueError, match="must be finite"):
        significant(float("nan"))
