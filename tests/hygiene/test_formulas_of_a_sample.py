"""What every formula of one sample keeps: a source, and one answer for numbers, doubts and arrays."""

import importlib

import numpy as np
import pytest
from uncertainties import ufloat

from lapel.figures import Formula
from lapel.hygiene import Air, BareAir

MODULES = ["air", "blank", "certificate", "concentration", "flow", "mass", "meters", "volume"]
AIRS = {"air", "standard", "ambient", "measured", "reference", "calibrated_at", "used_at"}
LISTS = {"readings", "volumes", "masses", "detected", "limits"}
TYPICAL = {
    "temperature_k": 290.0,
    "altitude_m": 1200.0,
    "exponent": 0.3,
    "recovery": 0.92,
    "relative_humidity": 0.4,
    "leaving_humidity": 0.9,
    "water_kpa": 2.2,
    "pressure_kpa": 84.0,
    "blank_ug": 1.5,
    "mass_ug": 40.0,
    "molar_mass": 92.14,
}


def formulas():
    found = []
    for name in MODULES:
        module = importlib.import_module(f"lapel.hygiene.{name}")
        found += [
            pytest.param(thing, id=f"{name}.{attribute}")
            for attribute, thing in vars(module).items()
            if isinstance(thing, Formula) and thing.raw.__module__ == module.__name__
        ]
    return found


def typical(formula, make, air_of=BareAir):
    """One value an argument: an air, a list where the formula takes one, else a number of the trade's size."""
    given = {}
    for position, name in enumerate(formula.__signature__.parameters):
        if name in AIRS:
            given[name] = air_of(make(288.0 + position), make(90.0 - position))
        elif name in LISTS:
            given[name] = [make(2.0), make(2.5)]
        elif name == "curve":
            given[name] = ((0.5, 0.51), (4.0, 4.2))
        elif name != "basis":
            given[name] = make(TYPICAL.get(name, 2.0 + position))
    return given


def test_every_module_was_looked_into():
    assert len(formulas()) >= 24


@pytest.mark.parametrize("formula", formulas())
def test_it_says_where_it_comes_from(formula):
    assert formula.card.source
    assert formula.card.expression
    assert formula.card.unit


@pytest.mark.parametrize("formula", formulas())
def test_numbers_doubts_and_arrays_give_one_answer(formula):
    called = formula(**typical(formula, float, Air)).value
    assert float(formula.raw(**typical(formula, float))) == pytest.approx(called, rel=1e-12)
    doubtful = formula.raw(**typical(formula, lambda x: ufloat(x, 0.001 * x)))
    assert doubtful.nominal_value == pytest.approx(called, rel=1e-9)
    assert doubtful.std_dev > 0.0
    bulk = formula.raw(**typical(formula, lambda x: np.full(3, x)))
    assert bulk.tolist() == pytest.approx([called] * 3, rel=1e-12)
