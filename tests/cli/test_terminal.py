"""What the terminal shows at any width and with any letters: nothing cut off, nothing taken for styling."""

import io
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from rich.console import Console

from lapel.cli.main import main
from lapel.cli.tables import Column, fill, print_table

EXAMPLES = Path(__file__).parents[2] / "examples"


def page(capsys, monkeypatch, width, folder, *more):
    monkeypatch.setenv("COLUMNS", str(width))
    main(["assess", str(folder), *more])
    return capsys.readouterr().out


@pytest.mark.parametrize("width", [80, 100, 120, 160, 200])
def test_no_line_is_longer_than_the_terminal(capsys, monkeypatch, width):
    text = page(capsys, monkeypatch, width, EXAMPLES / "hard", "--all")
    assert max(len(line) for line in text.splitlines()) <= width


@pytest.mark.parametrize("width", [80, 100, 120, 160])
def test_every_verdict_and_standing_is_whole_and_what_has_no_room_is_named(capsys, monkeypatch, width):
    text = page(capsys, monkeypatch, width, EXAMPLES / "hard", "--all")
    samples = text[text.index("\nSamples") : text.index("\nAgainst the limits")]
    wide = page(capsys, monkeypatch, 300, EXAMPLES / "hard", "--all")
    for name in ("Worker", "Port", "Flow", "Change", "Volume", "Mass", "ppm"):
        assert name in samples, "left out without a word"
    assert words_of(samples) >= {"qualified", "void", "sound", "Formaldehyde", "Benzene", "n-Hexane", "(MEK)"}
    limits = text[text.index("\nAgainst the limits") : text.index("\nFindings")]
    for verdict in ("under ", "OVER", "cannot tell"):
        in_rows = [line for line in limits.splitlines() if line.startswith("W-0") and " S-0" in line]
        whole = [line for line in wide.splitlines() if line.startswith("W-0") and " S-0" in line]
        assert sum(verdict in f"{line} " for line in in_rows) == sum(verdict in f"{line} " for line in whole)


def words_of(text):
    return set(text.replace(":", " ").split())


def test_a_wide_terminal_leaves_nothing_out(capsys, monkeypatch):
    assert "No room for" not in page(capsys, monkeypatch, 200, EXAMPLES / "hard", "--all")


def test_what_people_typed_is_never_taken_for_styling(capsys, monkeypatch, tmp_path):
    """Square brackets mean styling to the library that prints."""
    folder = shutil.copytree(EXAMPLES / "small", tmp_path / "survey")
    path = folder / "survey.toml"
    path.write_text(path.read_text(encoding="utf-8").replace('name = "', 'name = "[/red] [bold] :smile: '), "utf-8")
    agents = folder / "agents.csv"
    agents.write_text(agents.read_text(encoding="utf-8").replace("Styrene", "Styrene [/x] [red]"), encoding="utf-8")
    text = page(capsys, monkeypatch, 200, folder)
    assert "[/red] [bold] :smile: " in text
    assert "Styrene [/x] [red]" in text
    main(["show-working", str(folder), "L-101"])
    assert "Styrene [/x] [red]" in capsys.readouterr().out


def test_the_column_that_can_be_spared_goes_first_and_cells_stay_whole():
    columns = [Column("Code"), Column("Rest", spare=1), Column("More", spare=2), Column("Words", wraps=True)]
    fill(columns, "AAAA", "r" * 10, "m" * 10, "one two three four")
    shown = {}
    for width in (20, 30, 60):
        out = io.StringIO()
        print_table(Console(file=out, width=width, markup=False), "T", columns)
        shown[width] = out.getvalue()
    assert "mmmmmmmmmm" in shown[60]
    assert "No room" not in shown[60]
    assert "rrrrrrrrrr" in shown[30]
    assert "mm" not in shown[30]
    assert "rr" not in shown[20]
    assert "AAAA" in shown[20]
    assert {"one", "two", "three", "four"} <= set(shown[20].split())


def test_narrower_than_a_word_folds_and_loses_no_letter():
    columns = [Column("A"), Column("B")]
    fill(columns, "abcdefghij", "klmnopqrst")
    out = io.StringIO()
    print_table(Console(file=out, width=9, markup=False), "T", columns)
    assert set("abcdefghijklmnopqrst") <= set(out.getvalue())


def run(*arguments, **environment):
    return subprocess.run(
        [sys.executable, "-c", "from lapel.cli.main import run; run()", *arguments],
        capture_output=True,
        env={**os.environ, **environment},
        check=False,
        timeout=120,
    )


def test_a_terminal_without_the_letters_gets_plain_ones_and_keeps_every_sign():
    done = run("assess", str(EXAMPLES / "hard"), PYTHONIOENCODING="ascii", COLUMNS="200")
    text = done.stdout.decode("ascii")
    assert done.returncode == 1
    assert done.stderr == b""
    assert "-1.7 %" in text
    assert ">= 132 mg/m3" in text
    assert "145 +/- 19 mg/m3" in text


def test_open_data_is_utf_8_whatever_the_terminal():
    done = run("assess", str(EXAMPLES / "hard"), "--json", "-", PYTHONIOENCODING="ascii")
    assert "°C" in done.stdout.decode("utf-8") or "µ" in done.stdout.decode("utf-8")


def test_a_pdf_that_cannot_be_written_leaves_no_json_either(capsys, tmp_path):
    target = tmp_path / "out.json"
    code = main(
        ["assess", str(EXAMPLES / "small"), "--quiet", "--json", str(target), "--pdf", str(tmp_path / "no" / "x.pdf")]
    )
    assert code == 2
    assert list(tmp_path.iterdir()) == []
    assert "x.pdf" in capsys.readouterr().err
