"""A pump's stop left out or mistyped, as a person would: the row is missing, or its time stands before the start."""

import json
import shutil
from pathlib import Path

import pytest

from lapel.cli.main import main
from tests.documents.pdf_text import squeezed, whole_text

SMALL = Path(__file__).parents[2] / "examples" / "small"
CONSEQUENCES = (
    "Flow after the run",
    "Valve between both readings",
    "Battery between run and post-check",
    "Share of the shift sampled",
    "Holding time",
    "Two accounts of one act",
)
"""What was said, wrongly, of a sample whose stop alone was missing."""


def without_row(folder, table, train="T-1"):
    path = folder / "log" / table
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(line for line in lines if f",{train}," not in line), encoding="utf-8")


def mistyped(folder, table, right, wrong):
    path = folder / "log" / table
    text = path.read_text(encoding="utf-8")
    assert text.count(right) == 1
    path.write_text(text.replace(right, wrong), encoding="utf-8")


def no_stop(folder):
    without_row(folder, "pump_stopped.csv")
    without_row(folder, "sampler_removed.csv")


def stop_before_start(folder):
    mistyped(folder, "pump_stopped.csv", "T10:52", "T06:52")
    mistyped(folder, "sampler_removed.csv", "T10:53", "T06:53")


def no_stop_but_removed(folder):
    without_row(folder, "pump_stopped.csv")


def stop_before_start_but_removed(folder):
    mistyped(folder, "pump_stopped.csv", "T10:52", "T06:52")


START = "train T-1, port A: {} the start at 2026-04-21 07:01 (entry pump_started-row-2)"
MISSING = START.format("no stop is recorded after")
EARLY = START.format("the stop at 2026-04-21 06:52 (entry pump_stopped-row-2) stands before")
REMOVED = "; the sampler's removal at 2026-04-21 10:53 (entry sampler_removed-row-2) is taken"


@pytest.fixture
def small(tmp_path):
    return shutil.copytree(SMALL, tmp_path / "small")


def assessed(folder, capsys):
    """Exit code, page on the terminal, open data and words of the PDF."""
    as_data, as_pdf = folder.parent / "it.json", folder.parent / "it.pdf"
    code = main(["assess", str(folder), "--json", str(as_data), "--pdf", str(as_pdf)])
    return code, squeezed(capsys.readouterr().out), json.loads(as_data.read_text(encoding="utf-8")), whole_text(as_pdf)


def findings_of(data, sampler):
    (found,) = [sample for sample in data["samples"] if sample["sampler"] == sampler]
    return {finding["rule"]: finding for finding in found["standings"]["us-osha"]["findings"]}


@pytest.mark.parametrize(("spoil", "words"), [(no_stop, MISSING), (stop_before_start, EARLY)])
def test_a_stop_nobody_knows_is_one_finding_and_its_consequences_are_silent(small, spoil, words, capsys):
    spoil(small)
    code, page, data, pdf = assessed(small, capsys)
    assert code == 1
    found = findings_of(data, "L-101")
    assert list(found) == ["stop-unknown"]
    assert found["stop-unknown"]["found"] == words
    assert found["stop-unknown"]["effect"] == "void"
    assert "Enter the stop with its time" in found["stop-unknown"]["remedy"]
    for text in (page, pdf):
        assert squeezed(words) in text
        assert squeezed("hen the pump of L-101 stopped") in text
        assert not [title for title in CONSEQUENCES if squeezed(title) in text]


@pytest.mark.parametrize(("spoil", "words"), [(no_stop_but_removed, MISSING), (stop_before_start_but_removed, EARLY)])
def test_a_removal_that_stands_in_for_the_stop_is_said(small, spoil, words, capsys):
    """The tube came off at 10:53, so that the run is 232 min and not the 231 of the row that is lost."""
    spoil(small)
    _, page, data, pdf = assessed(small, capsys)
    found = findings_of(data, "L-101")
    assert list(found) == ["stop-from-removal"]
    assert found["stop-from-removal"]["found"] == words + REMOVED
    assert found["stop-from-removal"]["effect"] == "qualified"
    for text in (page, pdf):
        assert squeezed(words + REMOVED) in text


def test_the_other_port_of_a_splitter_says_the_same_of_its_own(small, capsys):
    mistyped(small, "pump_stopped.csv", "T10:55", "T06:55")
    _, _, data, _ = assessed(small, capsys)
    assert "port A" in findings_of(data, "L-102")["stop-from-removal"]["found"]
    assert "port B" in findings_of(data, "L-103")["stop-from-removal"]["found"]


def test_a_flow_that_was_really_not_read_afterwards_is_still_missed(small, capsys):
    no_stop(small)
    path = small / "log" / "flow_read.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join(line for line in lines if ",T-1,A,post," not in line), encoding="utf-8")
    without_row(small, "post_round.csv")
    _, _, data, _ = assessed(small, capsys)
    found = findings_of(data, "L-101")
    assert {"stop-unknown", "post-check-missing"} <= set(found)


def test_a_tube_changed_while_the_pump_ran_has_no_stop_of_its_own_and_none_is_missed(capsys):
    """The hard example changes tubes with the pump running; every pump of it was stopped."""
    main(["assess", str(SMALL.with_name("hard"))])
    assert "Stop of the pump" not in capsys.readouterr().out


@pytest.mark.parametrize("book", ["practice", "us-osha", "niosh", "en-iso", "uk", "house"])
def test_every_book_says_so(small, book, capsys):
    no_stop(small)
    main(["assess", str(small), "--rules", book])
    assert "Stop of the pump" in capsys.readouterr().out
