"""Beside every blank: whether it is off the mass already, and who took it off."""

import pytest

from lapel.assessment.survey import assess
from lapel.documents.blank_words import blank_lines, blank_words
from tests.assessment.one_worker import OneWorker, Tube


def assessed(**more):
    return assess(OneWorker([Tube("L-1", 0, 480, 60.0)], **more).survey())


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"blank_ug": (2.0, 4.0), "blanks_below": False}, "3.00 µg, off the mass already"),
        (
            {"blank_ug": (2.0, 4.0), "blanks_below": False, "blank_corrected_by": "laboratory"},
            "3.00 µg, the laboratory says it has taken the blank off the mass already",
        ),
        ({"blank_ug": (0.1, 0.1)}, "< 0.100 µg, below its reporting limit, so nothing is off the mass"),
        ({"blank_ug": ()}, "no field blank with a result"),
    ],
)
def test_the_words_say_what_the_mass_is(more, words):
    found = assessed(**more)
    (sample,) = found.samples
    assert blank_words(found, sample) == words
    off = 3.0 if words.endswith("µg, off the mass already") else 0.0
    assert sample.mass.value == pytest.approx(60.0 - off)


def test_a_blank_that_carried_something_is_told_once_with_its_samples():
    found = assess(
        OneWorker(
            [Tube("L-1", 0, 200, 60.0), Tube("L-2", 200, 480, 70.0)], blank_ug=(2.0, 4.0), blanks_below=False
        ).survey()
    )
    (line,) = blank_lines(found)
    assert line.endswith("blank 3.00 µg, off the mass already (L-1, L-2).")


def test_a_mass_below_its_reporting_limit_has_no_blank_off_it():
    found = assess(
        OneWorker(
            [Tube("L-1", 0, 480, 1.0, front_below=True, back_ug=None)], blank_ug=(2.0, 4.0), blanks_below=False
        ).survey()
    )
    assert "not off the mass, which is below its reporting limit" in blank_words(found, found.samples[0])
