"""A device that serves several surveys: what stands elsewhere is said, and nothing else may be missing."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapel.exchange.problems import Faults, InputProblems
from lapel.exchange.survey_folder.log_chains import check_chains, ranges_in, ranges_of, ranges_text
from lapel.fieldlog import Entry, chained

START = datetime(2026, 4, 21, 7, tzinfo=UTC)


def a_chain(length):
    return chained(
        Entry(
            id=f"entry-{number}",
            kind="note",
            at=START + timedelta(minutes=number),
            device="phone-9",
            sequence=number,
            author="NK",
            fields={"text": f"note {number}"},
            origin=f"log/phone-9.jsonl, row {number}",
        )
        for number in range(1, length + 1)
    )


def faults_of(entries, elsewhere=()):
    faults = Faults()
    check_chains(entries, {"phone-9": tuple(elsewhere)} if elsewhere else {}, faults)
    try:
        faults.raise_any()
    except InputProblems as problems:
        return [(problem.where.row, problem.found) for problem in problems]
    return []


def test_what_is_said_to_stand_elsewhere_may_be_missing():
    chain = a_chain(10)
    here = [chain[2], chain[3], chain[6], chain[9]]
    assert faults_of(here, [(1, 2), (5, 6), (8, 9)]) == []
    assert faults_of(here, [(1, 1), (2, 2), (5, 9)]) == []


@pytest.mark.parametrize("elsewhere", [[], [(1, 2)], [(1, 2), (5, 6)], [(1, 2), (5, 5), (8, 9)], [(2, 2), (5, 9)]])
def test_whatever_else_is_missing_is_named(elsewhere):
    chain = a_chain(10)
    ((_row, found),) = faults_of([chain[2], chain[3], chain[6], chain[9]], elsewhere)
    assert "sequence" in found


@pytest.mark.parametrize(
    "altered",
    [
        lambda entry: replace(entry, fields={"text": "another note"}),
        lambda entry: replace(entry, at=entry.at + timedelta(milliseconds=1)),
        lambda entry: replace(entry, previous_hash="0" * 64),
    ],
)
def test_an_altered_entry_after_a_gap_is_named(altered):
    chain = a_chain(6)
    ((row, _found),) = faults_of([chain[0], chain[1], altered(chain[4]), chain[5]], [(3, 4)])
    assert row == 5


def test_an_entry_put_in_twice_is_named():
    chain = a_chain(4)
    twice = replace(chain[3], id="entry-4-again")
    assert faults_of([chain[2], chain[3], twice], [(1, 2)])


@given(st.sets(st.integers(1, 300)))
def test_runs_say_which_sequences_there_are(sequences):
    runs = ranges_in(ranges_text(ranges_of(sequences)))
    assert {number for first, last in runs for number in range(first, last + 1)} == sequences


@pytest.mark.parametrize("text", ["5-3", "0-4", "a", "1-2-3", "1-5 5-6", "3 2", "-4", "1,2", "٣"])
def test_what_are_no_runs_is_refused(text):
    with pytest.raises(ValueError, match="no run of sequences"):
        ranges_in(text)


@pytest.mark.parametrize("value", [7, None, "5-3", {"a": 1}])
def test_a_damaged_line_about_other_surveys_is_a_fault(tmp_path, value):
    import shutil
    from pathlib import Path

    from lapel.exchange import read_survey

    folder = Path(shutil.copytree(Path(__file__).parents[2] / "examples/hard", tmp_path / "hard"))
    file = folder / "log/phone-3.jsonl"
    line = json.dumps({"device": "phone-3", "elsewhere": value})
    file.write_text(line + "\n" + file.read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(InputProblems, match="stand in other surveys"):
        read_survey(folder)
