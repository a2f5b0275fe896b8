"""What the kit sheet of whoever supplied the pump says against what was used: a finding on the samples it touches."""

from datetime import timedelta

import pytest

from lapel.assessment.survey import assess
from lapel.fieldlog.entries import Entry
from tests.assessment.one_worker import DAY, OneWorker, Tube

SHEET = {"train": "T-1", "port": "A", "pump": "P-1", "medium": "charcoal", "lot": "LOT-1", "how": "typed"}
BEFORE_IT = -70
HUNG = [Tube("L-1", 0, 240, 10.0), Tube("L-2", 240, 480, 10.0)]


def standings(*sheets):
    """Standings by sampler of two tubes, one after the other; each sheet is (minute, what it says otherwise)."""
    made = OneWorker(HUNG)
    entries = [*made.entries()]
    for minute, said in sheets:
        number = len(entries) + 1
        entries.append(
            Entry(f"k-{number}", "kit_sheet", DAY + timedelta(minutes=minute), "sheet-1", number, "HB", SHEET | said)
        )
    entries.sort(key=lambda one: one.at)
    return {one.sampler: one.standing for one in assess(made.survey(entries=tuple(entries))).samples}


def test_a_sheet_that_agrees_says_nothing():
    assert [one.of("kit-sheet-differs") for one in standings((BEFORE_IT, {})).values()] == [None, None]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"pump": "P-7"}, "The kit sheet of port A is that of pump P-7; train T-1 has pump P-1"),
        (
            {"medium": "silica"},
            "Train T-1, port A: the kit sheet says medium silica; the calibration tube is of",
        ),
        ({"lot": "LOT-9"}, "Train T-1, port A: the kit sheet says lot LOT-9; the calibration tube is of lot LOT-1"),
    ],
)
def test_what_differs_qualifies_every_sample_of_the_port_and_says_what_to_do(said, words):
    found = standings((BEFORE_IT, said))
    for standing in found.values():
        finding = standing.of("kit-sheet-differs")
        assert words in finding.found
        assert finding.effect == "qualified"
        assert "Correct the entry that is wrong" in finding.remedy
        assert standing.level == "qualified"


def test_what_differs_at_one_sampler_is_not_said_of_the_next():
    found = {name: one.of("kit-sheet-differs").found for name, one in standings((BEFORE_IT, {"lot": "LOT-9"})).items()}
    assert "sampler L-1 is of lot LOT-1" in found["L-1"]
    assert "sampler L-2 is of lot LOT-1" in found["L-2"]
    assert "L-2" not in found["L-1"]
    assert "L-1 " not in found["L-2"]


def test_a_sheet_replaced_by_one_that_agrees_says_nothing_any_more():
    """The supplier corrected it before the pump left: the day keeps the remark, the sample is not held to it."""
    found = standings((BEFORE_IT, {"lot": "LOT-9"}), (-50, {}))
    assert [one.of("kit-sheet-differs") for one in found.values()] == [None, None]


def test_the_sheet_of_another_port_says_nothing_of_this_one():
    assert standings((BEFORE_IT, {"port": "B", "lot": "LOT-9"}))["L-1"].of("kit-sheet-differs") is None
