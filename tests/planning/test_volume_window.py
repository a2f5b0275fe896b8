import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.planning.diffusion import diffusion_share, diffusive_uptake
from lapel.planning.safe_volume import co_vapour_margin, humidity_margin, safe_maximum_volume, temperature_margin
from lapel.planning.volume_window import MethodWindow, expected_mass, required_volume


def test_ten_micrograms_at_a_tenth_of_ten_mg_m3_need_ten_litres():
    """1 mg/m³ x 1 L = 1 µg: 10 L at 1 mg/m³ hold 10 µg."""
    assert required_volume(10, 10).value == pytest.approx(10.0, rel=1e-15)


def test_the_required_volume_shows_its_working_and_keeps_its_unit():
    volume = required_volume(10, 10)
    assert volume.unit == "L"
    assert volume.derivation is not None
    assert expected_mass(10, volume, limit_share=0.1).value == pytest.approx(10.0)


@given(st.floats(1e-3, 1e4), st.floats(1e-4, 1e4), st.floats(0.01, 1))
def test_the_required_volume_holds_exactly_the_reporting_limit(loq_ug, limit, fraction):
    volume_l = required_volume(loq_ug, limit, fraction=fraction).value
    assert volume_l * fraction * limit == pytest.approx(loq_ug, rel=1e-12)


def test_a_share_above_one_is_refused_by_name():
    with pytest.raises(ValueError, match=r"`fraction` of “required volume” must be above 0 and at most 1; found 1\.5"):
        required_volume(1, 1, fraction=1.5)


def test_a_reporting_limit_of_nothing_is_refused_by_name():
    with pytest.raises(ValueError, match="`loq_ug` of “required volume” must be finite and above 0; found 0"):
        required_volume(0, 1)


def test_two_thirds_of_breakthrough_is_planned_when_the_method_allows_more():
    volume = safe_maximum_volume(method_max_l=30, breakthrough_l=36)
    assert volume.litres == pytest.approx(24.0)
    assert "breakthrough" in volume.basis


def test_every_margin_multiplies_and_is_named_with_its_reason():
    margins = [
        humidity_margin(80, medium_kind="charcoal"),
        temperature_margin(303.15),
        co_vapour_margin(100, 300),
    ]
    volume = safe_maximum_volume(method_max_l=24, margins=margins)
    assert volume.litres == pytest.approx(24 * 0.5 * 0.5 * 0.25)
    assert [word in text for word, text in zip(("humid", "warmer", "vapours"), volume.reasons[1:], strict=True)]
    assert len(volume.reasons) == 4


@pytest.mark.parametrize(
    "margin",
    [
        humidity_margin(80, medium_kind="silica gel"),
        humidity_margin(55, medium_kind="charcoal"),
        humidity_margin(80, medium_kind="charcoal", tested_at_percent=80),
        temperature_margin(283.15),
        co_vapour_margin(100, 0),
    ],
)
def test_no_margin_where_nothing_is_worse_than_in_the_test(margin):
    assert margin.factor == 1.0
    assert margin.reason


def test_an_unknown_maximum_is_infinite_and_says_so():
    volume = safe_maximum_volume()
    assert math.isinf(volume.litres)
    assert "no maximum volume" in volume.basis


def test_a_four_millimetre_entry_takes_up_about_six_tenths_of_a_millilitre_a_minute():
    """Fick by hand: 0.08 cm²/s x pi (0.2 cm)² / 1 cm = 0.01005 cm³/s = 0.603 mL/min."""
    assert diffusive_uptake().value * 1000 == pytest.approx(0.6032, abs=1e-4)


def test_diffusion_is_at_most_twelve_percent_at_five_and_one_percent_at_fifty_ml_min():
    assert diffusion_share(0.005).at_most == pytest.approx(0.12, abs=0.002)
    assert diffusion_share(0.050).at_most == pytest.approx(0.012, abs=0.0002)


@given(st.floats(1e-5, 1.0))
def test_the_steady_solution_never_exceeds_the_sum_of_both_flows(flow_lpm):
    share = diffusion_share(flow_lpm)
    assert 0 <= share.steady_one_dimensional <= share.at_most


def test_the_steady_share_is_the_solution_of_the_transport_equation():
    """
    Q C - Q_d C' = J on 0 < x < 1 with C(0) = 1 and C(1) = 0 (everything is held by the bed), solved by
    finite differences, against the closed form.
    """
    import numpy as np

    ratio, n = 1.7, 1200
    h = 1.0 / n
    matrix = np.zeros((n + 1, n + 1))
    wanted = np.zeros(n + 1)
    matrix[0, 0], wanted[0], matrix[n, n] = 1.0, 1.0, 1.0
    for i in range(1, n):
        matrix[i, i - 1] = -1 / h**2 - ratio / (2 * h)
        matrix[i, i] = 2 / h**2
        matrix[i, i + 1] = -1 / h**2 + ratio / (2 * h)
    c = np.linalg.solve(matrix, wanted)
    middle = n // 2
    flux = ratio * c[middle] - (c[middle + 1] - c[middle - 1]) / (2 * h)
    share = diffusion_share(1.7e-3, uptake_lpm=1e-3).steady_one_dimensional
    assert flux / ratio - 1 == pytest.approx(share, rel=1e-4)


def test_a_flow_window_upside_down_is_refused():
    with pytest.raises(ValueError, match=r"`flow_min_lpm` \(0.2\) must not be above `flow_max_lpm` \(0.1\)"):
        MethodWindow("toluene", "M1", 0.2, 0.1, 10)
