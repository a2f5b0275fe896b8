"""`lapel report` writes all documents or none."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from PIL import Image

from lapel.cli.main import main
from lapel.documents.blocks import Document, Paragraph, document_as_docx, document_as_pdf
from lapel.documents.file_names import plain_names
from lapel.documents.logo import UnusableLogo, firm_logo

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
        (["--logo", "nothing.svg"], "nothing.svg"),
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


def test_a_firms_logo_stands_on_the_first_page_and_one_that_reaches_out_does_not(tmp_path: Path):
    svg = tmp_path / "firm.svg"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><rect width="9" height="9"/></svg>', "utf-8"
    )
    for logo in (firm_logo(svg, firm="Belt Works"), firm_logo(_png(tmp_path))):
        plain = Document("Title", "Kind", date(2026, 1, 2), (Paragraph("Words"),))
        with_logo = replace(plain, logo=logo)
        assert len(document_as_pdf(with_logo)) > len(document_as_pdf(plain))
        assert len(document_as_docx(with_logo)) > len(document_as_docx(plain))
    for inside in ("<script/>", '<image href="http://somewhere.example/x.png"/>', '<use href="file:///etc/passwd"/>'):
        svg.write_text(f'<svg xmlns="http://www.w3.org/2000/svg">{inside}</svg>', "utf-8")
        with pytest.raises(UnusableLogo, match="reaches out"):
            firm_logo(svg)
    svg.write_text("no picture", "utf-8")
    with pytest.raises(UnusableLogo, match="neither"):
        firm_logo(svg)


def _png(folder: Path) -> Path:
    path = folder / "firm.png"
    Image.new("RGB", (40, 20), "navy").save(path)
    return path


def test_codes_that_make_one_file_name_keep_a_letter_each():
    assert plain_names(["letter-W/1", "letter-W_1", "letter-w_1", "letter-W-2"]) == [
        "letter-W_1",
        "letter-W_1-2",
        "letter-w_1-3",
        "letter-W-2",
    ]


def test_a_disk_that_fills_leaves_nothing_half_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    def full(*_: object, **__: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("lapel.documents.assessment_record.assessment_record", full)
    assert main(["report", str(EXAMPLES / "small"), str(tmp_path / "told")]) == 2
    assert list(tmp_path.iterdir()) == []
