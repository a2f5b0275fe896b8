"""`lapel report` writes all documents or none."""

from __future__ import annotations

from pathlib import Path

import pytest

from lapel.cli.main import main

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_a_folder_becomes_all_documents(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    into = tmp_path / "told"
    given = ["report", str(EXAMPLES / "small"), str(into), "--contact", "A. Ruiz", "--action", "Fit a hood."]
    assert main(given) == 0
    names = {file.name for file in into.iterdir()}
    assert {"survey-report.pdf", "survey-report.docx", "summary.pdf", "calculation-record.pdf"} <= names
    assert any(name.startswith("letter-") for name in names)
    assert any(name.startswith("posted-") for name in names)
    assert "Read them before you hand them out" in capsys.readouterr().out
    assert main(given) == 2, "a folder that is there is not written into"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--language", "tlh"], "one of en, es"),
        (["--calendar", "XX"], "two letters"),
        (["--words", "nothing.toml"], "nothing.toml"),
        (["--rules", "nothing"], "Name a rule book"),
    ],
)
def test_what_cannot_be_used_is_named_and_nothing_is_written(
    more: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    into = tmp_path / "told"
    assert main(["report", str(EXAMPLES / "small"), str(into), *more]) == 2
    assert told in capsys.readouterr().err
    assert not into.exists()
