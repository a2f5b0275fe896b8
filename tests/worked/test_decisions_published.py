"""
Decisions from one shift held against published worked examples.

"Read" examples were read in the place named, "known" ones are known from the named document, whose print was not at
hand.
"""

import pytest

from lapel.hygiene import consecutive_samples_decision, single_sample_decision


def test_carbaryl_from_one_sample_is_a_possible_overexposure():
    """Read: Boss and Day, Air Sampling and Industrial Hygiene Engineering, 4.6.2 (the federal method's example): 6.07
    against 5.0 mg/m3 with SAE 0.23: Y = 1.21, LCL 0.98, UCL 1.44, possible overexposure."""
    decision = single_sample_decision(6.07, 5.0, sae=0.23)
    assert decision.severity.value == pytest.approx(1.21, abs=0.005)
    assert decision.lcl == pytest.approx(0.98, abs=0.005)
    assert decision.ucl == pytest.approx(1.44, abs=0.005)
    assert decision.verdict == "cannot tell"


def test_carbaryl_from_two_samples_by_the_single_sample_formula_stays_possible():
    """Inputs and rule read: same book, 4.6.3 and 4.6.4: first Y ± SAE on the average of 6.26 and 5.85 mg/m3."""
    average = (6.26 * 240 + 5.85 * 210) / 450
    decision = single_sample_decision(average, 5.0, sae=0.23)
    assert decision.severity.value == pytest.approx(1.21, abs=0.005)
    assert decision.verdict == "cannot tell"


def test_carbaryl_from_two_samples_by_the_exact_formula_is_over():
    """Inputs and formula read: same book, 4.6.3 and 4.6.4: LCL = Y - SAE·√(T1²X1² + T2²X2²)/(PEL·(T1 + T2)); the
    printed result, LCL 1.01 and a violation, known from OSHA Technical Manual II:1, appendix O (1.015
    unrounded; 1.01 with Y cut to 1.21 and the half-width to 0.20, as printed)."""
    decision = consecutive_samples_decision([6.26, 5.85], [240, 210], 5.0, sae=0.23)
    assert decision.half_width == pytest.approx(0.20, abs=0.005)
    assert decision.lcl == pytest.approx(1.01, abs=0.006)
    assert decision.verdict == "over"


def test_chloroacetophenone_from_one_sample_is_under():
    """Known: NIOSH 77-173, 4.2.1: 0.040 against 0.05 ppm with CV 0.09: UCL = 0.80 + 1.645·0.09 = 0.95."""
    decision = single_sample_decision(0.040, 0.05, cv_total=0.09)
    assert decision.ucl == pytest.approx(0.95, abs=0.005)
    assert decision.verdict == "under"


def test_isoamyl_alcohol_from_three_samples_averages_to_a_tenth_above():
    """Known: NIOSH 77-173, 4.2.2: 90, 140 and 110 ppm for 150, 100 and 230 min against 100 ppm: 1.10 of the limit."""
    decision = consecutive_samples_decision([90, 140, 110], [150, 100, 230], 100.0, cv_total=0.08)
    assert decision.severity.value == pytest.approx(1.10)
