"""What somebody types who has read nothing but the README and the tutorial."""

import re
from pathlib import Path

import pytest

from lapel.cli.main import main

HOUSE = Path(__file__).parents[2]
TUTORIAL = (HOUSE / "docs" / "tutorial" / "first-survey.md").read_text(encoding="utf-8")


@pytest.fixture
def first(tmp_path):
    """Type the tutorial's survey: each named file gets the next block."""
    names = re.findall(r"\*\*`([^`]+)`\*\*", TUTORIAL)
    blocks = re.findall(r"```(?:csv|toml)\n(.*?)```", TUTORIAL, re.DOTALL)
    assert len(names) == len(blocks)
    for name, block in zip(names, blocks, strict=True):
        path = tmp_path / "first" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block, encoding="utf-8")
    return tmp_path / "first"


def test_the_tutorial_comes_to_what_it_says(first, capsys):
    """No finding either: the sheet has the air of every reading, though nobody read it during the run."""
    code = main(["assess", str(first)])
    page = capsys.readouterr().out
    assert code == 0
    for words in ("18.9 L", "64.0 ± 6.5 mg/m³", "1 sound, 0 qualified, 0 void", "under"):
        assert words in page
    assert "Findings" not in page


def test_readings_without_their_air_are_a_finding(first, capsys):
    log = first / "log" / "flow_read.csv"
    rows = [",".join(line.split(",")[:7]) for line in log.read_text(encoding="utf-8").splitlines()]
    log.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert main(["assess", str(first)]) == 1
    assert "Air at the flow readings" in capsys.readouterr().out


def test_a_document_that_cannot_be_read_does_not_hide_behind_what_follows(first, capsys):
    survey = first / "survey.toml"
    survey.write_text(survey.read_text(encoding="utf-8").replace('shift"\n', "shift\n", 1), encoding="utf-8")
    assert main(["assess", str(first)]) == 2
    told = capsys.readouterr().err
    assert "text that is not TOML" in told
    assert "field_author" not in told


def test_what_is_shown_in_the_readme_is_what_is_printed(capsys):
    (counts,) = re.findall(r"^ +(\d+ comparisons with a long-term limit: .*)$", (HOUSE / "README.md").read_text(), re.M)
    main(["assess", str(HOUSE / "examples" / "hard")])
    assert counts in " ".join(capsys.readouterr().out.split())


def test_a_sample_mistyped_is_guessed_at_and_the_list_says_how_long_it_is(capsys):
    assert main(["show-working", str(HOUSE / "examples" / "hard"), "g-116"]) == 2
    told = capsys.readouterr().err
    assert "Did you mean “G-116”?" in told
    assert "and 6 more." in told


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("value\n-1\n", "found:  -1\n"),
        ("value,unit\n1,ppm\n", "all as ppm, or all by mass"),
        (None, "Check the path of the results."),
    ],
)
def test_a_table_that_cannot_be_judged_says_why(table, words, tmp_path, capsys):
    results = tmp_path / "results.csv"
    if table is not None:
        results.write_text(table, encoding="utf-8")
    assert main(["judge", str(results), "--limit", "2 mg/m3"]) == 2
    assert words in capsys.readouterr().err
