"""Units at the door: exact, strict, never a guess."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.figures import UnitProblem, canonical, parsed_number, parsed_quantity


@pytest.mark.parametrize(
    ("text", "unit", "kind", "expected"),
    [
        ("102.1", "mL/min", "flow", 0.1021),
        ("102.1", "cc/min", "flow", 0.1021),
        ("0.1", "LPM", "flow", 0.1),
        ("21.5", "°C", "temperature", 294.65),
        ("77", "degF", "temperature", 298.15),
        ("1013.25", "hPa", "pressure", 101.325),
        ("760", "mmHg", "pressure", 101.325),
        ("29.921", "inHg", "pressure", 101.3241),
        ("0.25", "mg", "mass", 250.0),
        ("2.5", "µg", "mass", 2.5),
        ("8", "h", "time", 480.0),
        ("250", "ppb", "mole ratio", 0.25),
        ("40", "µg/m³", "concentration", 0.04),
        ("5", "%", "ratio", 0.05),
        ("0.024", "m3", "volume", 24.0),
    ],
)
def test_converts_exactly(text, unit, kind, expected):
    assert canonical(text, unit, kind) == pytest.approx(expected, rel=5e-6 if unit.endswith("Hg") else 1e-15)


@pytest.mark.parametrize("text", ["1,5", "1.234,5", "1 234", "", "abc", "nan", "inf", "1e9999", "0x10", "--3", "<0.5"])
def test_what_is_not_plainly_a_number_is_refused(text):
    with pytest.raises(UnitProblem, match="found"):
        parsed_number(text)


@pytest.mark.parametrize(
    ("unit", "kind"), [("mg", "flow"), ("furlong", "volume"), ("", "mass"), ("ppm", "mass"), ("L", "flow")]
)
def test_a_unit_of_something_else_is_refused(unit, kind):
    with pytest.raises(UnitProblem, match=f"wanted a unit of {kind}"):
        canonical("1", unit, kind)


def test_reads_a_quantity():
    assert parsed_quantity("50 ppm", "mole ratio") == 50.0
    assert parsed_quantity("100mL/min", "flow") == 0.1
    assert parsed_quantity(" 1.5e-1 mg/m3 ", "concentration") == 0.15
    with pytest.raises(UnitProblem, match="comma"):
        parsed_quantity("1,5 ppm", "mole ratio")
    with pytest.raises(UnitProblem, match="a size that can be"):
        canonical("1e999", "L", "volume")
    with pytest.raises(UnitProblem, match="wanted a number and a unit"):
        parsed_quantity("50", "mole ratio")


@given(st.decimals(min_value=0, max_value=10**6, places=4))
def test_a_typed_number_comes_back_digit_for_digit(number: Decimal):
    assert parsed_number(str(number)) == number
    assert canonical(str(number), "L/min", "flow") == float(number)
